"""Tidy tables as CSV texts and as a data dictionary: a Data Package with Table Schemas.

The open standard is that of the Frictionless Data project: a file datapackage.json that describes
each CSV file, its columns, their types, units, limits and keys.
"""

import csv
import hashlib
import io
import math
import re
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.export import words
from xlhelpers.jobs.export.records import TidyColumn, TidyTable

# what a spreadsheet may take for a formula at the start of a text; the apostrophe itself is
# doubled so that taking one away always gives the text as it was
_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "'", "＝", "＋", "－", "＠")
_PLAIN_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")


def neutral(text: str) -> str:
    """Return a text that no spreadsheet runs as a formula; plain numbers stay as they are."""
    if text.lstrip(" \N{NO-BREAK SPACE}").startswith(_RISKY) and not _PLAIN_NUMBER.fullmatch(text):
        return "'" + text
    return text


def _text(value: Any) -> str:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return neutral(str(value).replace("\x00", ""))


def _stems(text: str, units: Units) -> str:
    if units == "metric" or not text:
        return text
    return " ".join(f"{float(part) / 2.54:.10g}" for part in text.split())


def column_texts(column: TidyColumn, values: pd.Series, units: Units) -> list[str]:
    """Return one column as the texts of its CSV cells, in the units shown; "" for a blank."""
    if column.kind in {"number", "integer"}:
        numbers = pd.to_numeric(values).to_numpy(float) / column.factor(units)
        return ["" if not np.isfinite(n) else f"{n:.10g}" for n in numbers.tolist()]
    if column.kind == "boolean":
        return ["true" if flag else "false" for flag in values.tolist()]
    if column.kind == "date":
        return ["" if pd.isna(day) else f"{day:%Y-%m-%d}" for day in pd.to_datetime(values)]
    if column.name == "other_stems":
        return [_stems(str(text), units) for text in values]
    return [_text(value) for value in values.tolist()]


def csv_bytes(table: TidyTable, units: Units) -> bytes:
    """Return a table as a CSV file: UTF-8, commas, headings in the first row (RFC 4180)."""
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\r\n")
    writer.writerow([column.name for column in table.columns])
    columns = [column_texts(c, table.rows[c.name], units) for c in table.columns]
    writer.writerows(zip(*columns, strict=True))
    return target.getvalue().encode("utf-8")


def _field(column: TidyColumn, units: Units, key: str) -> dict[str, Any]:
    quantity, unit = column.quantity, column.unit(units)
    text = column.help
    if quantity == "reading":
        text += f" {words.IN_UNIT_OF_SCALE}"
    if column.name == "other_stems":
        text += words.name_stem_units(units)
    entry: dict[str, Any] = {
        "name": column.name,
        "type": column.kind,
        "title": column.label,
        "description": text if column.kind != "string" else f"{text} {words.MAY_BE_NEUTRALIZED}",
    }
    if unit:
        entry["unit"] = unit
    constraints: dict[str, Any] = {}
    if column.required or column.name == key:
        constraints |= {"required": True, "unique": column.name == key}
    if column.choices:
        constraints["enum"] = list(column.choices)
    for name, limit, away in (("minimum", column.low, -1), ("maximum", column.high, 1)):
        if limit is not None:
            constraints[name] = _outward(limit / column.factor(units), away, column.kind)
    if constraints:
        entry["constraints"] = constraints
    return entry


def _outward(limit: float, away: int, kind: str) -> float:
    """Return a limit a little farther out, so that rounding of the last digit never breaks it."""
    if kind == "integer":
        return int(limit)
    return float(f"{limit + away * abs(limit) * 1e-9:.12g}")


def _resource(table: TidyTable, data: bytes, units: Units) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "fields": [_field(column, units, table.key) for column in table.columns],
        "missingValues": [""],
        "primaryKey": [table.key],
    }
    if table.links:
        schema["foreignKeys"] = [
            {"fields": [name], "reference": {"resource": other, "fields": [name]}}
            for name, other in table.links
        ]
    return {
        "name": table.name,
        "path": f"{table.name}.csv",
        "profile": "tabular-data-resource",
        "title": table.title,
        "description": table.purpose,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
        "dialect": {
            "delimiter": ",",
            "lineTerminator": "\r\n",
            "quoteChar": '"',
            "doubleQuote": True,
            "header": True,
        },
        "schema": schema,
    }


def data_package(
    tables: Sequence[TidyTable], files: Sequence[bytes], units: Units, facts: dict[str, str]
) -> dict[str, Any]:
    """Return the data dictionary.

    Parameters
    ----------
    tables, files
        The tables, and each as its CSV file.
    units
        Units of the numbers.
    facts
        `title`, `created` (RFC 3339) and `version` (of the program).
    """
    return {
        "profile": "tabular-data-package",
        "name": "tree-survey",
        "title": facts["title"],
        "description": words.describe_package(units),
        "created": facts["created"],
        "version": "1.0.0",
        "contributors": [{"title": f"xlhelpers {facts['version']}", "role": "wrangler"}],
        "resources": [
            _resource(table, data, units) for table, data in zip(tables, files, strict=True)
        ],
    }
