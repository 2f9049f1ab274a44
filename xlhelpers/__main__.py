"""`python -m xlhelpers`."""

import sys

from xlhelpers.cli import main

if __name__ == "__main__":
    sys.exit(main())
