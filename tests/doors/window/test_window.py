"""The window with real clicks and keys on a virtual screen."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.doors.window.conftest import Opener
from tests.doors.window.screen import run_screen, skip_without_screen
from tests.jobs.books import keyed, varied, write_filled
from tests.town import TOWN, filled_town, town_outcome
from xlhelpers.doors.window import steps
from xlhelpers.jobs.job import Job, Option
from xlhelpers.jobs.launcher.launcher import write_launcher
from xlhelpers.package.zip.book_files import backup_names
from xlhelpers.package.zip.container import Package


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return keyed(tmp_path / "our trees.xlsx", varied(3))


def test_the_workbook_is_named_with_where_its_work_stands(open_window: Opener, book: Path) -> None:
    hands = open_window(book)
    assert hands.window.name.cget("text") == book.name
    assert hands.state == "Not filled yet. 0 findings open."


def test_a_fill_by_two_clicks_and_what_can_be_opened_afterwards(
    open_window: Opener, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = book.read_bytes()
    opener = tmp_path / "xdg-open"
    opener.write_text('#!/bin/sh\nprintf "%s\\n" "$1" >> "$0.opened"\n')
    opener.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=":")
    hands = open_window(book)
    hands.choose("Fill workbooks")
    said = hands.run()
    assert "3 lines entered" in said
    assert "The job restore brings it back." in said
    assert book.read_bytes() != before
    assert hands.state.startswith("Filled ")
    hands.click(hands.button("Open our"))
    hands.click(hands.button("Open the folder"))
    opened = Path(f"{opener}.opened")
    hands.wait_for(lambda: opened.exists() and len(opened.read_text().splitlines()) == 2)
    assert set(opened.read_text().splitlines()) == {str(book), str(tmp_path)}


@pytest.mark.parametrize("program", ["libreoffice-calc.desktop", "other.desktop"])
def test_to_check_is_opened_in_libreoffice_and_named_elsewhere(
    open_window: Opener, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, program: str
) -> None:
    """The workbook is opened at the tab, or the window says which tab to choose."""
    before = book.read_bytes()
    answers = {"xdg-mime": f"echo {program}", "xdg-open": "", "soffice": ""}
    for name, line in answers.items():
        made = tmp_path / name
        made.write_text(f'#!/bin/sh\n{line}\nprintf "%s\\n" "$@" > "$0.asked"\n')
        made.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=":")
    hands = open_window(book)
    hands.choose("Open To check")
    hands.click(hands.window.go)
    office = program.startswith("libreoffice")
    asked = tmp_path / ("soffice.asked" if office else "xdg-open.asked")
    hands.wait_for(lambda: asked.exists() and asked.read_text())
    address = f"{book.as_uri()}#xlh_tab_to_check" if office else str(book)
    assert asked.read_text().splitlines() == [address]
    assert hands.said == ("" if office else "Choose the tab To check there. A fill makes it.")
    assert book.read_bytes() == before


@pytest.mark.slow
def test_the_way_with_keys_alone(open_window: Opener, book: Path) -> None:
    """Arrows choose a job, Enter goes to its form and runs it, Escape comes back."""
    hands = open_window()
    before = hands.window.title.cget("text")
    hands.press("Down", "Down", "Up")
    assert hands.window.title.cget("text") != before
    hands.press("Up", "Return")
    assert hands.root.focus_get() is hands.field("Save as").keys_go_to
    target = book.with_name("new town.xlsx")
    hands.press("ctrl+a")
    hands.type(str(target))
    hands.press("Tab", "Tab")
    assert hands.root.focus_get() is hands.field("Units").keys_go_to
    hands.press("Down", "Down", "Return")  # opens the list, goes on, takes it
    assert hands.field("Units").read() == "us"
    hands.press("alt+r")
    hands.wait_for(lambda: hands.window.job is None)
    assert target.exists()
    # the new workbook is the one that is worked on
    assert hands.window.name.cget("text") == target.name
    assert "No tree is entered yet." in hands.state
    hands.press("Escape")
    assert hands.root.focus_get() is hands.window.list
    # the list goes on past the gap between its two parts
    hands.press(*["Down"] * (len(hands.window.entries) + 2))
    assert hands.window.title.cget("text") == hands.window.entries[-1].label


def test_every_field_is_reached_by_tab_in_the_order_of_the_form(open_window: Opener) -> None:
    hands = open_window()
    hands.choose("Print field sheets")
    hands.click(hands.form.fields[0].keys_go_to)
    order = []
    for _ in range(3 * len(hands.form.fields)):
        assert hands.root.focus_get().winfo_class() not in ("TLabel", "TFrame")
        field = [f for f in hands.form.fields if f.keys_go_to is hands.root.focus_get()]
        order += [f.option.name for f in field if f.option.name not in order]
        hands.press("Tab")
    shown = [f.option.name for f in hands.form.fields if f.keys_go_to.winfo_ismapped()]
    assert order == shown


def test_a_workbook_is_chosen_in_the_dialog(open_window: Opener, book: Path) -> None:
    hands = open_window()
    hands.window.folder = book.parent

    def answer() -> None:
        if "filedialog" in str(hands.root.tk.call("focus")):
            hands.type(str(book))
            hands.press("Return")
        else:
            hands.root.after(100, answer)

    hands.root.after(100, answer)
    hands.press("alt+c")  # comes back when the dialog is closed
    hands.wait_for(lambda: hands.window.name.cget("text") == book.name)
    assert "0 findings open" in hands.state


def test_what_is_missing_is_said_with_the_label_and_the_cursor_goes_there(
    open_window: Opener,
) -> None:
    hands = open_window()
    hands.choose("Compare two entries")
    hands.enter("First entry", "a.xlsx")
    hands.click(hands.window.go)
    assert hands.said.startswith("“Second entry” is empty.")
    assert hands.root.focus_get() is hands.field("Second entry").keys_go_to


def test_a_wrong_number_is_answered_like_on_the_command_line(open_window: Opener) -> None:
    hands = open_window()
    hands.choose("New workbook")
    hands.enter("Plots", "many")
    hands.click(hands.window.go)
    assert hands.said == "“Plots” many is not a whole number. Type a number such as 40."


@pytest.mark.slow
def test_refusals_name_the_labels_of_the_form(open_window: Opener, book: Path) -> None:
    hands = open_window(book)
    hands.choose("Fill workbooks")
    hands.enter("Save copies in", book)
    said = hands.run()
    assert "“Save copies in” names the workbook itself." in said
    assert "--" not in said
    hands.choose("New workbook")
    hands.enter("Plots", 0)
    assert hands.run().startswith("“Plots” must be from 1 to 5000")


@pytest.mark.slow
def test_a_workbook_that_is_open_elsewhere_is_refused(open_window: Opener, book: Path) -> None:
    before = book.read_bytes()
    book.with_name(f"~${book.name}").write_bytes(b"x")
    hands = open_window(book)
    hands.choose("Fill workbooks")
    assert "is open in another program" in hands.run()
    assert book.read_bytes() == before


def test_results_get_names_that_are_free(open_window: Opener, book: Path) -> None:
    book.with_name("our trees_report.pdf").write_bytes(b"")
    hands = open_window(book)
    hands.choose("Council report")
    assert hands.field("Workbook").read() == str(book)
    assert hands.field("Save as").read() == str(book.with_name("our trees_report_2.xlsx"))
    assert hands.field("Also as PDF").read() is True
    hands.choose("Trees to measure again")
    assert hands.field("Save as").read() == str(book.with_name("our trees_measure_again.xlsx"))
    hands.choose("Compare two surveys")
    assert hands.field("Later survey").read() == str(book)
    assert hands.field("Earlier survey").read() == ""


def test_what_somebody_typed_is_not_replaced_by_a_suggestion(
    open_window: Opener, book: Path
) -> None:
    hands = open_window()
    hands.choose("Instrument checks")
    hands.enter("Save as", "mine.xlsx")
    hands.choose("Council report")
    hands.window.choose_books([book])
    hands.choose("Instrument checks")
    assert hands.field("Save as").read() == "mine.xlsx"
    assert hands.field("Workbook").read() == str(book)


def test_more_options_are_on_other_pages(open_window: Opener) -> None:
    """Every field is on one page, and the cursor goes to a wrong one on whichever it is."""
    hands = open_window()
    hands.choose("Plan a survey")
    pages: list[list[str]] = []
    for turn in (lambda: hands.click(hands.form.more), lambda: hands.press("alt+m"), None):
        fields = [f for f in hands.form.fields if f.keys_go_to.winfo_ismapped()]
        pages.append([field.option.label for field in fields])
        if "Seed" in pages[-1]:
            hands.enter("Seed", "x")
        if turn is not None:
            turn()
    labels = [label for page in pages for label in page]
    assert labels == [field.option.label for field in hands.form.fields]
    hands.click(hands.form.more)
    assert hands.field("Margin (%)").keys_go_to.winfo_ismapped()
    hands.click(hands.window.go)
    assert hands.said.startswith("“Seed” x is not a whole number.")
    assert hands.root.focus_get() is hands.field("Seed").keys_go_to


@pytest.mark.slow
def test_a_stopped_fill_leaves_the_workbook_whole(open_window: Opener, tmp_path: Path) -> None:
    town = Path(shutil.copy(TOWN, tmp_path / "town.xlsx"))
    before = town.read_bytes()
    hands = open_window(town)
    hands.choose("Fill workbooks")
    hands.click(hands.window.go)
    hands.wait_for(lambda: "Measuring" in hands.window.result.step.cget("text"))
    hands.press("Escape")
    assert hands.window.job is None
    assert hands.said.startswith("Stopped.")
    assert town.read_bytes() == before
    assert not any(backup.exists() for backup in backup_names(town))
    hands.wait_for(lambda: not list(tmp_path.glob(".writing *")))
    # and the window can go on
    hands.choose("New workbook")
    assert hands.run().startswith("Saved ")


@pytest.mark.slow
def test_a_fill_stopped_at_any_moment_leaves_a_whole_workbook(
    open_window: Opener, tmp_path: Path
) -> None:
    hands = open_window()
    ends = set()
    for number in range(8):
        town = tmp_path / f"town {number}.xlsx"
        town.write_bytes(TOWN.read_bytes())
        hands.window.choose_books([town])
        hands.choose("Fill workbooks")
        hands.click(hands.window.go)
        hands.look(0.4 * number)
        hands.press("alt+s")
        hands.wait_for(lambda: hands.window.job is None)
        Package.open(town)
        ends.add(town.read_bytes() == TOWN.read_bytes())
        hands.choose("New workbook")
    assert True in ends


@pytest.mark.slow
def test_the_window_stays_alive_while_a_job_runs(open_window: Opener, tmp_path: Path) -> None:
    """Somebody can still scroll and read: no update of the window takes long."""
    town = Path(shutil.copy(TOWN, tmp_path / "town.xlsx"))
    hands = open_window(town)
    hands.choose("List findings")
    hands.click(hands.window.go)
    longest = 0.0
    while hands.window.job is not None:
        began = time.monotonic()
        hands.root.update()
        longest = max(longest, time.monotonic() - began)
        time.sleep(0.005)
    assert longest < 1.0


@pytest.mark.slow
def test_the_line_about_the_workbook_follows_what_another_program_saves(
    open_window: Opener, book: Path
) -> None:
    hands = open_window(book)
    assert hands.state.startswith("Not filled yet.")
    write_filled(book, varied(3))
    hands.root.event_generate("<FocusIn>")
    assert hands.state.startswith("Filled ")


def test_a_file_that_is_no_workbook_is_said_on_top(open_window: Opener, tmp_path: Path) -> None:
    other = tmp_path / "notes.ods"
    other.write_bytes(b"x")
    assert "is an OpenDocument file" in open_window(other).state


def test_the_last_folder_is_remembered(open_window: Opener, book: Path, own_settings: Path) -> None:
    open_window(book)
    kept = own_settings / "xlhelpers" / "window.json"
    assert json.loads(kept.read_text(encoding="utf-8")) == {"folder": str(book.parent)}
    hands = open_window()
    assert hands.window.folder == book.parent
    kept.write_text("nonsense", encoding="utf-8")
    assert open_window().window.folder == Path.home()


def test_a_new_job_appears_without_a_line_here(
    open_window: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    kinds = [
        Option("book", "workbook", "Workbook", "a", required=True, positional=True),
        Option("several", "workbooks", "Several", "b"),
        Option("place", "new folder", "Place", "c", metavar="PLACE"),
        Option("share", "number", "Share", "d", 0.5),
        Option("way", "choice", "Way", "e", choices=("up", "down")),
        Option("deep", "flag", "Deep", "f", False),
        Option("words", "texts", "Words", "g"),
    ]
    job = Job("prune", "Prune trees", "Say what to prune", "nowhere:run", tuple(kinds))
    monkeypatch.setattr(steps, "NAMES", (*steps.NAMES, "prune"))
    load = steps.load_job
    monkeypatch.setattr(steps, "load_job", lambda name: job if name == "prune" else load(name))
    hands = open_window()
    hands.choose("Prune trees")
    assert [field.option for field in hands.form.fields] == kinds
    hands.enter("Workbook", "a.xlsx")
    hands.enter("Words", "oak; ash")
    hands.click(hands.field("Deep").keys_go_to, 8)
    values = hands.form.read()
    assert values | {"place": None} == {
        "book": Path("a.xlsx"),
        "several": [],
        "place": None,
        "share": 0.5,
        "way": None,
        "deep": True,
        "words": ["oak", "ash"],
    }


@pytest.mark.parametrize("what", ["list.winfo_reqwidth", "go.winfo_reqheight"])
def test_sizes_follow_the_scaling_of_the_screen(screen: str, what: str) -> None:
    """In processes of their own: the end of a screen ends whatever was shown on it."""
    code = (
        "import tkinter\nfrom xlhelpers.doors.window.main_window import MainWindow\n"
        f"window = MainWindow(tkinter.Tk(), [])\nwindow.root.update()\nprint(window.{what}())"
    )

    def measure(display: str) -> int:
        environment = os.environ | {"DISPLAY": display}
        command = [sys.executable, "-c", code]
        return int(subprocess.run(command, env=environment, capture_output=True).stdout)

    with run_screen(192, "2560x1800") as large:
        assert measure(large) == pytest.approx(2 * measure(screen), rel=0.2)


def test_the_icon_opens_the_window(book: Path, screen: str, tmp_path: Path) -> None:
    """The script behind the icon, with a workbook dropped on it, which the window names."""
    environment = os.environ | {"DISPLAY": screen}
    script = write_launcher(tmp_path, "linux")[0]
    process = subprocess.Popen([script, book], env=environment, start_new_session=True)
    try:
        search = ["xdotool", "search", "--sync", "--name", "^our trees.xlsx .* Tree survey$"]
        found = subprocess.run(search, env=environment, timeout=60, capture_output=True, text=True)
        assert found.stdout.split()
        assert process.poll() is None
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait()


@pytest.mark.slow
def test_the_town_on_top(open_window: Opener, tmp_path: Path) -> None:
    town = tmp_path / "town.xlsx"
    town.write_bytes(filled_town())
    state = open_window(town).state
    assert state.startswith("Filled ")
    assert f"{len(town_outcome().open_findings)} findings open" in state


def test_the_window_itself_loads_nothing_heavy(screen: str) -> None:
    """It is there at once: numbers are the other process's."""
    code = (
        "import sys, tkinter\nfrom xlhelpers.doors.window.main_window import MainWindow\n"
        "MainWindow(tkinter.Tk(), []).root.update()\n"
        "print(*[n for n in ('numpy', 'pandas', 'lxml', 'xlsxwriter') if n in sys.modules])"
    )
    environment = os.environ | {"DISPLAY": screen}
    done = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True)
    assert done.stdout.split() == []
    assert done.returncode == 0, done.stderr


