"""The job `export`: the survey as CSV files with a data dictionary."""
