"""The command ``static``: every gauge at one pose, left and right."""

from __future__ import annotations

from typing import Annotated, Any, Final

import typer
import xarray as xr

from strutsweep._core import Axle
from strutsweep.command_line import notes
from strutsweep.command_line.arguments import (
    OUTPUT_PANEL,
    CarName,
    FormatChoice,
    OutputPath,
    PlotPath,
    RackValue,
    ReadingNames,
    RollValue,
    Side,
    TravelAt,
    TravelAtChoice,
    TravelValue,
    corner_of,
    example_text,
    help_of,
    load_car,
    reading_names,
    takes_settings,
)
from strutsweep.command_line.delivery import check_paths, deliver
from strutsweep.command_line.layout import Column, Printer, Sheet, reading_cells, table_unit
from strutsweep.command_line.ranges import beyond
from strutsweep.sweeping import sweep
from strutsweep.words import READINGS

__all__ = ["add_to", "print_static", "static_dataset"]

EXAMPLES: Final = (
    "strutsweep static demo:gravel_hatch",
    "strutsweep static demo:hillclimb_saloon --mount-in 10 --travel-at strut",
    "strutsweep static demo:gravel_hatch --rack 30 --reading toe --format json",
)


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command("static", help=help_of(static), epilog=example_text(*EXAMPLES))(static)


@takes_settings()
def static(
    car: CarName,
    side: Annotated[
        Side | None,
        typer.Option(
            "--side", show_default=False, rich_help_panel=OUTPUT_PANEL, help="One corner only; both unless given."
        ),
    ] = None,
    reading: ReadingNames = None,
    format: FormatChoice = None,
    output: OutputPath = None,
    plot: PlotPath = None,
    *,
    settings: dict[str, float],
    travel: TravelValue = 0.0,
    rack: RackValue = 0.0,
    roll: RollValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """What do the gauges show when the car stands still?

    Every reading, left and right, at design height; and what a setting, a travel, a rack displacement or a
    roll of the body changes in it.
    Angles in deg, lengths in mm, rates in deg/m (deg/mm in data). --plot draws one corner in three views:
    the left one, or that of --side.
    """
    check_paths(output, plot)
    axle = load_car(car)
    inputs: dict[str, Any] = {"travel": travel, "rack": rack, "roll": roll, **settings}
    names = reading_names(reading, list(READINGS))
    sides = list(Side) if side is None else [side]
    now = static_dataset(axle, sides, names, travel_at=travel_at.value, **inputs)
    drawn = static_dataset(axle, sides, names, travel_at=travel_at.value)

    def print_table(printer: Printer) -> None:
        print_static(printer, axle, now, drawn)
        printer.notes(*beyond(axle, inputs))

    def draw() -> Any:
        from strutsweep import plots

        reached = [side for side in sides if int(now.status.sel(side=side.value)) == 0]
        corner = corner_of(axle, reached[0])
        return plots.three_views(corner, travel_at=travel_at.value, **inputs)

    deliver(now, format=format, output=output, plot=plot, print_table=print_table, draw=draw)


def static_dataset(car: Axle, sides: list[Side], names: list[str], **inputs: Any) -> xr.Dataset:
    """Readings of some corners at one pose, along a dimension ``side``."""
    poses = [sweep(corner_of(car, side), readings=names, **inputs) for side in sides]
    joined = xr.concat(
        poses,
        dim=xr.DataArray([side.value for side in sides], dims="side", name="side"),
        data_vars="all",
        coords="minimal",
        compat="override",
        combine_attrs="drop_conflicts",
    )
    return joined.assign_attrs(title=car.name)


def print_static(printer: Printer, car: Axle, now: xr.Dataset, drawn: xr.Dataset) -> None:
    """Print readings of one or two corners; beside them as they were drawn, where they are not that."""
    sides = [str(side) for side in now.side.values]
    reached = [side for side in sides if int(now.status.sel(side=side)) == 0]
    alike = len(reached) == 2 and _alike(now)
    names = [str(name) for name in now.data_vars if name != "status"]
    if any(float(now[name]) != float(drawn[name]) for name in now.coords if now[name].ndim == 0):
        # What a spanner changed is the question then: one corner beside itself, not beside the other.
        for side in reached[:1] if alike else reached:
            title = f"{car.name}, left and right alike" if alike else f"{car.name}, {side} corner"
            printer.sheet(_changes(title, names, now.sel(side=side), drawn.sel(side=side)))
    elif alike or len(reached) == 1:
        title = f"{car.name}, left and right alike" if alike else f"{car.name}, {reached[0]} corner"
        printer.sheet(_values(title, names, now.sel(side=reached[0])))
    elif reached:
        printer.sheet(_difference(car.name, names, now))
    if not reached:
        return
    printer.notes(notes.held(now), *notes.out_of_reach(now), *notes.no_such_point(now))


def _alike(dataset: xr.Dataset) -> bool:
    """Whether the two corners read the same in every digit that a table shows."""
    return all(
        len(set(reading_cells(array.values, array.attrs["units"]))) == 1
        for name, array in dataset.data_vars.items()
        if name != "status"
    )


def _names(names: list[str]) -> Column:
    return Column(["reading"], [notes.shown_name(name) for name in names], words=True)


def _units(names: list[str]) -> Column:
    return Column(["unit"], [table_unit(READINGS[name]["units"]) for name in names], words=True)


def _signs(names: list[str]) -> Column:
    return Column(["positive when"], [READINGS[name]["positive"] for name in names], words=True)


def _cells(heading: list[str], names: list[str], values: list[float]) -> Column:
    cells = [reading_cells([value], READINGS[name]["units"])[0] for name, value in zip(names, values, strict=True)]
    return Column(heading, _aligned(cells))


def _aligned(cells: list[str]) -> list[str]:
    """Cells of unlike decimals, filled up on the right so that the points stand below each other."""
    tails = [len(cell.partition(".")[2]) for cell in cells]
    most = max(tails, default=0)
    return [cell + " " * (most - tail) for cell, tail in zip(cells, tails, strict=True)]


def _values(title: str, names: list[str], pose: xr.Dataset) -> Sheet:
    values = _cells(["value"], names, [float(pose[name]) for name in names])
    return Sheet(title, _names(names), [values, _units(names), _signs(names)])


def _difference(title: str, names: list[str], both: xr.Dataset) -> Sheet:
    sides = {side: [float(both[name].sel(side=side)) for name in names] for side in ("left", "right")}
    difference = [left - right for left, right in zip(sides["left"], sides["right"], strict=True)]
    columns = [_cells([side], names, values) for side, values in sides.items()]
    return Sheet(
        title, _names(names), [*columns, _cells(["left", "- right"], names, difference), _units(names), _signs(names)]
    )


def _changes(title: str, names: list[str], now: xr.Dataset, drawn: xr.Dataset) -> Sheet:
    before = [float(drawn[name]) for name in names]
    after = [float(now[name]) for name in names]
    change = [new - old for new, old in zip(after, before, strict=True)]
    return Sheet(
        title,
        _names(names),
        [
            _cells(["as", "drawn"], names, before),
            _cells(["now"], names, after),
            _cells(["change"], names, change),
            _units(names),
            _signs(names),
        ],
    )
