"""The job `bring`: an old sheet of any office made into a workbook of this program."""
