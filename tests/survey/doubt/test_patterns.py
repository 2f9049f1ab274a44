"""Patterns over many lines: each is found where it is, and nothing is said where it is not."""

from typing import Any

import numpy as np
import pytest

from tests.survey.doubt.test_explain import MAPLE, lines
from tests.survey.make_survey import DEFAULT_SPECIES, PLAIN_PLOT, make_survey
from xlhelpers.fields.rules import DOUBT, RULES, SOURCES
from xlhelpers.survey.decisions.identity import finding_id, finding_ids, fingerprint
from xlhelpers.survey.doubt.explain import limits_of
from xlhelpers.survey.doubt.patterns import zero_errors
from xlhelpers.survey.doubt.reference import reference
from xlhelpers.survey.doubt.weigh import weigh_lines
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.model import Finding
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

SPECIES = (*DEFAULT_SPECIES, MAPLE)


def findings(check: str, rows: list[dict[str, Any]], **others: Any) -> list[Finding]:
    found = evaluate(make_survey(rows, species=SPECIES, **others)).findings
    return [finding for finding in found if finding.check == check]


def in_degrees(rows: list[dict[str, Any]], plot: str) -> list[dict[str, Any]]:
    """The same trees, read in degrees on one plot by a crew that ticks percent."""
    turned = []
    for row in rows:
        if row["plot"] == plot:
            names = ("foot_reading", "base_reading", "tip_reading")
            row = row | {n: round(float(np.degrees(np.arctan(row[n] / 100)))) for n in names}
        turned.append(row)
    return turned


def test_a_plot_on_the_wrong_scale_is_one_finding_with_the_others_under_it() -> None:
    many = [row | {"plot": f"{k}{row['plot']}"} for k in range(3) for row in lines()]
    survey = make_survey(in_degrees(many, "22"), species=SPECIES)
    found = evaluate(survey).findings
    (whole,) = [f for f in found if f.check == "lines-on-other-scale"]
    assert whole.lines == tuple(range(60, 72))
    assert "12 lines were probably read in degrees." in whole.message
    assert not [f for f in found if f.check == "unlikely-tree" and set(f.lines) & set(whole.lines)]
    ids = dict(zip(finding_ids(found), found, strict=True))
    under = [f for f in found if f.under]
    assert all(ids[f.under] is whole for f in under)
    assert all(f.under for f in found if f.check in ("eye-height", "eye-height-plot"))


def test_no_plot_of_a_sound_survey_is_on_another_scale() -> None:
    assert findings("lines-on-other-scale", lines()) == []


def test_one_distance_for_all_trees() -> None:
    rows = lines()
    assert findings("one-distance-for-all", rows) == []
    for row in rows[:12]:
        row["distance"] = 16.0
    rows[0]["tip_reading"] *= 2
    rows[1]["tip_reading"] *= 2
    (finding,) = findings("one-distance-for-all", rows)
    assert "All 12 lines of this plot have the same distance, 16.0 m, but" in finding.message


def test_heaped_readings() -> None:
    many = [row | {"plot": f"{k}{row['plot']}"} for k in range(4) for row in lines()]
    assert findings("digits-heaped", many) == []
    heaped = [
        row | {name: 5 * round(row[name] / 5) for name in ("base_reading", "tip_reading")}
        for row in many
    ]
    (note,) = findings("digits-heaped", heaped)
    assert note.severity == "note"
    assert note.message.startswith("100 % of AB's 192 readings end in 0 or 5")
    assert findings("digits-heaped", heaped[:40]) == []


def test_no_repeats_where_the_rules_ask_for_them() -> None:
    many = [row | {"plot": f"{k}{row['plot']}"} for k in range(4) for row in lines()]
    (note,) = findings("no-repeats", many)
    assert note.severity == "note"
    assert "AB measured 96 trees, none from two places." in note.message
    assert findings("no-repeats", many, rules={"repeats_wanted": 0.0}) == []
    assert findings("no-repeats", lines()) == []
    again = many[-1] | {"setup": 2, "distance": many[-1]["distance"]}
    assert findings("no-repeats", [*many, again]) == []


# ---- instruments


def level(*pairs: tuple[float, float]) -> list[dict[str, Any]]:
    return [
        {"instrument": "C1", "date": "2024-05-02", "scale": "degrees", "level_there": a,
         "level_back": b}
        for a, b in pairs
    ]  # fmt: skip


