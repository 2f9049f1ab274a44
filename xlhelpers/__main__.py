"""`python -m xlhelpers`."""

import sys

from xlhelpers.cli import command

if __name__ == "__main__":
    sys.exit(command())
