"""How commands hand over what was found: tables with notes, records as data, a picture, a car file with moved
points."""

from __future__ import annotations

import csv
import io
import json
import math
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeAlias

import typer
import xarray as xr

from strutsweep._core import Axle, Corner
from strutsweep._printed import Table
from strutsweep.command_line.arguments import OUTPUT_PANEL, Format, Side
from strutsweep.command_line.delivery import print_cautions, save_plot
from strutsweep.command_line.endings import say
from strutsweep.command_line.layout import Column, Printer, Sheet
from strutsweep.command_line.records import check_plot_path, writing
from strutsweep.dimensions import unit_of
from strutsweep.errors import FileError, InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["DataPath", "MendedPath", "check_mended", "check_paths", "deliver", "write_mended"]

DataPath: TypeAlias = Annotated[
    Path | None,
    typer.Option(
        "--output",
        metavar="FILE",
        show_default=False,
        rich_help_panel=OUTPUT_PANEL,
        help="Write the data to a file instead: .csv or .json.",
    ),
]
MendedPath: TypeAlias = Annotated[
    Path | None,
    typer.Option(
        "--mended",
        metavar="FILE",
        show_default=False,
        rich_help_panel=OUTPUT_PANEL,
        help="Write the car with its moved points to a car file.",
    ),
]


def low_and_high(text: str) -> tuple[float | None, float | None] | None:
    """The two ends of ``LOW:HIGH``, None where one is left empty; None for a text that is nothing of the kind.

    Examples
    --------
    >>> from strutsweep.command_line.findings import low_and_high
    >>> low_and_high("5.5:"), low_and_high("-1:1"), low_and_high(":"), low_and_high("1")
    ((5.5, None), (-1.0, 1.0), None, None)
    """
    low, colon, high = (part.strip() for part in text.partition(":"))
    if not colon or not (low or high):
        return None
    try:
        return (float(low) if low else None, float(high) if high else None)
    except ValueError:
        return None


def check_paths(output: Path | None, plot: Path | None) -> None:
    """Refuse endings that data and pictures cannot be written with."""
    check_plot_path(plot)
    if output is not None and output.suffix.lower() not in (".csv", ".json"):
        raise InputError(f"{output}: data can be written as .csv, .json", name="path", value=output.suffix)


def deliver(
    tables: Sequence[Table],
    records: Sequence[Mapping[str, Any]],
    data: xr.Dataset,
    format: Format | None,
    output: Path | None,
    plot: Path | None,
    draw: Callable[[], Figure] | None,
    words: Sequence[str] = (),
    *,
    cautions: bool = False,
) -> None:
    """Hand over what was found in every form that was asked for."""
    if output is not None:
        text = _csv(records) if output.suffix.lower() == ".csv" else _json(records, data)
        writing(output, lambda: output.write_text(text, encoding="utf-8", newline=""))
        say(f"wrote {output}: {len(records)} rows")
    if plot is not None and draw is not None:
        save_plot(draw(), plot)
        say(f"wrote {plot}")
    shown = format or (Format.TABLE if output is None else None)
    if shown is Format.TABLE:
        printer = Printer()
        for table in tables:
            columns = [
                Column([head], [row[place] for row in table.rows], words=not table.is_numeric(place))
                for place, head in enumerate(table.heads)
            ]
            printer.sheet(Sheet(table.title, columns[0], columns[1:]))
            printer.notes(*table.notes)
            if table is not tables[-1]:
                printer.gap()
        if words:
            printer.gap()
            printer.notes(*words)
    elif shown is not None:
        sys.stdout.write(_csv(records) if shown is Format.CSV else _json(records, data))
    if cautions:
        print_cautions(Printer() if shown is Format.TABLE else Printer(sys.stderr))


def _csv(records: Sequence[Mapping[str, Any]]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, list(records[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(
        {key: "" if isinstance(value, float) and math.isnan(value) else value for key, value in record.items()}
        for record in records
    )
    return text.getvalue()


def _json(records: Sequence[Mapping[str, Any]], data: xr.Dataset) -> str:
    rows = [
        {key: None if isinstance(value, float) and not math.isfinite(value) else value for key, value in record.items()}
        for record in records
    ]
    about = {name: value for name, value in data.attrs.items() if isinstance(value, (str, int, float))}
    return json.dumps(about | {"rows": rows}, indent=2, allow_nan=False) + "\n"


def check_mended(path: Path | None, force: bool) -> None:
    """Refuse a car file that is there already, unless it may be overwritten."""
    if path is not None and path.exists() and not force:
        raise FileError(f"{path}: there is such a file; --force overwrites it", path=path, reason="exists")


def write_mended(path: Path, axle: Axle, side: Side, corner: Corner, setting: Mapping[str, float], done: str) -> None:
    """Write the car with one corner moved; a right corner that mirrored the left one goes with it."""
    own_right = None if axle.right == axle.left.mirror() else axle.right
    corners = (corner, own_right) if side is Side.LEFT else (axle.left, corner)
    car_with = axle.with_corners(*corners)
    writing(path, lambda: car_with.save(path))
    say(f"wrote {path}: {axle.name}, {side.value} corner {done}")
    if setting:
        told = ", ".join(f"{name} {value:+.3f} {unit_of(name)}" for name, value in setting.items())
        say(f"a car file holds no settings; {done}: {told}")