def zeros(checks: list[dict[str, Any]]) -> Any:
    survey = make_survey(lines(), species=SPECIES, instrument_checks=checks)
    setups = compute_setups(survey)
    trees = build_trees(survey, setups)
    return zero_errors(weigh_lines(survey, setups, trees, reference(), limits_of({})))


def test_zero_error_of_a_two_way_level() -> None:
    """The slope between the posts has both signs and leaves, half the sum is the zero error."""
    assert zeros(level((3.0, -2.0)))["zero"].tolist() == pytest.approx([0.5])


def test_zero_error_of_a_known_height() -> None:
    """Readings of a wall of 20 m from 20 m, each 0.5 degrees too high."""
    foot, tip = np.degrees(np.arctan([-1.6 / 20, 18.4 / 20])) + 0.5
    check = {"instrument": "C1", "date": "2024-05-02", "scale": "degrees", "known_height": 20.0,
             "distance": 20.0, "foot_reading": foot, "tip_reading": tip}  # fmt: skip
    assert zeros([check])["zero"].tolist() == pytest.approx([0.5], abs=0.02)


def test_an_instrument_out_of_adjustment() -> None:
    far_off = level((3, -1), (1, 1), (2, 0))
    (finding,) = findings("instrument-out-of-adjustment", lines(), instrument_checks=far_off)
    assert "1.0° too high" in finding.message
    set_right = [*far_off, level((0, 0))[0] | {"date": "2024-05-20"}]
    assert findings("instrument-out-of-adjustment", lines(), instrument_checks=set_right) == []
    near = level((1, -1), (0, 0), (1, 0))
    assert findings("instrument-out-of-adjustment", lines(), instrument_checks=near) == []


@pytest.mark.parametrize(
    ("checked", "said"),
    [
        (None, "no check on record"),
        ("2022-05-02", "last checked on 2 May 2022 and used until 3 June"),
        ("2024-01-02", ""),
    ],
)
def test_instruments_without_a_recent_check(checked: str | None, said: str) -> None:
    plots = [PLAIN_PLOT | {"plot": name, "date": "2024-06-03"} for name in "12"]
    checks = [] if checked is None else [level((0, 0))[0] | {"date": checked}]
    notes = findings("instrument-not-checked", lines(), plots=plots, instrument_checks=checks)
    assert [said in note.message for note in notes] == ([True] if said else [])


def test_every_limit_is_a_row_of_the_rules_with_its_basis() -> None:
    assert set(limits_of({})) == {field.name for field in DOUBT} <= set(RULES.index)
    assert all(field.source in SOURCES for field in DOUBT)
    assert all(field.low is not None and field.low <= limits_of({})[field.name] for field in DOUBT)
    assert limits_of({"doubt_odds": 2.0})["doubt_odds"] == 2.0


def test_a_changed_limit_changes_what_is_asked_about() -> None:
    """One line that is unlikely by the usual limit, and is not by a hundred times as much."""
    rows = lines(tip_reading=39)
    assert len(findings("unlikely-tree", rows)) == 1
    assert findings("unlikely-tree", rows, rules={"doubt_odds": 1e6}) == []


# ---- scales made for a fixed distance


def on_base(rows: list[dict[str, Any]], plots: str, base: float) -> list[dict[str, Any]]:
    """The same trees, read on some plots on a scale that was made for a fixed distance."""
    names = ("foot_reading", "base_reading", "tip_reading")
    return [
        row | {n: round(2 * row[n] * base / 100) / 2 for n in names}
        if row["plot"] in plots
        else row
        for row in rows
    ]


def fixed(plots: str, kind: str = "clinometer, scales for 15 m and 20 m") -> dict[str, Any]:
    """An instrument whose scale stands as one for 20 m, used on some plots."""
    own = {"instrument": "C3", "kind": kind, "scale_distance": 20.0}
    if not kind:
        own |= {"scale_1": "fixed distance"}
    c1 = {"instrument": "C1", "kind": "clinometer, percent and degrees"}
    sheet = [
        PLAIN_PLOT
        | {"plot": p}
        | ({"instrument": "C3", "scale": "fixed distance"} if p in plots else {})
        for p in "1234"
    ]
    return {"instruments": [c1, own], "plots": sheet}


def four_plots() -> list[dict[str, Any]]:
    return [
        row | {"plot": str(int(row["plot"]) + 2 * k), "diameter": row["diameter"] + k}
        for k in range(2)
        for row in lines()
    ]


