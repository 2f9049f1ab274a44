"""The job `launcher`: an icon onto which workbooks are dropped."""
