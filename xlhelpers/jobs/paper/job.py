"""The record of the job `paper`."""

from xlhelpers.jobs.job import PAPER, Job, Option, book, flag, out

JOB = Job(
    "paper",
    "Print field sheets",
    "Make field sheets, instruction cards and the remeasure list for printing",
    "xlhelpers.jobs.paper.paper:run",
    (
        book(),
        out("SHEETS.xlsx"),
        PAPER._replace(help="paper for printing (default: as set on the field sheet)"),
        Option("plots", "text", "Plots", "only the sheets of these plots", metavar="1,2,5"),
        flag(
            "measure_again",
            "Trees to measure again",
            "only the list of trees to measure again, for the crew",
        ),
        flag(
            "cards",
            "Instruction cards",
            "only the instruction cards, one for each thing to measure",
        ),
        Option(
            "empty",
            "whole number",
            "Empty sheets",
            "only empty sheets, this many, for plots that are not listed yet",
            metavar="N",
        ),
        flag("pdf", "Also as PDF", "also make a PDF (needs LibreOffice)"),
        Option(
            "code",
            "text",
            "Page code",
            "show which plot and page has this code; write nothing",
            metavar="CODE",
        ),
    ),
    about="The workbook is not changed.",
)
