"""The settings file of xlwings: lines of two quoted texts, read and rewritten line by line.

Lines of others stay as they are, in their order.
"""

import re
from collections.abc import Mapping

_LINE = re.compile(r'\s*"([^"]*)"\s*,\s*"([^"]*)"')

MODULE = "xlhelpers.excel.udfs"
MODULES = "UDF MODULES"


def parsed(text: str) -> dict[str, str]:
    """Return the settings by name, in capital letters; of two lines the last counts."""
    found = (_LINE.match(line) for line in text.splitlines())
    return {line[1].upper(): line[2] for line in found if line is not None}


def changed(text: str, values: Mapping[str, str | None]) -> str:
    """Return the text with some settings changed, added, or, for None, taken out."""
    lines, left = [], dict(values)
    for line in text.splitlines():
        match = _LINE.match(line)
        name = match[1].upper() if match else ""
        if name not in values:
            lines.append(line)
        elif name in left:
            value = left.pop(name)
            if value is not None:
                lines.append(f'"{name}","{value}"')
    lines += [f'"{name}","{value}"' for name, value in left.items() if value is not None]
    return "".join(f"{line}\n" for line in lines)


def with_module(modules: str) -> str:
    """Return a list of modules of functions with ours in it."""
    known = [name.strip() for name in modules.split(";") if name.strip()]
    return ";".join(known if MODULE in known else [*known, MODULE])


def without_module(modules: str) -> str:
    """Return the list without ours."""
    known = [name.strip() for name in modules.split(";")]
    return ";".join(name for name in known if name and name != MODULE)
