"""Takes the entries of the menu from the office and runs them."""

from __future__ import annotations

import traceback
from typing import Any

import unohelper
from com.sun.star.frame import XDispatch, XDispatchProvider
from com.sun.star.lang import XInitialization, XServiceInfo

from xlhelpers.doors.libreoffice.inside import child, messages
from xlhelpers.doors.libreoffice.inside.open_workbook import run_entry

PROTOCOL = "org.xlhelpers:"
NAME = "org.xlhelpers.MenuCommands"
SERVICE = "com.sun.star.frame.ProtocolHandler"


class MenuCommands(unohelper.Base, XServiceInfo, XInitialization, XDispatchProvider, XDispatch):  # type: ignore[misc]
    """The handler of addresses such as org.xlhelpers:fill."""

    def __init__(self, context: Any, folder: str) -> None:
        """Keep the context of the office and the folder of the extension."""
        self.context, self.folder, self.frame = context, folder, None

    def initialize(self, arguments: Any) -> None:
        """Take the window that the menu belongs to."""
        if arguments:
            self.frame = arguments[0]

    def queryDispatch(self, url: Any, target: str, flags: int) -> Any:
        """Return what runs an address: this handler for its own, else nothing."""
        return self if url.Protocol == PROTOCOL else None

    def queryDispatches(self, requests: Any) -> Any:
        """Return what runs several addresses."""
        return tuple(
            self.queryDispatch(one.FeatureURL, one.FrameName, one.SearchFlags) for one in requests
        )

    def dispatch(self, url: Any, arguments: Any) -> None:
        """Run the entry of an address. Errors are shown, never raised into the office."""
        settings = child.read_settings(self.folder)
        entries = [entry for entry in settings["entries"] if entry["name"] == url.Path]
        try:
            for entry in entries:
                run_entry(self.context, self.frame, entry, settings, _new_address(arguments))
        except Exception:
            messages.show(self.context, None, "xlhelpers", traceback.format_exc(), wrong=True)

    def addStatusListener(self, listener: Any, url: Any) -> None:
        """Do nothing: every entry can always be chosen."""

    def removeStatusListener(self, listener: Any, url: Any) -> None:
        """Do nothing: no listener is kept."""

    def getImplementationName(self) -> str:
        """Return the name of this component."""
        return NAME

    def supportsService(self, name: str) -> bool:
        """Return whether it is the handler of a protocol."""
        return name == SERVICE

    def getSupportedServiceNames(self) -> tuple[str, ...]:
        """Return its only service."""
        return (SERVICE,)


def _new_address(arguments: Any) -> str:
    """Return the address that a macro gives for a new workbook, as for the office's own Save As."""
    return next((str(one.Value) for one in arguments if one.Name == "URL"), "")
