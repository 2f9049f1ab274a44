"""Shows what a job said. Each message is also kept in a file, since a message box forgets."""

from __future__ import annotations

import contextlib
import os
import time
from typing import Any

import uno

LOG = "xlhelpers.log"
_LONGEST_LOG = 200_000
_LINES_IN_A_BOX = 24


def log_place(context: Any) -> str:
    """Return the file of the messages, in the profile of the person who uses the office."""
    substitution = context.ServiceManager.createInstanceWithContext(
        "com.sun.star.util.PathSubstitution", context
    )
    folder = uno.fileUrlToSystemPath(substitution.substituteVariables("$(user)", True))
    return os.path.join(folder, LOG)


def keep(context: Any, title: str, text: str) -> None:
    """Add a message to the file of messages, and start a new file if it has grown long."""
    place = log_place(context)
    with contextlib.suppress(OSError):
        mode = "a"
        if os.path.exists(place) and os.path.getsize(place) > _LONGEST_LOG:
            mode = "w"
        with open(place, mode, encoding="utf-8") as file:
            file.write(f"[{time.strftime('%Y-%m-%d %H:%M:%S')}] {title}\n{text}\n\n")


def show(context: Any, frame: Any, title: str, text: str, wrong: bool = False) -> None:
    """Show a message; without a screen it is only kept."""
    keep(context, title, text)
    toolkit = context.ServiceManager.createInstanceWithContext("com.sun.star.awt.Toolkit", context)
    lines = text.splitlines()
    if len(lines) > _LINES_IN_A_BOX or max(map(len, lines), default=0) > 1_000:
        _show_scrolled(context, toolkit, title, text)
        return
    window = frame.getContainerWindow() if frame is not None else toolkit.getDesktopWindow()
    kind = uno.Enum("com.sun.star.awt.MessageBoxType", "ERRORBOX" if wrong else "INFOBOX")
    box = toolkit.createMessageBox(window, kind, 1, title, text)
    box.execute()
    box.dispose()


def _show_scrolled(context: Any, toolkit: Any, title: str, text: str) -> None:
    """Show a long text in a window that scrolls."""
    create = context.ServiceManager.createInstanceWithContext
    model = create("com.sun.star.awt.UnoControlDialogModel", context)
    model.Title, model.Width, model.Height = title, 300, 220
    field = model.createInstance("com.sun.star.awt.UnoControlEditModel")
    _set(field, PositionX=4, PositionY=4, Width=292, Height=190)
    _set(field, MultiLine=True, ReadOnly=True, VScroll=True, HScroll=False, Text=text)
    button = model.createInstance("com.sun.star.awt.UnoControlButtonModel")
    _set(button, PositionX=120, PositionY=200, Width=60, Height=16, PushButtonType=1)
    _set(button, Label="OK", DefaultButton=True)
    model.insertByName("text", field)
    model.insertByName("ok", button)
    dialog = create("com.sun.star.awt.UnoControlDialog", context)
    dialog.setModel(model)
    dialog.createPeer(toolkit, None)
    dialog.execute()
    dialog.dispose()


def _set(model: Any, **values: Any) -> None:
    for name, value in values.items():
        model.setPropertyValue(name, value)
