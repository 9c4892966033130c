"""Rows of named values as text: comma-separated, or JSON with what they are about."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from strutsweep.command_line.endings import say
from strutsweep.command_line.records import writing
from strutsweep.errors import InputError

__all__ = ["check_rows_path", "csv_of", "json_of", "write_rows"]

SUFFIXES: Final = (".csv", ".json")


def check_rows_path(path: Path | None) -> None:
    """Refuse a data file of a kind that cannot be written, before anything is computed for it."""
    if path is not None and path.suffix.lower() not in SUFFIXES:
        raise InputError(f"{path}: data can be written as {', '.join(SUFFIXES)}", name="path", value=path.suffix)


def csv_of(rows: Sequence[Mapping[str, Any]]) -> str:
    """Rows as comma-separated values: a header line, then a line for each; a value that is none is an empty cell.

    Examples
    --------
    >>> csv_of([{"slot": "plate", "length_mm": 29.0}, {"slot": "insert", "length_mm": float("nan"), "width_mm": 9}])
    'slot,length_mm,width_mm\\nplate,29.0,\\ninsert,,9\\n'
    """
    heads = dict.fromkeys(key for row in rows for key in row)
    text = io.StringIO()
    writer = csv.DictWriter(text, list(heads), restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows({key: "" if _is_none(value) else _plain(value) for key, value in row.items()} for row in rows)
    return text.getvalue()


def json_of(about: Mapping[str, Any], rows: Sequence[Mapping[str, Any]]) -> str:
    """What rows are about, and the rows, as JSON; a value that is none is null.

    Examples
    --------
    >>> print(json_of({"side": "left"}, [{"gap_mm": float("nan")}]), end="")
    {
      "side": "left",
      "rows": [
        {
          "gap_mm": null
        }
      ]
    }
    """
    return json.dumps(_plain({**about, "rows": list(rows)}), indent=2, allow_nan=False) + "\n"


def write_rows(path: Path, about: Mapping[str, Any], rows: Sequence[Mapping[str, Any]]) -> None:
    """Write rows in the form that the file's name asks for."""
    text = csv_of(rows) if path.suffix.lower() == ".csv" else json_of(about, rows)
    writing(path, lambda: path.write_text(text, encoding="utf-8", newline=""))
    say(f"wrote {path}: {len(rows)} rows")


def _is_none(value: Any) -> bool:
    return value is None or (isinstance(value, (float, np.floating)) and math.isnan(value))


def _plain(value: Any) -> Any:
    """Numbers as Python has them, without a negative zero; what is not finite as nothing."""
    if isinstance(value, Mapping):
        return {str(key): _plain(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(entry) for entry in value]
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value) + 0.0 if math.isfinite(value) else None
    return value
