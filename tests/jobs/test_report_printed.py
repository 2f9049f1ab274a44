"""The report printed by LibreOffice: filled pages and whole texts, whatever font is there.

Where no font has the widths of Calibri, LibreOffice takes DejaVu Sans: columns grow by a third, and
the page is printed smaller by as much. At least half a page filled is common practice, no source.
"""

import re
import shutil
import subprocess
from collections import Counter
from itertools import pairwise
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from tests.conftest import Converter
from tests.jobs.books import run
from tests.jobs.estimates import grown_town
from tests.jobs.reports import us_town
from tests.town import TOWN

needs_poppler = pytest.mark.skipif(
    shutil.which("pdftoppm") is None or shutil.which("pdftotext") is None,
    reason="poppler (pdftoppm, pdftotext) is not installed",
)
_DOTS = 50  # an inch
_ABOVE, _BELOW = 0.5, 0.65  # inches of margin; the footer stands in the lower one
_DARK = 200  # of 255
_WITHOUT = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig>
  <include ignore_missing="yes">/etc/fonts/fonts.conf</include>
  <cachedir>{folder}</cachedir>
  <selectfont><rejectfont>
    <pattern><patelt name="family"><string>Calibri</string></patelt></pattern>
    <pattern><patelt name="family"><string>Carlito</string></patelt></pattern>
  </rejectfont></selectfont>
</fontconfig>
"""
_FONTS = ["none like Calibri", pytest.param("as installed", marks=pytest.mark.slow)]


def hide_narrow_fonts(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let programs see no font with the widths of Calibri."""
    config = folder / "fonts.conf"
    config.write_text(_WITHOUT.format(folder=folder / "fonts"))
    monkeypatch.setenv("FONTCONFIG_FILE", str(config))


def filled_shares(pdf: Path) -> list[float]:
    """Return what share of each page between its margins lies above its lowest ink."""
    base = pdf.with_suffix("")
    subprocess.run(["pdftoppm", "-r", str(_DOTS), "-gray", str(pdf), str(base)], check=True)
    shares = []
    for image in sorted(pdf.parent.glob(f"{base.name}-*.pgm")):
        _, sides, _, dots = image.read_bytes().split(b"\n", 3)
        width, height = map(int, sides.split())
        page = np.frombuffer(dots, np.uint8).reshape(height, width)
        top, bottom = int(_ABOVE * _DOTS), int(height - _BELOW * _DOTS)
        inked = np.flatnonzero((page[top:bottom] < _DARK).any(axis=1))
        shares.append(float(inked.max(initial=0)) / (bottom - top))
    return shares


def page_texts(pdf: Path) -> list[str]:
    command = ["pdftotext", "-layout", str(pdf), "-"]
    done = subprocess.run(command, capture_output=True, check=True)
    return done.stdout.decode().split("\f")[:-1]


def tab_of(text: str, tabs: list[str]) -> str:
    """Return the tab that the footer of a page names."""
    footer = text.rstrip().splitlines()[-1]
    return max((tab for tab in tabs if tab in footer), key=len)


def short_pages(pdf: Path, tabs: list[str]) -> list[str]:
    """Return the pages that are less than half full, though their tab goes on."""
    parts = [tab_of(text, tabs) for text in page_texts(pdf)]
    shares = filled_shares(pdf)
    assert len(parts) == len(shares) > 0
    return [
        f"page {number}, {part}: {share:.0%}"
        for number, (share, (part, after)) in enumerate(
            zip(shares, pairwise([*parts, ""]), strict=True), 1
        )
        if part == after and share < 0.5
    ]


def words_cut(book: Path, pdf: Path) -> Counter[str]:
    """Return the words of the texts on printed tabs that the pages do not show as often."""
    cells = (cell for sheet in openpyxl.load_workbook(book) if sheet.sheet_state == "visible"
             for row in sheet.iter_rows() for cell in row)  # fmt: skip
    texts = [cell.value for cell in cells if isinstance(cell.value, str)]
    return _words(texts) - _words(page_texts(pdf))


def _words(texts: list[str]) -> Counter[str]:
    return Counter(word for text in texts for word in re.split(r"[\s/-]+", text) if word)


@pytest.fixture(
    scope="module", params=["metric, A4", pytest.param("US, Letter", marks=pytest.mark.slow)]
)
def report(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("printed")
    survey = TOWN if request.param == "metric, A4" else us_town(folder / "us.xlsx")
    run("report", survey, "--out", folder / "report.xlsx")
    return folder / "report.xlsx"


@needs_poppler
@pytest.mark.parametrize("fonts", _FONTS)
def test_the_report_fills_its_pages_and_cuts_no_text(
    report: Path, fonts: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, soffice: Converter
) -> None:
    if fonts != "as installed":
        hide_narrow_fonts(tmp_path, monkeypatch)
    pdf = soffice(report, "pdf")
    assert not short_pages(pdf, openpyxl.load_workbook(report).sheetnames)
    assert not words_cut(report, pdf)
    assert "###" not in "".join(page_texts(pdf))


@needs_poppler
@pytest.mark.slow
@pytest.mark.parametrize("fonts", _FONTS)
@pytest.mark.parametrize("job", ["change", "plan", "plan in US units"])
def test_change_and_plan_fill_their_pages(
    job: str, fonts: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, soffice: Converter
) -> None:
    out = tmp_path / "out.xlsx"
    if job == "change":
        run("change", TOWN, grown_town(tmp_path / "grown.xlsx"), "--out", out)
    elif job == "plan":
        run("plan", TOWN, "--margin", 5, "--plots-a-day", 6, "--out", out)
    else:
        run("plan", us_town(tmp_path / "us.xlsx"), "--margin", 5, "--out", out)
    if fonts != "as installed":
        hide_narrow_fonts(tmp_path, monkeypatch)
    assert not short_pages(soffice(out, "pdf"), openpyxl.load_workbook(out).sheetnames)
