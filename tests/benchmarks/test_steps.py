"""The steps that the benchmark of a fill times are functions of the program."""

import importlib
from functools import reduce

from tests.benchmarks.fill_speed import STEPS


def test_every_timed_step_is_there() -> None:
    for home, name, label in STEPS:
        step = reduce(getattr, name.split("."), importlib.import_module(home))
        assert callable(step), label
