"""A call with something wrong in it: one sentence says what, and where the help is."""

import pytest

from xlhelpers.cli import main


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["change", "A.xlsx", "B.xlsx", "--confidence", "ten"], "--confidence ten: give a number"),
        (["recheck", "plan", "A.xlsx", "--out", "B.xlsx", "--seed", "x"],
         "--seed x: give a whole number"),
        (["new", "A.xlsx", "--units", "feet"], "--units feet: give one of metric, us"),
        (["report", "A.xlsx", "--out"], "--out: say what it is to be"),
        (["merge", "A.xlsx"], "--out is missing"),
        (["fill", "A.xlsx", "--colour"], "--colour is nothing that may stand here"),
    ],
    ids=["number", "whole", "choice", "value", "missing", "unknown"],
)  # fmt: skip
def test_what_is_wrong_is_said_in_one_sentence(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    told = capsys.readouterr().err
    assert stopped.value.code == 2
    assert said in told
    assert told.count("\n") == 1
    assert "--help tells more" in told
