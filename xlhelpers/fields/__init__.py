"""What each sheet of the workbook holds: one record a column, one module a sheet.

The records drive the template (headings, drop-downs, input messages), the reader (units, ranges),
the writer (number formats) and the help, so that these cannot disagree.
"""
