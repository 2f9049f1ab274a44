"""A workbook into a survey: sheets and columns found, cells turned into values."""
