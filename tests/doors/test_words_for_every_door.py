"""Workbooks that tell people what to run name it as every door shows it."""

import re

from xlhelpers.doors.libreoffice.menu import TITLE, entries
from xlhelpers.jobs.catalog import load_job
from xlhelpers.jobs.recheck.words import PlanFacts, describe_plan


def test_the_recheck_workbook_says_what_comes_then_for_every_door() -> None:
    """By its name in a form, with the labels of its fields, and where each door has it."""
    said = describe_plan(PlanFacts(0.05, 7, 12, 240, 3, with_places=True))["Then"]
    compare = load_job("recheck").actions[1]
    labels = [option.label for option in compare.options if option.positional]
    assert re.findall("“([^”]+)”", said) == [compare.label, *labels]
    (other,) = [entry["label"] for entry in entries() if entry["opens_window"]]
    assert f"in LibreOffice under {TITLE} – {other.removesuffix(' …')}" in said
    assert f"on the command line as recheck {compare.name}." in said
    assert "--" not in said
