"""The command ``readings``: what every number is."""

from __future__ import annotations

import csv
import json
import sys
from typing import Annotated, Any, Final

import typer

from strutsweep.command_line.arguments import Format, FormatChoice, example_text, help_of, reading_names
from strutsweep.command_line.layout import Printer, table_unit
from strutsweep.command_line.notes import shown_name
from strutsweep.errors import InputError
from strutsweep.words import READINGS

__all__ = ["add_to"]

EXAMPLES: Final = (
    "strutsweep readings",
    "strutsweep readings scrub_radius mechanical_trail",
    "strutsweep readings --format csv",
)


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command("readings", help=help_of(readings), epilog=example_text(*EXAMPLES))(readings)


def readings(
    names: Annotated[
        list[str] | None, typer.Argument(metavar="[NAME]...", show_default=False, help="Only these; all unless given.")
    ] = None,
    format: FormatChoice = None,
) -> None:
    """What is each reading, in which unit, and which way is positive?

    The names are those that --reading takes and that data files carry. Units are deg and mm; rates are deg/mm in data
    and deg/m in tables.
    """
    wanted = reading_names(names, list(READINGS))
    for name in wanted:
        if name not in READINGS:
            raise InputError(
                f"there is no reading {name!r}; there are {', '.join(READINGS)}", name="reading", value=name
            )
    words: dict[str, dict[str, Any]] = {name: READINGS[name] for name in wanted}
    if format is Format.JSON:
        sys.stdout.write(json.dumps(words, indent=1) + "\n")
    elif format is Format.CSV:
        keys = ("long_name", "units", "positive", "definition")
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(["name", *keys])
        writer.writerows([name, *(entry[key] for key in keys)] for name, entry in words.items())
    else:
        _print_readings(Printer(), words)


def _print_readings(printer: Printer, words: dict[str, dict[str, Any]]) -> None:
    for name, entry in words.items():
        unit = entry["units"]
        shown = f"{unit}, in tables {table_unit(unit)}" if table_unit(unit) != unit else unit
        details = {"unit": "none" if unit == "1" else shown, "positive": entry["positive"], "is": entry["definition"]}
        if entry["long_name"] != shown_name(name):
            details = {"in words": entry["long_name"], **details}
        printer.listing(name, details)
        printer.gap()
