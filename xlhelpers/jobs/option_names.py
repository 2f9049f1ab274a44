"""How the texts of jobs name an option, and how a door says it.

In every text of a job an option has one form: its name on the command line, such as --out. A door
that shows a form puts the label of the field in its place.
"""

import re
from collections.abc import Iterable

from xlhelpers.jobs.job import Option

OPTION_NAME = re.compile(r"(?<![\w/\\.-])--[a-z][a-z-]*[a-z]")


def name_by_labels(text: str, options: Iterable[Option]) -> str:
    """Return a text of a job with “Save as” in place of --out, for doors that show a form.

    Parameters
    ----------
    text : str
        A sentence of the job, or the help of one of its options.
    options : iterable of Option
        The options of the job; names of others stay as they are.
    """
    labels = {option.on_command_line: f"“{option.label}”" for option in options}
    return OPTION_NAME.sub(lambda match: labels.get(match[0], match[0]), text)
