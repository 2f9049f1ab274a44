"""Every function driven through xlwings' own engine, on both of its routes."""

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.doors.excel.cases import CASES, OPTIONAL, ROWS
from xlhelpers.doors.excel import functions
from xlhelpers.doors.excel.arguments import ARGUMENTS, LONGEST

pytest.importorskip("xlwings")

ENGINE = Path(__file__).with_name("engine.py")
ERROR = {"error": "#N/A"}
# the cells of the first rows, in every argument in turn, and what each must give
BAD_CELLS = (None, "", "abc", ERROR, True)

# Words that the language of macros keeps for itself, in small letters (from memory).
RESERVED_WORDS = """
abs addressof and any array as boolean byref byte byval call case cbool ccur cdate cdbl cint
circle clng close const csng cstr currency cvar cverr date debug decimal declare dim do doevents
double each else elseif empty end enum eqv erase error event exit false fix for friend function
get global gosub goto if imp implements in input int integer is lbound len let like lock long
longlong longptr loop lset me mod name new next not nothing null object on open option optional
or paramarray preserve print private property pset public put raiseevent redim rem resume return
rset scale seek select sgn shared single spc static stop string sub tab then time to true type
typeof ubound unlock until variant wend while with withevents write xor caller
"""
RESERVED = frozenset(RESERVED_WORDS.split())


def jobs() -> list[list[Any]]:
    """Every function: ranges, single cells, wrong cells in each argument; then its texts."""
    found: list[list[Any]] = []
    for name, case in CASES.items():
        found.append([name, case.ranges()])
        found.append([name, [[[cell]] for cell in case.cells(0)]])
        for at in range(len(case.columns)):
            ranges = case.ranges()
            for row, cell in enumerate(BAD_CELLS):
                ranges[at][row] = [cell]
            found.append([name, ranges])
    found.append(["", []])
    return found


@pytest.fixture(scope="module", params=["inside", "classic"])
def answers(request: pytest.FixtureRequest) -> tuple[str, list[Any]]:
    command = [sys.executable, str(ENGINE), request.param, "xlhelpers.doors.excel.udfs"]
    done = subprocess.run(
        command, input=json.dumps(jobs()), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return request.param, json.loads(done.stdout.splitlines()[-1])


def number_or_text(found: Any) -> Any:
    return found if isinstance(found, str) else pytest.approx(found, rel=1e-12)


def test_equal_to_measure(answers: tuple[str, list[Any]]) -> None:
    place = 0
    for name, case in CASES.items():
        ranges, single = answers[1][place], answers[1][place + 1]
        assert [row[0] for row in ranges] == pytest.approx(case.expected, rel=1e-12), name
        assert len(ranges) == ROWS
        assert single == [[pytest.approx(case.expected[0], rel=1e-12)]], name
        place += 2 + len(case.columns)


def test_wrong_cells_in_every_argument(answers: tuple[str, list[Any]]) -> None:
    place = 0
    for name, case in CASES.items():
        place += 2
        for argument in case.columns:
            found = [row[0] for row in answers[1][place]]
            place += 1
            if argument not in OPTIONAL:
                assert found[:2] == ["", ""], (name, argument)
                for message in found[2:5]:
                    assert message.startswith(f"{argument}: "), (name, message)
                assert "#N/A" in found[3]
            assert found[5:] == pytest.approx(case.expected[5:], rel=1e-12)


def test_both_routes_say_what_the_plain_functions_say(answers: tuple[str, list[Any]]) -> None:
    for (name, given), found in zip(jobs()[:-1], answers[1], strict=False):
        plain = [
            [["#N/A" if cell == ERROR else cell for cell in row] for row in range_]
            for range_ in given
        ]
        expected = getattr(functions, name)(*plain)
        assert found == [[number_or_text(cell) for cell in row] for row in expected]


def texts(route: str, described: Any) -> dict[str, tuple[str, dict[str, str]]]:
    if route == "classic":
        return {name: (about[0], about[2]) for name, about in described["functions"].items()}
    return {
        about["name"].lower(): (
            about["description"],
            {p["name"]: p["description"] for p in about["parameters"]},
        )
        for about in described["functions"]
    }


def test_names_and_texts(answers: tuple[str, list[Any]]) -> None:
    found = texts(answers[0], answers[1][-1])
    assert set(found) == set(functions.__all__)
    for name, (about, arguments) in found.items():
        assert not re.fullmatch(r"(?i)[a-z]{1,3}[0-9]+|r[0-9]*c[0-9]*", name)
        assert 0 < len(about) <= LONGEST
        for argument, text in arguments.items():
            assert text == ARGUMENTS[argument]
            assert 0 < len(text) <= LONGEST
            assert argument not in RESERVED
            assert name not in RESERVED


def test_the_macro_code_has_every_function_and_its_arguments(
    answers: tuple[str, list[Any]],
) -> None:
    route, found = answers
    if route != "classic":
        # the other route has no macro code; it marks what may be left out in its metadata
        optional = [p["name"] for f in found[-1]["functions"] for p in f["parameters"]
                    if p.get("optional")]  # fmt: skip
        assert set(optional) == OPTIONAL
        return
    code = found[-1]["code"]
    for name, (_, arguments) in texts(*((route, found[-1]))).items():
        declared = re.search(rf"Function {name}\((.*?)\)", code)
        assert declared is not None
        given = [part.replace("Optional ", "") for part in declared[1].split(", ")]
        assert given == list(arguments)


def test_no_text_is_left_over() -> None:
    used = {argument for case in CASES.values() for argument in case.columns}
    assert set(ARGUMENTS) == used | OPTIONAL
