"""The job `fill`: heights, checks and result tabs, written into the workbook."""
