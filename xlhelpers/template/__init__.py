"""The blank workbook, written from the field records."""
