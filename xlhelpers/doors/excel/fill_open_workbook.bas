Attribute VB_Name = "TreeSurveyFill"
Option Explicit

' Fills the active tree survey workbook, whatever its name, and never saves it. It needs the xlwings
' add-in and the Python with xlhelpers.
Public Sub FillOpenWorkbook()
    On Error GoTo Trouble
    Application.Run "xlwings.xlam!RunPython", _
        "from xlhelpers.doors.excel.open_book import fill_open_book; fill_open_book()"
    Exit Sub
Trouble:
    MsgBox "The fill could not be started: " & Err.Description & vbCrLf & vbCrLf & _
        "Nothing was written. Run 'xlhelpers excel doctor' in a command window to see what to do.", _
        vbExclamation, "xlhelpers"
End Sub
