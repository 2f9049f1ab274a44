"""Makes the extension: one file with the menu, the components and the place of the program.

Everything in it is written from the records of the jobs, so it is made anew with each installation.
"""

import json
import sys
import sysconfig
import zipfile
from importlib import resources
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape, quoteattr

import xlhelpers
from xlhelpers.doors.libreoffice.menu import TITLE, entries

IDENTIFIER = "org.xlhelpers"
COMPONENT = "component.py"
INSIDE = "xlhelpers/doors/libreoffice/inside"
_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_REGISTRY = (
    'xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"'
)
_MEDIA = "application/vnd.sun.star."
# file and its media type
_PARTS = (
    ("Addons.xcu", "configuration-data"),
    ("ProtocolHandler.xcu", "configuration-data"),
    (COMPONENT, "uno-component;type=Python"),
)


def write_extension(path: Path) -> None:
    """Write the extension for this Python.

    Parameters
    ----------
    path : Path
        The new file; its name ends in .oxt.
    """
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in parts().items():
            file.writestr(name, content)


def parts() -> dict[str, str]:
    """Return the files of the extension by their place in it."""
    made = {
        "META-INF/manifest.xml": _manifest(),
        "description.xml": _description(),
        "Addons.xcu": _menu(entries()),
        "ProtocolHandler.xcu": _handler(),
        "settings.json": json.dumps(settings(), indent=1),
    }
    folder = resources.files("xlhelpers.doors.libreoffice") / "inside"
    for module in sorted(folder.iterdir(), key=lambda one: one.name):
        if module.name.endswith(".py"):
            place = COMPONENT if module.name == COMPONENT else f"{INSIDE}/{module.name}"
            made[place] = module.read_text(encoding="utf-8")
    above = INSIDE.rpartition("/")[0]
    while above:
        made[f"{above}/__init__.py"] = ""
        above = above.rpartition("/")[0]
    return made


def settings() -> dict[str, Any]:
    """Return what the extension has to know: this Python, the entries of the menu, the version.

    The folder of the program is named only where Python would not find it by itself.
    """
    folder = Path(xlhelpers.__file__).resolve().parent.parent
    known = {Path(sysconfig.get_path(name)).resolve() for name in ("purelib", "platlib")}
    return {
        "python": sys.executable,
        "folder": "" if folder in known else str(folder),
        "version": xlhelpers.__version__,
        "entries": entries(),
    }


def _manifest() -> str:
    lines = [
        f' <manifest:file-entry manifest:full-path="{name}" manifest:media-type="{_MEDIA}{kind}"/>'
        for name, kind in _PARTS
    ]
    space = 'xmlns:manifest="http://openoffice.org/2001/manifest"'
    return "\n".join([f"{_HEAD}<manifest:manifest {space}>", *lines, "</manifest:manifest>", ""])


def _description() -> str:
    return f"""{_HEAD}<description xmlns="http://openoffice.org/extensions/description/2006">
 <identifier value="{IDENTIFIER}"/>
 <version value="{xlhelpers.__version__}"/>
 <display-name><name lang="en">xlhelpers: {TITLE}</name></display-name>
</description>
"""


def _menu(listed: list[dict[str, Any]]) -> str:
    nodes = []
    for at, entry in enumerate(listed):
        if entry["opens_window"]:
            nodes.append(_node(f"m{at:02}a", {"URL": "private:separator"}))
        address = {"URL": f"{IDENTIFIER}:{entry['name']}", "Title": entry["label"]}
        nodes.append(_node(f"m{at:02}b", address | {"Target": "_self"}))
    inner = "".join(nodes)
    context = _property("Context", "com.sun.star.sheet.SpreadsheetDocument")
    return f"""{_HEAD}<oor:component-data {_REGISTRY} oor:name="Addons"
 oor:package="org.openoffice.Office">
<node oor:name="AddonUI"><node oor:name="OfficeMenuBar">
<node oor:name="{IDENTIFIER}.menu" oor:op="replace">{_property("Title", TITLE)}{context}
<node oor:name="Submenu">
{inner}</node></node></node></node></oor:component-data>
"""


def _node(name: str, values: dict[str, str]) -> str:
    inner = "".join(_property(key, value) for key, value in values.items())
    return f'<node oor:name="{name}" oor:op="replace">{inner}</node>\n'


def _property(name: str, value: str) -> str:
    language = ' xml:lang="en"' if name == "Title" else ""
    return (
        f'<prop oor:name={quoteattr(name)} oor:type="xs:string"><value{language}>'
        f"{escape(value)}</value></prop>"
    )


def _handler() -> str:
    return f"""{_HEAD}<oor:component-data {_REGISTRY} oor:name="ProtocolHandler"
 oor:package="org.openoffice.Office">
<node oor:name="HandlerSet"><node oor:name="{IDENTIFIER}.MenuCommands" oor:op="replace">
<prop oor:name="Protocols" oor:type="oor:string-list"><value>{IDENTIFIER}:*</value></prop>
</node></node></oor:component-data>
"""
