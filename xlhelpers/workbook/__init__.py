"""Sheets and tabs: where the file format and the survey meet."""
