"""Functions for the cells of a spreadsheet: the same arithmetic as everywhere else, a cell or a
range at a time.
"""
