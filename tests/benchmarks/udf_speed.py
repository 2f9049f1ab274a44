"""How long a function takes over a range, beside a function that only hands the cells back.

    python tests/benchmarks/udf_speed.py [--rows 10000] [--repeats 20] [--odd]

Both go through xlwings' own engine, on each of its two routes in a process of its own, with the
same arguments; the other function hands back its first argument, so what is left is the engine's
part. A comparison by hand, not a test. Seconds are those of the processor, the mean of all calls.
"""

import argparse
import copy
import json
import subprocess
import sys
import time
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).parents[2]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))


def identity_module(names: dict[str, list[str]]) -> ModuleType:
    """Return a module with a function for each name that hands back its first argument."""
    import xlwings

    module = ModuleType("identity_functions")
    module.__file__ = __file__
    for name, arguments in names.items():
        source = f"def {name}({', '.join(arguments)}):\n    return {arguments[0]}\n"
        exec(source, vars(module))
        function = getattr(module, name)
        function.__doc__ = "Hand back the first argument."
        for argument in arguments:
            function = xlwings.arg(argument, ndim=2, err_to_str=True)(function)
        setattr(module, name, xlwings.func(function))
    sys.modules["identity_functions"] = module
    return module


def one_route(options: argparse.Namespace) -> dict[str, list[float]]:
    """Return the mean seconds of each function and of its identity, by name."""
    from tests.doors.excel.cases import BAD_CELLS, CASES
    from tests.doors.excel.engine import ROUTES, handed_over

    ours = ROUTES[options.route]("xlhelpers.doors.excel.udfs")
    other = copy.copy(ours)
    other.module = identity_module({name: list(case.columns) for name, case in CASES.items()})
    other.name = other.module.__name__
    found = {}
    for name, case in CASES.items():
        ranges = [
            [range_[row % len(range_)] for row in range(options.rows)] for range_ in case.ranges()
        ]
        if options.odd:
            for row in range(0, options.rows, 4):
                ranges[0][row] = [BAD_CELLS[row // 4 % len(BAD_CELLS)]]
        given = [handed_over(ours, range_) for range_ in ranges]
        seconds = [0.0, 0.0]
        # in turn, and the mean, since the clearing of memory falls now on one, now on the other
        for _ in range(options.repeats):
            for which, route in enumerate((ours, other)):
                start = time.process_time()
                route.call(name, given)
                seconds[which] += (time.process_time() - start) / options.repeats
        found[name] = seconds
    return found


def main() -> None:
    """Time every function on both routes and print the ratios."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--rows", type=int, default=10_000, help="rows in the range (10000)")
    parser.add_argument("--repeats", type=int, default=20, help="calls of each (20)")
    parser.add_argument(
        "--odd", action="store_true", help="a quarter of the first argument's cells are odd"
    )
    parser.add_argument("--route", choices=["inside", "classic"], help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.route:
        print(json.dumps(one_route(options)))
        return
    for route in ("inside", "classic"):
        command = [sys.executable, __file__, "--route", route]
        command += ["--rows", str(options.rows), "--repeats", str(options.repeats)]
        command += ["--odd"] * options.odd
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode:
            raise SystemExit(f"{route} failed:\n{done.stderr}")
        heading = f"{route}, {options.rows} rows"
        print(f"\n{heading:<34}{'ms':>8}{'identity':>10}{'ratio':>8}")
        for name, (seconds, identity) in json.loads(done.stdout.splitlines()[-1]).items():
            print(f"{name:<34}{seconds * 1e3:8.1f}{identity * 1e3:10.1f}{seconds / identity:8.2f}")


if __name__ == "__main__":
    main()
