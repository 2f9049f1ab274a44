"""A workbook turned into a PDF by LibreOffice."""

import shutil
import subprocess
import tempfile
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.package.whole_file import write_whole

# the step, for those who wait
MAKING_PDF = "making the PDF"


def write_pdf(book: Path) -> Path:
    """Turn a workbook into a PDF beside it, with LibreOffice.

    Raises
    ------
    WorkbookError
        If LibreOffice is not there or did not manage it; the workbook stays.
    """
    program = _office_program()
    with tempfile.TemporaryDirectory() as folder:
        profile = (Path(folder) / "profile").as_uri()
        command = [program, f"-env:UserInstallation={profile}", "--headless", "--convert-to", "pdf"]
        command += ["--outdir", folder, str(book.resolve())]
        try:
            subprocess.run(command, capture_output=True, timeout=_PATIENCE, check=True)
            made = Path(folder) / f"{book.stem}.pdf"
            target = book.with_suffix(".pdf")
            write_whole(target, made.read_bytes())
        except (subprocess.SubprocessError, OSError) as error:
            raise WorkbookError(
                f"{book.name} is saved, but LibreOffice could not make a PDF of it. Open it in "
                "your spreadsheet program and print it from there."
            ) from error
    return target


_PATIENCE = 600  # seconds
_OFFICE_PROGRAMS = (
    "/Applications/LibreOffice.app/Contents/MacOS/soffice",
    "C:/Program Files/LibreOffice/program/soffice.exe",
)


def _office_program() -> str:
    named = [shutil.which(name) for name in ("soffice", "libreoffice")]
    for program in (*named, *_OFFICE_PROGRAMS):
        if program is not None and Path(program).exists():
            return program
    raise WorkbookError(
        "The workbook is saved, but there is no PDF: --pdf needs LibreOffice, which is not "
        "installed. Open the workbook in your spreadsheet program and print it from there."
    )
