"""Native formulas: the text of each, its value in Python, and where it goes."""
