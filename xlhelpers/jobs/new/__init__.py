"""The job `new`: a blank workbook."""
