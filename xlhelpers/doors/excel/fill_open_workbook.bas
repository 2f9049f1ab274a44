Attribute VB_Name = "TreeSurveyFill"
Option Explicit

' Saves and closes the active tree survey workbook, whatever its name, fills it and opens it again.
' The version before is kept as a backup beside it. It needs the xlwings add-in and the Python with
' xlhelpers. Keep this module in the personal macro workbook, because the survey workbook is closed.
Public Sub FillOpenWorkbook()
    On Error GoTo Trouble
    Application.Run "xlwings.xlam!RunPython", _
        "from xlhelpers.doors.excel.open_book import fill_open_book; fill_open_book()"
    Exit Sub
Trouble:
    MsgBox "The fill could not be started: " & Err.Description & vbCrLf & vbCrLf & _
        "Nothing was changed. Run 'xlhelpers excel doctor' in a command window to see what to do.", _
        vbExclamation, "xlhelpers"
End Sub
