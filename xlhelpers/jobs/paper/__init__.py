"""The job `paper`: field sheets, cards and the list of trees to measure again, for printing."""
