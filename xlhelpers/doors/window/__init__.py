"""The window: a workbook on top, the jobs below, one small form for each."""