@pytest.mark.parametrize("kind", ["clinometer, scales for 15 m and 20 m", ""])
def test_a_fixed_distance_scale_of_another_base(kind: str) -> None:
    """Readings of the scale for 15 m under an instrument that stands as one for 20 m."""
    rows = on_base(four_plots(), "34", 15.0)
    (finding,) = findings("fixed-distance-other", rows, **fixed("34", kind))
    assert finding.subject == (("instrument", "C3"),)
    assert finding.severity == "warning"
    assert "With this instrument, 24 lines were probably read" in finding.message
    assert "from the 15 m scale" in finding.message
    assert len(finding.lines) == 24
    everything = evaluate(make_survey(rows, species=SPECIES, **fixed("34", kind))).findings
    about = [f for f in everything if f.check in ("eye-height", "eye-height-plot")]
    assert all(f.under == finding_id(finding) for f in about)


@pytest.mark.parametrize("kind", ["clinometer, scales for 15 m and 20 m", ""])
def test_a_fixed_distance_scale_that_is_right(kind: str) -> None:
    rows = on_base(four_plots(), "34", 20.0)
    assert findings("fixed-distance-other", rows, **fixed("34", kind)) == []


def test_a_base_that_the_instrument_does_not_have_is_not_proposed() -> None:
    """Off by 20 to 15, on an instrument with scales for 20 m and 25 m."""
    rows = on_base(four_plots(), "34", 15.0)
    others = fixed("34", "clinometer, scales for 20 m and 25 m")
    assert findings("fixed-distance-other", rows, **others) == []


def test_two_wrong_plots_do_not_accuse_the_third_of_their_instrument() -> None:
    rows = on_base(on_base(four_plots(), "2", 20.0), "34", 15.0)
    assert findings("fixed-distance-other", rows, **fixed("234")) == []
    single = findings("lines-on-other-scale", rows, **fixed("234"))
    assert [finding.plots for finding in single] == [(2,), (3,)]


def test_one_plot_on_another_base_is_told_of_the_plot() -> None:
    rows = on_base(on_base(four_plots(), "23", 20.0), "4", 15.0)
    assert findings("fixed-distance-other", rows, **fixed("234")) == []
    (finding,) = findings("lines-on-other-scale", rows, **fixed("234"))
    assert "On plot 4, 12 lines were probably read from the 15 m scale." in finding.message


# ---- what repeats tell of an instrument


def twice(zero: float, factor: float = 1.0, other: str = "C1") -> list[dict[str, Any]]:
    """Trees measured from near and from far in degrees, all readings too high by an angle.

    Heights of the second set-ups are a factor of the true ones, with an instrument of its own.
    """
    random = np.random.default_rng(8)
    rows = []
    for row in four_plots():
        total = row["distance"] * (row["tip_reading"] - row["foot_reading"]) / 100
        base = row["distance"] * (row["base_reading"] - row["foot_reading"]) / 100
        for setup, away in ((1, 0.65), (2, 1.6)):
            far = round(away * total, 1)
            by = factor if setup == 2 else 1.0
            aims = np.degrees(np.arctan((np.array([0.0, base, total]) * by - 1.6) / far))
            aims = np.round((aims + zero + random.normal(0, 0.1, 3)) * 10) / 10
            names = ("foot_reading", "base_reading", "tip_reading")
            with_it = {"setup": setup, "instrument": other if setup == 2 else "C1"}
            read = dict(zip(names, aims.tolist(), strict=True))
            rows.append(row | read | with_it | {"distance": far})
    return rows


def meters() -> dict[str, Any]:
    return {
        "instruments": [
            {"instrument": name, "kind": "electronic angle meter"} for name in ("C1", "C2")
        ],
        "plots": [PLAIN_PLOT | {"plot": p, "scale": "degrees"} for p in "1234"],
    }


@pytest.mark.parametrize(("zero", "side"), [(1.0, "too high"), (-1.2, "too low")])
def test_a_zero_error_that_repeats_give_away(zero: float, side: str) -> None:
    """Definition: dh = D (sec2 a - sec2 b) e, so near and far come apart by one angle.

    Linear in e: at 1 degree the neglected part is up to a tenth of it.
    """
    (finding,) = findings("instrument-zero-by-repeats", twice(zero), **meters())
    assert finding.subject == (("instrument", "C1"),)
    said = finding.message.partition("suggest that the instrument reads ")[2].split("°")[0]
    assert float(said) == pytest.approx(abs(zero), abs=0.15)
    assert f"{said}° {side}" in finding.message
    assert "48 trees" in finding.message


