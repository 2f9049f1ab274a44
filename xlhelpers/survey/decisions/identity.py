"""Who a finding is: a short visible id that lasts, and the fingerprint of what it rests on.

The id comes from the check, the subject and the fields, never from a row number, so sorting,
inserting and filling again leave it alone. The fingerprint comes from the compared readings: the
same id with a new fingerprint is a finding whose decision must be taken again.
"""

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from functools import lru_cache

from xlhelpers.fields.workbook import FORMER_LABELS
from xlhelpers.survey.model import Finding
from xlhelpers.survey.typed.folding import fold

# Without 0 1 2 5 8 and B I L O S U Z, which are taken for one another on paper
LETTERS = "ACDEFGHJKMNPQRTVWXY"
SIGNS = LETTERS + "34679"
ID_LENGTH = 8
FINGERPRINT_LENGTH = 16
_PART, _PIECE = "\x1f", "\x1e"


def finding_id(finding: Finding) -> str:
    """Return the short visible id of a finding.

    Parameters
    ----------
    finding : Finding
        Looked at are `check`, `subject` and `fields`; capitals and spaces of the subject's
        values and the order of the fields do not matter.

    Returns
    -------
    str
        Eight letters and digits, a letter first, so that no spreadsheet takes it for a number.
    """
    return _code(_identity(finding), ID_LENGTH)


def fingerprint(finding: Finding) -> str:
    """Return what changes as soon as a compared reading changes.

    Parameters
    ----------
    finding : Finding
        Looked at is `evidence`.

    Returns
    -------
    str
        Sixteen letters and digits.
    """
    return _code(_PIECE.join(finding.evidence), FINGERPRINT_LENGTH)


def finding_ids(findings: Sequence[Finding]) -> tuple[str, ...]:
    """Return the ids of findings that are shown together, each a different one.

    Two lines with one plot, tree and set-up number have findings of one identity. These are told
    apart by their number in the order of their fingerprints, and the first keeps the plain id.

    Parameters
    ----------
    findings : sequence of Finding
        All findings of a survey.

    Returns
    -------
    tuple of str
        One id a finding, as `finding_id` gives it save for such repeats.
    """
    # asked for by every tab of one fill
    return _ids_of(tuple(findings))


@lru_cache(maxsize=2)
def _ids_of(findings: tuple[Finding, ...]) -> tuple[str, ...]:
    alike: dict[str, list[int]] = defaultdict(list)
    for position, finding in enumerate(findings):
        alike[_identity(finding)].append(position)
    ids = [""] * len(findings)
    for identity, positions in alike.items():
        if len(positions) > 1:
            positions.sort(key=lambda i: (fingerprint(findings[i]), findings[i].message))
        for number, position in enumerate(positions, 1):
            ids[position] = _number_identity(identity, number)
    return tuple(ids)


def ids_of_identity(finding: Finding, count: int) -> tuple[str, ...]:
    """Return the ids that so many findings of this one's identity have among themselves."""
    identity = _identity(finding)
    return tuple(_number_identity(identity, number) for number in range(1, count + 1))


def _number_identity(identity: str, number: int) -> str:
    own = identity if number == 1 else _PART.join((identity, str(number)))
    return _code(own, ID_LENGTH)


def _identity(finding: Finding) -> str:
    subject = _PIECE.join(
        f"{fold(what)}={fold(_name(what, which))}" for what, which in finding.subject
    )
    return _PART.join((finding.check, subject, _PIECE.join(sorted(finding.fields))))


def _name(what: str, which: str) -> str:
    """Return the name, of a column or a rule the first one that it had."""
    return FORMER_LABELS.get(which, which) if what in ("column", "rule") else which


def _code(text: str, length: int) -> str:
    number = int.from_bytes(hashlib.sha256(text.encode("utf-8")).digest(), "big")
    number, first = divmod(number, len(LETTERS))
    signs = [LETTERS[first]]
    for _ in range(length - 1):
        number, sign = divmod(number, len(SIGNS))
        signs.append(SIGNS[sign])
    return "".join(signs)
