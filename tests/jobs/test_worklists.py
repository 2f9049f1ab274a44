"""The lists for the crew and for the office."""

from pathlib import Path

import pytest

from tests.jobs.books import varied, write_filled
from tests.jobs.deciding import TROUBLED, decide
from xlhelpers.doors.command_line.main import main


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return write_filled(tmp_path / "town.xlsx", [*varied(5), *TROUBLED])


def listed(book: Path, who: str, capsys: pytest.CaptureFixture[str]) -> str:
    capsys.readouterr()
    assert main(["check", str(book), "--for", who]) == 1
    return capsys.readouterr().out


def test_the_office_gets_what_the_paper_may_settle(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = listed(book, "office", capsys)
    assert "plot 1 tree 7" in said
    assert "plot 1 tree 8" not in said
    assert said.count("Paper says ____") == said.count("Initials ____") == 2
    assert "2 findings for the office. 1 more for the crew (--for crew)." in said


def test_the_crew_gets_short_lines_plot_by_plot(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = listed(book, "crew", capsys)
    assert "PLOT 1\n  tree 8 set-up 1  MEASURE AGAIN" in said
    assert "Stand at least 18 m away." in said
    assert "tree 7" not in said
    assert said.count("Answer ____") == said.count("Initials ____") == 1
    assert "Write NOT SAFE." in said
    assert max(map(len, said.splitlines())) <= 100
    assert "…" not in said
    assert "1 finding for the crew. 2 more for the office (--for office)." in said


def test_a_decision_sends_a_finding_to_the_crew(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    decide(book, "7", {"Decision": "ask crew", "Initials": "CD"})
    assert "tree 7 set-up 1  ASK" in listed(book, "crew", capsys)


def test_nobody_else_is_asked(book: Path) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["check", str(book), "--for", "mayor"])
    assert stopped.value.code == 2