@pytest.mark.parametrize("zero", [0.0, 0.3])
def test_repeats_of_an_instrument_in_order(zero: float) -> None:
    assert findings("instrument-zero-by-repeats", twice(zero), **meters()) == []


def one_of_two_is_off(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The same set-ups with all readings of C2 two degrees too high."""
    names = ("foot_reading", "base_reading", "tip_reading")
    return [
        row | {n: row[n] + 2 for n in names} if row["instrument"] == "C2" else row for row in rows
    ]


def test_a_zero_error_is_given_to_the_instrument_that_has_it() -> None:
    """Both instruments stood near and far, each at half of the trees."""
    other = {"C1": "C2", "C2": "C1"}
    rows = [
        row | {"instrument": other[row["instrument"]]} if i // 2 % 2 else row
        for i, row in enumerate(twice(0.0, other="C2"))
    ]
    found = findings("instrument-zero-by-repeats", one_of_two_is_off(rows), **meters())
    assert [f.subject for f in found] == [(("instrument", "C2"),)]


def test_a_zero_error_is_given_to_none_where_it_may_be_of_either() -> None:
    """One instrument always stood near and the other far: the distances do not tell them apart."""
    rows = one_of_two_is_off(twice(0.0, other="C2"))
    assert findings("instrument-zero-by-repeats", rows, **meters()) == []


def test_two_instruments_that_differ_by_a_factor() -> None:
    (finding,) = findings("instruments-differ", twice(0.0, 0.92, "C2"), **meters())
    assert finding.subject == (("instruments", "C1 and C2"),)
    assert "On 48 trees measured with both, C1 gives heights 9 % greater" in finding.message


def test_two_instruments_that_agree() -> None:
    assert findings("instruments-differ", twice(0.0, 1.0, "C2"), **meters()) == []


# ---- ids and fingerprints, as computed before the texts of these findings changed


CHECKED_LONG_AGO = {
    "plots": [PLAIN_PLOT | {"plot": name, "date": "2024-06-03"} for name in "12"],
    "instrument_checks": [level((0, 0))[0] | {"date": "2022-05-02"}],
}


@pytest.mark.parametrize(
    ("check", "rows", "others", "known"),
    [
        ("instrument-not-checked", lines(), {}, ("M7K6D9TQ", "CMW9RHPC9WT4HVMF")),
        ("instrument-not-checked", lines(), CHECKED_LONG_AGO, ("M7K6D9TQ", "HEW4K9RHAWQ7Q9F7")),
        (
            "instrument-out-of-adjustment",
            lines(),
            {"instrument_checks": level((3, -1), (1, 1), (2, 0))},
            ("GMAXAYWM", "RFGEMA6NNJQJYY6W"),
        ),
        (
            "fixed-distance-other",
            on_base(four_plots(), "34", 15.0),
            fixed("34"),
            ("DMY44KDG", "F3PA63VD4TW6EPEG"),
        ),
        ("instrument-zero-by-repeats", twice(1.0), meters(), ("NRQYCVK7", "PT4ATCQY779GD4MX")),
        ("instruments-differ", twice(0.0, 0.92, "C2"), meters(), ("KPH96XFX", "CYXQHTNRVWYM7YFK")),
        ("unlikely-tree", lines(tip_reading=39), {}, ("PYKCV7DQ", "KYTVXN7DR6KDKY3P")),
    ],
)
def test_identity_stays(
    check: str, rows: list[dict[str, Any]], others: dict[str, Any], known: tuple[str, str]
) -> None:
    (finding,) = findings(check, rows, **others)
    assert (finding_id(finding), fingerprint(finding)) == known


def test_identity_of_habits_stays() -> None:
    many = [row | {"plot": f"{k}{row['plot']}"} for k in range(4) for row in lines()]
    (note,) = findings("no-repeats", many)
    assert (finding_id(note), fingerprint(note)) == ("X4NKPJC3", "RQRFJG9RKJG4YJNP")
    names = ("base_reading", "tip_reading")
    heaped = [row | {name: 5 * round(row[name] / 5) for name in names} for row in many]
    (note,) = findings("digits-heaped", heaped)
    assert (finding_id(note), fingerprint(note)) == ("QNH7WYWN", "YTVDNKQT3TYT6F4A")
