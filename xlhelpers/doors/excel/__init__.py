"""Excel: functions for worksheets, the fill of the open workbook, set-up and doctor."""
