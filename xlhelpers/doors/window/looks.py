"""How the window looks: fonts in points, sizes that follow the scaling of the screen, colours."""

import contextlib
import sys
import tkinter as tk
from tkinter import font, ttk

ALT = "Command" if sys.platform == "darwin" else "Alt"
CONTROL = "Command" if sys.platform == "darwin" else "Control"
# gaps, in points
GAP, WIDE_GAP = "4p", "9p"
QUIET, PROBLEM = "#555555", "#9c1c1c"
_LINE, _GROUND, _CHOSEN = "#c8ccc8", "#f6f7f5", "#2f6f4f"
_ROW, _TITLE_LARGER = 1.55, 1.3


def follow_scaling() -> None:
    """Tell Windows, before there is a window, that sizes here follow the scaling of the screen."""
    if sys.platform == "win32":
        import ctypes

        with contextlib.suppress(OSError, AttributeError):
            ctypes.windll.shcore.SetProcessDpiAwareness(1)


def set_looks(root: tk.Misc) -> None:
    """Give the window its theme, fonts and colours."""
    style = ttk.Style(root)
    plain = font.nametofont("TkDefaultFont", root)
    title = plain.copy()
    title.configure(size=round(plain.cget("size") * _TITLE_LARGER), weight="bold")
    # the fonts live as long as the window
    root.fonts = (title,)  # type: ignore[attr-defined]
    if root.tk.call("tk", "windowingsystem") == "x11":
        _set_plain_theme(root, style)
    style.configure("Treeview", rowheight=round(plain.metrics("linespace") * _ROW))
    style.configure("Title.TLabel", font=title)
    style.configure("Quiet.TLabel", foreground=QUIET)
    root.bind_class("TButton", "<Return>", "%W invoke")
    for name in ("TEntry", "Text"):  # elsewhere Tk has it already
        root.bind_class(name, f"<{CONTROL}-a>", "event generate %W <<SelectAll>>; break")


def _set_plain_theme(root: tk.Misc, style: ttk.Style) -> None:
    style.theme_use("clam")
    style.configure(".", background=_GROUND, bordercolor=_LINE, lightcolor=_GROUND)
    style.configure(".", darkcolor=_GROUND, troughcolor=_LINE)
    style.configure("Treeview", fieldbackground="white", background="white")
    style.map("Treeview", background=[("selected", _CHOSEN)], foreground=[("selected", "white")])
    style.configure("TButton", background="white", padding="6p 2p", darkcolor=_LINE)
    style.configure("TEntry", padding="2p")
    style.configure("TCombobox", padding="2p", arrowsize="9p")
    style.configure("TCheckbutton", indicatorsize="8p", indicatormargin="1p 1p 4p 1p")
    style.configure("Vertical.TScrollbar", arrowsize="10p")
    style.configure("TProgressbar", background=_CHOSEN)
    style.map("TCombobox", fieldbackground=[("readonly", "white")])
    style.map("TCombobox", selectbackground=[("readonly", "white")])
    style.map("TCombobox", selectforeground=[("readonly", "black")])
    style.map("TCheckbutton", background=[("active", _GROUND)])
    root.winfo_toplevel().configure(background=_GROUND)


def letters_wide(root: tk.Misc, count: int) -> int:
    """Return how wide so many letters are on this screen."""
    return font.nametofont("TkDefaultFont", root).measure("0") * count


def underline(button: ttk.Button, letter: str) -> None:
    """Underline the access key of a button, which its text contains (not on macOS)."""
    if sys.platform != "darwin":
        button.configure(underline=str(button.cget("text")).lower().find(letter))


def add_access_key(button: ttk.Button, letter: str) -> None:
    """Let Alt with a letter press a button that is to be seen (not on macOS)."""
    if sys.platform == "darwin":
        return
    underline(button, letter)

    def press(_: object) -> None:
        if button.winfo_ismapped():
            button.invoke()

    button.winfo_toplevel().bind(f"<{ALT}-{letter}>", press, add=True)