@pytest.mark.slow
def test_a_module_in_the_folder_of_the_survey_is_not_taken_for_ours(
    open_window: Opener, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "numbers.py").write_text("raise SystemExit('the wrong module')\n")
    monkeypatch.chdir(tmp_path)
    assert open_window(book).state == "Not filled yet. 0 findings open."


def test_a_broken_process_is_said(open_window: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody waits for ever in front of a job that has died."""
    from xlhelpers.doors.window import worker

    monkeypatch.setattr(worker, "_CHILD", "xlhelpers.no_such_module")
    hands = open_window()
    hands.choose("New workbook")
    assert hands.run().startswith("The program stopped without a result.")
    assert "no_such_module" in hands.said


def test_while_a_job_runs_the_list_stays_where_it_is(open_window: Opener, tmp_path: Path) -> None:
    town = Path(shutil.copy(TOWN, tmp_path / "town.xlsx"))
    hands = open_window(town)
    hands.choose("List findings")
    hands.click(hands.window.go)
    entry = hands.window.list.selection()
    x, y, wide, high = hands.window.list.bbox(hands.window.entries[0].key)
    hands.click(hands.window.list, x + wide // 4, y + high // 2)
    assert hands.window.job is not None
    assert hands.window.list.selection() == entry
    hands.press("alt+s")
    assert hands.said.startswith("Stopped.")


@pytest.mark.slow
def test_a_missing_libreoffice_is_said_with_the_label_of_the_form(
    open_window: Opener, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    programs = tmp_path / "programs"
    programs.mkdir()
    (programs / "xdotool").symlink_to(str(shutil.which("xdotool")))
    monkeypatch.setenv("PATH", str(programs))
    hands = open_window(book)
    hands.choose("Council report")
    hands.run()
    assert "there is no PDF: “Also as PDF” needs LibreOffice" in hands.said
    assert hands.button("Open our trees_report.xlsx")


def test_without_tkinter_there_is_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    from xlhelpers.doors.window import run as opening
    from xlhelpers.errors import WorkbookError

    monkeypatch.setattr(opening, "find_spec", lambda name: None)
    with pytest.raises(WorkbookError, match="apt install python3-tk"):
        opening.run([], lambda _: None)


def test_without_a_screen_there_is_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    skip_without_screen()
    from xlhelpers.doors.window.run import run
    from xlhelpers.errors import WorkbookError

    monkeypatch.delenv("DISPLAY", raising=False)
    with pytest.raises(WorkbookError, match="there is no screen here"):
        run([], lambda _: None)
