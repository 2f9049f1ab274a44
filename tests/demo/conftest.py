"""The scripts of the invented town are no package; the tests import them from their folder."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "demo_workbooks"))
