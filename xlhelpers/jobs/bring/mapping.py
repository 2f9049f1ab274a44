"""The mapping file beside a sheet: what its columns are, and the answers, for the next time."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.choices import choice
from xlhelpers.jobs.bring import words
from xlhelpers.jobs.bring.columns import INCHES, Column
from xlhelpers.jobs.bring.headings import fold_text
from xlhelpers.jobs.bring.vocabulary import BY_NAME, role_label
from xlhelpers.survey.typed.folding import fold

_ENDING = "_mapping.json"
_YEARS = re.compile(r"(?:19|20)[0-9]{2}")
Key = tuple[str, int]


@dataclass(frozen=True)
class Answers:
    """What only people can know; "" and None where nobody has said it."""

    units: str = ""
    scale: str = ""
    distance_kind: str = ""
    eye_height: float | None = None

    def or_else(self, other: Answers) -> Answers:
        """Return these answers, with those of another where one is missing."""
        eye = other.eye_height if self.eye_height is None else self.eye_height
        return Answers(
            self.units or other.units,
            self.scale or other.scale,
            self.distance_kind or other.distance_kind,
            eye,
        )


@dataclass(frozen=True)
class MappingFile:
    """What a mapping file says: role by heading, and the answers; `path` is where it was read."""

    roles: dict[Key, str] = field(default_factory=dict)
    answers: Answers = Answers()
    path: Path | None = None


def keys_of(headings: Iterable[str]) -> list[Key]:
    """Return the form in which headings are compared, numbered where two are alike.

    Years are left out, so that next year's sheet has the headings of this one.
    """
    seen: Counter[str] = Counter()
    keys = []
    for heading in headings:
        word = fold_text(_YEARS.sub(" ", heading))
        seen[word] += 1
        keys.append((word, seen[word]))
    return keys


def mapping_place(book: Path) -> Path:
    """Return where the mapping file of a sheet is written."""
    return book.with_name(f"{book.stem}{_ENDING}")


def find_mapping(book: Path, given: Path | None, headings: Sequence[str]) -> MappingFile:
    """Return the mapping file for a sheet, an empty one where there is none.

    Parameters
    ----------
    book : Path
        The sheet.
    given : Path, optional
        A mapping file that somebody named.
    headings : sequence of str
        All its headings. Without a mapping file of its own, the newest one in its folder that
        knows all of them is used.

    Raises
    ------
    WorkbookError
        The file that is named, or the sheet's own, cannot be read or names an unknown field.
    """
    own = mapping_place(book)
    if given is not None or own.is_file():
        return _read(given or own)
    filled = {key for key in keys_of(headings) if key[0]}
    for path in sorted(book.parent.glob(f"*{_ENDING}"), key=_age):
        try:
            mapping = _read(path)
        except WorkbookError:
            continue  # of another program, or damaged: not the sheet's own
        if filled and filled <= set(mapping.roles):
            return mapping
    return MappingFile()


def _age(path: Path) -> tuple[float, str]:
    return -path.stat().st_mtime, path.name


def _read(path: Path) -> MappingFile:
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        columns = [(str(row["heading"]), str(row["field"])) for row in content["columns"]]
        answers = dict(content["answers"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise WorkbookError(words.NO_MAPPING.format(name=path.name)) from error
    keys = keys_of(heading for heading, _ in columns)
    roles = {key: role_named(name) for key, (_, name) in zip(keys, columns, strict=True)}
    unknown = [name for (_, name), key in zip(columns, keys, strict=True) if not roles[key]]
    if unknown:
        raise WorkbookError(words.NO_FIELD.format(where=path.name, field=unknown[0]))
    return MappingFile(roles, _answers(answers, path), path)


def _answers(content: dict[str, Any], path: Path) -> Answers:
    lists = {"units": "units", "scale": "scale", "distance_kind": "distance kind"}
    for name, words_of in lists.items():
        if content.get(name) and content[name] not in choice(words_of):
            raise WorkbookError(words.NO_ANSWER.format(name=path.name, answer=content[name]))
    eye = content.get("eye_height")
    if eye is not None and not isinstance(eye, int | float):
        raise WorkbookError(words.NO_ANSWER.format(name=path.name, answer=eye))
    return Answers(**{name: str(content.get(name) or "") for name in lists}, eye_height=eye)


def role_named(text: str) -> str:
    """Return the role that a name or a label means, "" where it means none."""
    plain = text.removesuffix(INCHES)
    if plain in BY_NAME:
        return text
    labels = {fold(role_label(name)): name for name in BY_NAME}
    return labels.get(fold(text), "")


def write_mapping(path: Path, columns: Iterable[Column], answers: Answers) -> bool:
    """Write the mapping file where it would change, and return whether it was written.

    Raises
    ------
    WorkbookError
        It cannot be written.
    """
    content = {
        "made by": "xlhelpers bring",
        "answers": {
            "units": answers.units,
            "scale": answers.scale,
            "distance_kind": answers.distance_kind,
            "eye_height": answers.eye_height,
        },
        "columns": list(_rows(columns)),
    }
    text = json.dumps(content, indent=1, ensure_ascii=False) + "\n"
    try:
        if path.is_file() and path.read_text(encoding="utf-8") == text:
            return False
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise WorkbookError(words.NOT_SAVED.format(path=path, error=error.strerror)) from error
    return True


def _rows(columns: Iterable[Column]) -> Iterator[dict[str, str]]:
    for column in columns:
        if column.heading.text or column.filled:
            yield {
                "heading": column.heading.text,
                "field": column.role,
                "means": role_label(column.plain_role),
            }
