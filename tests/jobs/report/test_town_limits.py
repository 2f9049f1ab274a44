"""A town's own limits, typed into the workbook or left blank, through every job that reads them."""

import csv
from pathlib import Path

import openpyxl
import pytest

from tests.jobs.books import run
from tests.jobs.reports import texts, town
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.report.facts import gather
from xlhelpers.jobs.report.methods import rules
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.survey import read_survey

LIMITS = ("limit_species", "limit_genus", "limit_family")


def test_a_limit_is_typed_in_percent(tmp_path: Path) -> None:
    book = town(tmp_path / "town.xlsx", rules={"limit_species": 10})
    survey = read_survey(Package.open(book))
    assert survey.rules["limit_species"] == 0.1
    assert survey.rules["limit_genus"] is None
    assert not survey.findings
    run("report", book, "--out", tmp_path / "said.xlsx")
    said = texts(tmp_path / "said.xlsx")
    assert any(text.startswith("The town's limit for one species is 10 %.") for text in said)
    assert not any("limit for one genus" in text for text in said)


def test_the_rules_of_the_report_say_whose_choice_each_is(tmp_path: Path) -> None:
    book = town(tmp_path / "town.xlsx", rules={"limit_species": 10, "margin_budget": 5})
    facts = gather(compute(Package.open(book)), 0.95)
    table = rules(facts).table
    assert table is not None
    shown = {row[0].value: (row[1].value, row[3].value) for row in table.rows if row[0] and row[1]
             and row[3]}  # fmt: skip
    assert shown[RULES["limit_species"].label][0] == "10 %"
    assert shown[RULES["limit_genus"].label][0] == "no limit"
    value, meaning = shown[RULES["margin_budget"].label]
    assert (value, str(meaning).split(". ")[-1]) == ("5 %", "This town's own choice.")
    assert str(shown[RULES["margin_fair"].label][1]).endswith("This project's own rule.")


@pytest.mark.slow
def test_blank_limits_stay_blank_when_workbooks_are_joined_or_exported(tmp_path: Path) -> None:
    book = town(tmp_path / "town.xlsx")
    run("export", book, "--out", tmp_path / "tables")
    (name,) = (tmp_path / "tables").glob("*rules*.csv")
    with name.open(encoding="utf-8-sig", newline="") as file:
        values = {row["rule"]: row["value"] for row in csv.DictReader(file)}
    assert [values[limit] for limit in LIMITS] == ["", "", ""]
    other = town(tmp_path / "other.xlsx")
    run("merge", book, other, "--out", tmp_path / "both.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "both.xlsx")[RULES.tab]
    labels = {row[0].value: row[1].value for row in sheet.iter_rows(min_col=1, max_col=2)}
    assert [labels[RULES[limit].label] for limit in LIMITS] == [None, None, None]
    read = read_survey(Package.open(tmp_path / "both.xlsx"))
    assert [read.rules[limit] for limit in LIMITS] == [None, None, None]
