"""Set-ups: for each line its way of measuring, its heights and their uncertainty."""
