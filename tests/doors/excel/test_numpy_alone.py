"""The functions need numpy alone, as inside the spreadsheet's own runtime."""

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]

SCRIPT = """
import json, sys, warnings

warnings.simplefilter("error")
ALLOWED = {"numpy", "xlhelpers"} | set(sys.stdlib_module_names)


class OnlyNumpy:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] not in ALLOWED:
            raise ImportError(f"{name} is not there")


for name in ("pandas", "openpyxl", "lxml", "xlwings"):
    assert name not in sys.modules
sys.meta_path.insert(0, OnlyNumpy())
import inspect
import math

from xlhelpers.doors.excel import arguments, functions

cells = [None, "", "abc", "#N/A", True]
range_ = [[cells[row % 5]] for row in range(10_000)]
found = {}
for name in functions.__all__:
    function = getattr(functions, name)
    count = len(inspect.signature(function).parameters)
    answer = function(*[range_] * count)
    assert len(answer) == 10_000 and all(len(row) == 1 for row in answer), name
    found[name] = [row[0] for row in answer[:5]]
    assert [row[0] for row in answer] == found[name] * 2_000, name
loaded = {name.split(".")[0] for name in sys.modules} & {"pandas", "openpyxl", "lxml", "xlwings"}
print(json.dumps([sorted(loaded), found]))
"""


def test_every_function_with_other_packages_blocked() -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    loaded, found = json.loads(done.stdout)
    assert loaded == []
    assert found
    for name, answers in found.items():
        assert answers[:2] == ["", ""], name
        for answer, shown in zip(answers[2:], ("'abc'", "#N/A", "TRUE"), strict=True):
            assert ": " in answer, name
            assert shown in answer, name
