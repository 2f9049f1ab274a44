"""`python -m xlhelpers`."""

import sys

from xlhelpers.doors.command_line.main import command

if __name__ == "__main__":
    sys.exit(command())
