"""How people come in: the command line and the spreadsheet programs, all thin."""
