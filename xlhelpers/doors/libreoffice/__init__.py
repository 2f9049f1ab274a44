"""LibreOffice Calc: a menu for the open workbook and the functions for its cells."""
