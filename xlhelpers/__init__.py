"""Raw readings of a town's tree survey in, heights that can be trusted and summary tabs out.

An import points only downwards:

    doors                  the command line and the spreadsheet programs, drawn from the job records
    jobs                   one room a job: its record, its words, its pages
    template, live         the blank workbook and its native formulas
    reading, pages         a workbook into a survey; records of tables and charts into sheets
    estimates              from plots to the town
    survey                 tables in memory, set-ups, trees, checks, decisions
    package                the file format
    fields, measure        one record a column; formulas, numbers in and out
"""

__version__ = "1.0.0"
