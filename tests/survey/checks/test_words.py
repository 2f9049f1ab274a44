"""Unknown words: one finding a word, names proposed."""

from tests.survey.checks.cases import line, on, plot
from tests.survey.checks.support import only


def test_a_species_is_said_once_with_its_lines_and_the_nearest_name() -> None:
    trees = [line(1, species="Qercus robur"), line(2), line(3, species="qercus  robur")]
    finding = only("species-unknown", {"lines": trees})
    assert finding.lines == (0, 2)
    assert finding.subject == (("species", "Qercus robur"),)
    assert finding.message == (
        "“Qercus robur” is not listed on Species. It is used twice. Did you mean “Quercus robur”?"
    )


def test_a_person_is_said_once_with_the_plots() -> None:
    plots = [plot(crew="AC"), plot(plot="2", crew="AB, AC", status="no trees")]
    finding = only("person-unknown", {"plots": plots})
    assert finding.plots == (0, 1)
    assert finding.message == (
        "“AC” is not listed on People. It is used twice. No similar name is listed."
    )


def test_an_unknown_stratum_touches_the_lines_of_its_plots() -> None:
    given = on(line(1), stratum="Suoth") | {"strata": [{"stratum": "South"}, {"stratum": "North"}]}
    finding = only("stratum-unknown", given)
    assert finding.lines == (0,)
    assert "Did you mean “South”" in finding.message
