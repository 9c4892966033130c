"""The command ``strutsweep``: readings of a car file in a terminal, as data and as plots.

Data goes to standard output and nothing else does; messages go to standard error. Exit status 0 is fine, 1 wrong input
in a car file or a value, 2 a command line that cannot be read, 3 nothing asked for can be reached, 130 interrupted.
"""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from strutsweep._core import __version__
from strutsweep.command_line import (
    demonstration,
    drawings,
    how_sure,
    new_car,
    one_pose,
    plans,
    reading_list,
    searches,
    setting_up,
    sweeps,
    top_plates,
    whole_axle,
)
from strutsweep.command_line.arguments import help_of
from strutsweep.command_line.endings import Commands

__all__ = ["app", "main"]

app = typer.Typer(
    cls=Commands,
    name="strutsweep",
    no_args_is_help=True,
    add_completion=False,
    # A traceback, should there ever be one, is for a report: plain, and without the values of every variable.
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["--help", "-h"]},
)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"strutsweep {__version__}")
        raise typer.Exit


def strutsweep(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and end.")
    ] = False,
) -> None:
    """Kinematics of the MacPherson strut, from the hard points in a car file.

    Millimetres and degrees everywhere. X forward, Y left, Z up (ISO 8855). Left and right wheels read alike: a positive
    camber leans the top of either wheel outboard. Which way each reading is positive: strutsweep readings.

    No car file yet? Start with [bold]strutsweep demo[/bold], then [bold]strutsweep new-car[/bold]. Wherever a command
    takes a car file, demo:gravel_hatch or demo:hillclimb_saloon, two invented cars, will do as well.
    """


app.callback(help=help_of(strutsweep))(strutsweep)
for room in (
    demonstration,
    new_car,
    one_pose,
    sweeps,
    plans,
    top_plates,
    drawings,
    whole_axle,
    how_sure,
    searches,
    setting_up,
    reading_list,
):
    room.add_to(app)


def main() -> None:
    """Run the command line."""
    for stream in (sys.stdout, sys.stderr):
        # A car may be called anything, and a terminal may not know its letters: that must not end in a traceback.
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
    app()
