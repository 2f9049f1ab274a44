"""The exceptions of the project, one small tree with one root.

XlhelpersError
    WorkbookError        a file that cannot be read or written; the message says what to do
        DamagedError     its bytes are no longer those of a workbook; a backup may be at hand
    ReadingError         an argument that no reading can have, such as a scale of an unknown name
    SpecificationError   a declared table (fields, checks, instruments) contradicts itself
"""


class XlhelpersError(Exception):
    """Root of every exception that this project raises on purpose."""


class WorkbookError(XlhelpersError):
    """A workbook that cannot be read or written, with one sentence that says what to do."""


class DamagedError(WorkbookError):
    """A workbook whose bytes are damaged."""


class ReadingError(XlhelpersError, ValueError):
    """A misuse of a formula: an unknown scale, method or solid, or arrays of different lengths."""


class SpecificationError(XlhelpersError):
    """A declared table contradicts itself; found when the program is imported."""
