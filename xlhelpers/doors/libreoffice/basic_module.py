"""The module of Basic functions that gives the functions for cells their plain names.

Only a function in the library Standard of the user is found by its plain name in an .xlsx, so that
one workbook works in Excel and in LibreOffice. Each hands its arguments to the extension.
"""

import inspect
import textwrap

from xlhelpers.doors.excel import functions
from xlhelpers.doors.excel.arguments import ARGUMENTS

MODULE = "xlhelpers"
FIRST_LINE = "REM Made by xlhelpers libreoffice install, which replaces this module."
SERVICE = "org.xlhelpers.Functions"
_COMMON = f"""
Private Function given(Optional cells)
	Dim blank
	If IsMissing(cells) Then given = blank Else given = cells
End Function

Private Function ask(name As String, arguments)
	Dim service, answer
	On Error GoTo missing
	service = CreateUnoService("{SERVICE}")
	answer = service.callFunction(name, arguments)
	If IsArray(answer) Then ask = in_rows(answer) Else ask = answer
	Exit Function
missing:
	ask = "The xlhelpers extension does not answer. Run xlhelpers libreoffice doctor."
End Function

Private Function in_rows(rows)
	Dim row As Long, column As Long, last As Long
	last = UBound(rows(0))
	Dim cells(UBound(rows), last)
	For row = 0 To UBound(rows)
		For column = 0 To last
			cells(row, column) = rows(row)(column)
		Next column
	Next row
	in_rows = cells
End Function
"""


def module_text() -> str:
    """Return the module: one function for each that Excel has, with the same arguments."""
    made = [_function(name) for name in functions.__all__]
    return "\n".join([FIRST_LINE, "Option Explicit", _COMMON, *made])


def _function(name: str) -> str:
    function = getattr(functions, name)
    arguments = list(inspect.signature(function).parameters)
    summary = (inspect.getdoc(function) or "").partition("\n")[0]
    notes = [line for one in arguments for line in _remarks(f"{one}: {ARGUMENTS[one]}")]
    taken = ", ".join(f"Optional {one}" for one in arguments)
    passed = ", ".join(f"given({one})" for one in arguments)
    return "\n".join(
        [
            *_remarks(summary),
            *notes,
            f"Function {name}({taken})",
            f'\t{name} = ask("{name}", Array({passed}))',
            "End Function",
            "",
        ]
    )


def _remarks(text: str) -> list[str]:
    return [f"' {line}" for line in textwrap.wrap(text, 96)]
