"""The time that is written into results."""

import os
from datetime import UTC, datetime


def now() -> datetime:
    """Return the time of this run, or that of SOURCE_DATE_EPOCH where it is set."""
    fixed = os.environ.get("SOURCE_DATE_EPOCH", "")
    if fixed.isdigit():
        return datetime.fromtimestamp(int(fixed), UTC)
    return datetime.now().astimezone()
