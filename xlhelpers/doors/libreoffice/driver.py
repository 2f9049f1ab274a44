"""Drives a LibreOffice without a screen; run as a script by a Python that has uno.

It reads one request as JSON and answers with one line of JSON. It uses nothing but the standard
library and uno, because the Python of the office knows no other package.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable
from typing import Any

import uno
import unohelper
from com.sun.star.beans import PropertyValue
from com.sun.star.task import XInteractionHandler
from com.sun.star.ucb import XCommandEnvironment

LIBRARY = "Standard"
_WAIT = 0.1  # seconds between two attempts to connect


class Approval(unohelper.Base, XCommandEnvironment, XInteractionHandler):  # type: ignore[misc]
    """Says yes to what the installation of an extension asks."""

    def getInteractionHandler(self) -> Any:
        """Return this object, which handles the questions itself."""
        return self

    def getProgressHandler(self) -> Any:
        """Return nothing: no progress is shown."""
        return None

    def handle(self, request: Any) -> None:
        """Choose the answer that agrees."""
        agree = uno.getTypeByName("com.sun.star.task.XInteractionApprove")
        for answer in request.getContinuations():
            if answer.queryInterface(agree) is not None:
                answer.select()


def connect(pipe: str, profile: str, limit: float) -> Any:
    """Return the context of the office behind a pipe, after a look at its profile.

    Raises
    ------
    RuntimeError
        If it does not answer in time, or is an office with another profile.
    """
    here = uno.getComponentContext()
    resolver = here.ServiceManager.createInstanceWithContext(
        "com.sun.star.bridge.UnoUrlResolver", here
    )
    end = time.monotonic() + limit
    while True:
        try:
            context = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            break
        except Exception as error:
            if time.monotonic() > end:
                raise RuntimeError(f"LibreOffice did not start within {limit:g} seconds") from error
            time.sleep(_WAIT)
    paths = create(context, "com.sun.star.util.PathSubstitution")
    user = paths.substituteVariables("$(user)", True)
    if _real_place(user) != os.path.join(_real_place(profile), "user"):
        raise RuntimeError(f"a LibreOffice with the settings in {user} answered")
    return context


def _real_place(url: str) -> str:
    path: str = uno.fileUrlToSystemPath(url)
    return os.path.normcase(os.path.realpath(path))


def create(context: Any, service: str) -> Any:
    """Return a new object of the office."""
    return context.ServiceManager.createInstanceWithContext(service, context)


def _manager(context: Any) -> Any:
    return context.getValueByName("/singletons/com.sun.star.deployment.ExtensionManager")


def is_listed(context: Any, identifier: str) -> bool:
    """Return whether the extension is in the list of the user's extensions."""
    # the list may hold None, and an extension that could not be registered
    extensions = _manager(context).getDeployedExtensions("user", None, Approval())
    return any(one is not None and one.getIdentifier().Value == identifier for one in extensions)


def add_extension(context: Any, identifier: str, url: str) -> None:
    """Install an extension; an earlier version is taken out first.

    Raises
    ------
    RuntimeError
        If the office did not take it.
    """
    remove_extension(context, identifier)
    if _manager(context).addExtension(url, (), "user", None, Approval()) is None:
        raise RuntimeError("the extension was not accepted")


def remove_extension(context: Any, identifier: str) -> bool:
    """Take an extension out; return whether it was there."""
    if not is_listed(context, identifier):
        return False
    _manager(context).removeExtension(identifier, "", "user", None, Approval())
    return True


def _libraries(context: Any) -> Any:
    return create(context, "com.sun.star.script.ApplicationScriptLibraryContainer")


def write_module(context: Any, name: str, text: str, first_line: str) -> None:
    """Put a module into the user's own library.

    Raises
    ------
    RuntimeError
        If a module of this name is somebody else's.
    """
    libraries = _libraries(context)
    library = _open_library(libraries)
    if library.hasByName(name):
        if not library.getByName(name).startswith(first_line):
            raise RuntimeError(f"the library Standard has a module {name} of your own; rename it")
        library.removeByName(name)
    library.insertByName(name, text)
    libraries.storeLibraries()


def remove_module(context: Any, name: str, first_line: str) -> bool:
    """Take our module out of the user's own library; return whether it was there."""
    libraries = _libraries(context)
    library = _open_library(libraries)
    if not library.hasByName(name) or not library.getByName(name).startswith(first_line):
        return False
    library.removeByName(name)
    libraries.storeLibraries()
    return True


def _open_library(libraries: Any) -> Any:
    if not libraries.hasByName(LIBRARY):
        libraries.createLibrary(LIBRARY)
    libraries.loadLibrary(LIBRARY)
    return libraries.getByName(LIBRARY)


def calculate(context: Any, formula: str) -> Any:
    """Return what a cell shows for a formula: a number, or a text."""
    hidden = PropertyValue()
    hidden.Name, hidden.Value = "Hidden", True
    desktop = create(context, "com.sun.star.frame.Desktop")
    document = desktop.loadComponentFromURL("private:factory/scalc", "_blank", 0, (hidden,))
    try:
        cell = document.getSheets().getByIndex(0).getCellByPosition(0, 0)
        cell.setFormula(formula)
        is_number = not cell.getError() and cell.getString() and cell.FormulaResultType2 == 1
        return cell.getValue() if is_number else cell.getString()
    finally:
        document.close(True)


def has_menu(context: Any, identifier: str) -> bool:
    """Return whether the menu of the extension is in the configuration."""
    node = PropertyValue()
    node.Name, node.Value = "nodepath", "/org.openoffice.Office.Addons/AddonUI/OfficeMenuBar"
    provider = create(context, "com.sun.star.configuration.ConfigurationProvider")
    access = "com.sun.star.configuration.ConfigurationAccess"
    menus = provider.createInstanceWithArguments(access, (node,))
    return any(identifier in name for name in menus.getElementNames())


def quit_office(context: Any) -> None:
    """End the office."""
    create(context, "com.sun.star.frame.Desktop").terminate()


STEPS: dict[str, Callable[..., Any]] = {
    step.__name__: step
    for step in (
        add_extension,
        calculate,
        has_menu,
        is_listed,
        remove_extension,
        remove_module,
        write_module,
    )
}


def main() -> int:
    """Run the steps of a request and print their results, or why they stopped."""
    request = json.load(sys.stdin)
    results: list[Any] = []
    answer = {"results": results, "error": ""}
    context = None
    try:
        context = connect(request["pipe"], request["profile"], request["limit"])
        for name, arguments in request["steps"]:
            results.append(STEPS[name](context, **arguments))
    except Exception as error:
        lines = str(getattr(error, "Message", "") or error).strip().splitlines()
        answer["error"] = lines[0] if lines else type(error).__name__
        # an office with another profile is somebody else's
        if context is None:
            print(json.dumps(answer))
            return 1
    quit_office(context)
    print(json.dumps(answer))
    return 0


if __name__ == "__main__":
    sys.exit(main())
