"""The backups of a workbook: listed, compared with it, and brought back."""
