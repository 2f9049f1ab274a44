"""The job `check`: the findings, with nothing written."""
