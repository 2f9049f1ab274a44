"""What the office loads first: names the two components of the extension."""

import os
import sys

import unohelper

_FOLDER = os.path.dirname(__file__)
if _FOLDER not in sys.path:
    sys.path.insert(0, _FOLDER)

from xlhelpers.doors.libreoffice.inside import functions, menu_commands  # noqa: E402

_functions = functions.Functions(_FOLDER)


def _give_functions(context):  # type: ignore[no-untyped-def]
    return _functions  # one for all cells, with one process


def _make_menu_commands(context):  # type: ignore[no-untyped-def]
    return menu_commands.MenuCommands(context, _FOLDER)


g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(_give_functions, functions.NAME, (functions.NAME,))
g_ImplementationHelper.addImplementation(
    _make_menu_commands, menu_commands.NAME, (menu_commands.SERVICE,)
)
