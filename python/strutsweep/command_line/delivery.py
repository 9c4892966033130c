"""The way out of every command: table, data or file, plot, cautions, and whether anything was reached at all."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import xarray as xr

from strutsweep.command_line.arguments import Format
from strutsweep.command_line.endings import NothingReached, say
from strutsweep.command_line.layout import Printer
from strutsweep.command_line.notes import CAUTIONS, CAUTIONS_TITLE, out_of_reach, reasons
from strutsweep.command_line.records import check_output_path, check_plot_path, csv_text, json_text, write, writing
from strutsweep.words import SETTINGS

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["check_paths", "deliver", "print_cautions", "save_plot"]


def check_paths(output: Path | None, plot: Path | None) -> None:
    """Refuse files that cannot be written before anything is computed for them."""
    check_output_path(output)
    check_plot_path(plot)


def deliver(
    dataset: xr.Dataset,
    *,
    format: Format | None,
    output: Path | None,
    plot: Path | None,
    print_table: Callable[[Printer], None],
    draw: Callable[[], Figure],
) -> None:
    """Hand over a dataset in every form that was asked for.

    Raises
    ------
    NothingReached
        At the end, if every pose is out of reach.
    """
    reached = bool((dataset.status.values == 0).any())
    if output is not None:
        write(dataset, output)
        say(f"wrote {output}: {dataset.status.size} pose{'s' if dataset.status.size > 1 else ''}")
    if plot is not None and reached:
        save_plot(draw(), plot)
        say(f"wrote {plot}")
    shown = format or (Format.TABLE if output is None else None)
    if shown is Format.TABLE:
        print_table(Printer())
    elif shown is not None:
        sys.stdout.write(csv_text(dataset) if shown is Format.CSV else json_text(dataset))
    if shown is not Format.TABLE and reached:
        for note in out_of_reach(dataset):
            say(note)
    if reached and any(name in dataset.coords and bool((dataset[name] != 0.0).any()) for name in SETTINGS):
        print_cautions(Printer() if shown is Format.TABLE else Printer(sys.stderr))
    if not reached:
        raise NothingReached(reasons(dataset))


def print_cautions(printer: Printer) -> None:
    """The cautions, under a table or beside data."""
    printer.gap()
    printer.heading(CAUTIONS_TITLE)
    printer.notes(*CAUTIONS)


def save_plot(figure: Figure, path: Path) -> None:
    """Write a figure in the form that the file's name asks for."""
    from strutsweep import plots

    writing(path, lambda: plots.save(figure, path))
