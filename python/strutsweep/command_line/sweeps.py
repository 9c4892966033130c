"""The commands ``bump``, ``rack`` and ``map``: one corner over travel, over the rack, or over top-mount positions."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt
import typer
import xarray as xr

from strutsweep._core import Axle, Corner
from strutsweep.command_line import notes
from strutsweep.command_line.arguments import (
    CarName,
    Format,
    FormatChoice,
    OutputPath,
    PlotPath,
    RackValue,
    ReadingNames,
    RollValue,
    Side,
    SideChoice,
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
from strutsweep.command_line.layout import Column, Printer, Sheet, input_cells, reading_cells, table_unit
from strutsweep.command_line.ranges import Range, beyond, check_size, limits_of, range_option
from strutsweep.command_line.records import wording
from strutsweep.sweeping import sweep
from strutsweep.words import READINGS, attributes

__all__ = ["BUMP_READINGS", "MAP_READINGS", "RACK_READINGS", "add_to"]

BUMP_READINGS: Final = (
    "camber",
    "toe",
    "caster",
    "camber_gain",
    "bump_steer",
    "half_track",
    "motion_ratio",
    "roll_centre_height",
)
RACK_READINGS: Final = (
    "toe",
    "camber",
    "caster",
    "kingpin_inclination",
    "scrub_radius",
    "mechanical_trail",
    "half_track",
    "tie_rod_margin",
)
MAP_READINGS: Final = ("camber", "caster", "kingpin_inclination", "toe", "scrub_radius", "mechanical_trail")

# A curve of this many points looks smooth on paper; poses are cheap.
PLOT_POINTS: Final = 121
MAP_PLOT_POINTS: Final = 61

BUMP_EXAMPLES: Final = (
    "strutsweep bump demo:gravel_hatch",
    "strutsweep bump demo:gravel_hatch --mount-in 10 --from -40 --to 40 --step 5",
    "strutsweep bump demo:hillclimb_saloon --reading toe --format csv",
)
RACK_EXAMPLES: Final = (
    "strutsweep rack demo:gravel_hatch",
    "strutsweep rack demo:gravel_hatch --side right --travel 30 --steps 12",
    "strutsweep rack demo:hillclimb_saloon --reading camber --format json",
)
MAP_EXAMPLES: Final = (
    "strutsweep map demo:gravel_hatch",
    "strutsweep map demo:hillclimb_saloon --reading camber --in-step 2.5",
    "strutsweep map demo:gravel_hatch --in-from 0 --back-from 0 --format csv",
)

Bound: TypeAlias = float | None
Start: TypeAlias = Annotated[Bound, range_option("--from", "MM", "First value; the car's limit unless given.")]
Stop: TypeAlias = Annotated[Bound, range_option("--to", "MM", "Last value; the car's limit unless given.")]
Step: TypeAlias = Annotated[Bound, range_option("--step", "MM", "Distance of neighbours; 10 mm unless given.")]
Steps: TypeAlias = Annotated[int | None, range_option("--steps", "N", "Or the number of equal steps, both ends met.")]


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("bump", help=help_of(bump), epilog=example_text(*BUMP_EXAMPLES))(bump)
    app.command("rack", help=help_of(rack), epilog=example_text(*RACK_EXAMPLES))(rack)
    app.command("map", help=help_of(map_mount), epilog=example_text(*MAP_EXAMPLES))(map_mount)


@takes_settings()
def bump(
    car: CarName,
    start: Start = None,
    stop: Stop = None,
    step: Step = None,
    steps: Steps = None,
    side: SideChoice = Side.LEFT,
    reading: ReadingNames = None,
    format: FormatChoice = None,
    output: OutputPath = None,
    plot: PlotPath = None,
    *,
    settings: dict[str, float],
    rack: RackValue = 0.0,
    roll: RollValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """What do camber, toe and the rest do as the wheel goes up and down?

    Readings of one corner from full droop (negative travel, mm) to full bump (positive). Angles in deg, lengths in mm,
    rates in deg/m of wheel travel (deg/mm in data). The range is that of the car file's limits.
    """
    check_paths(output, plot)
    axle = load_car(car)
    travels = Range("travel", *limits_of(axle, "travel"), start, stop, step, steps, usual_step=10.0)
    held = {"rack": rack, "roll": roll, "travel_at": travel_at.value, **settings}
    _sweep_one(axle, side, travels, held, reading_names(reading, BUMP_READINGS), format, output, plot)


@takes_settings()
def rack(
    car: CarName,
    start: Start = None,
    stop: Stop = None,
    step: Step = None,
    steps: Steps = None,
    side: SideChoice = Side.LEFT,
    reading: ReadingNames = None,
    format: FormatChoice = None,
    output: OutputPath = None,
    plot: PlotPath = None,
    *,
    settings: dict[str, float],
    travel: TravelValue = 0.0,
    roll: RollValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """What do toe, camber and the rest do as the steering is turned?

    Readings of one corner from stop to stop of the rack. A positive rack displacement, in mm, is toward the left of the
    car, on either corner: whether that turns left or right depends on which side of the axle the rack lies, and the
    sign of toe tells. Angles in deg, lengths in mm. The range is the car file's rack.stroke to either side.
    """
    check_paths(output, plot)
    axle = load_car(car)
    racks = Range("rack", *limits_of(axle, "rack"), start, stop, step, steps, usual_step=10.0)
    held = {"travel": travel, "roll": roll, "travel_at": travel_at.value, **settings}
    _sweep_one(axle, side, racks, held, reading_names(reading, RACK_READINGS), format, output, plot)


@takes_settings(but=("mount_in", "mount_back"))
def map_mount(
    car: CarName,
    in_from: Annotated[Bound, range_option("--in-from", "MM", "Furthest outboard, usually negative.")] = None,
    in_to: Annotated[Bound, range_option("--in-to", "MM", "Furthest toward the centre line.")] = None,
    in_step: Annotated[Bound, range_option("--in-step", "MM", "Distance of neighbours; 10 mm unless given.")] = None,
    in_steps: Annotated[int | None, range_option("--in-steps", "N", "Or the number of equal steps.")] = None,
    back_from: Annotated[Bound, range_option("--back-from", "MM", "Furthest forward, usually negative.")] = None,
    back_to: Annotated[Bound, range_option("--back-to", "MM", "Furthest rearward.")] = None,
    back_step: Annotated[Bound, range_option("--back-step", "MM", "Distance of neighbours; 5 mm unless given.")] = None,
    back_steps: Annotated[int | None, range_option("--back-steps", "N", "Or the number of equal steps.")] = None,
    side: SideChoice = Side.LEFT,
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
    """What does moving the strut's top mount change?

    Readings of one corner over positions of the top mount. Across the table is mount-in: mm toward the car's centre
    line; down is mount-back: mm rearward. Angles in deg, lengths in mm, each with its positive way. The range is the
    car file's limits.mount_in and limits.mount_back to either side. The tie rod keeps its length, so toe moves too.
    """
    check_paths(output, plot)
    axle = load_car(car)
    across = Range("mount_in", *limits_of(axle, "mount_in"), in_from, in_to, in_step, in_steps, usual_step=10.0)
    back = Range(
        "mount_back", *limits_of(axle, "mount_back"), back_from, back_to, back_step, back_steps, usual_step=5.0
    )
    check_size(float(across.values().size * back.values().size))
    held: dict[str, Any] = {"travel": travel, "rack": rack, "roll": roll, "travel_at": travel_at.value, **settings}
    names = reading_names(reading, MAP_READINGS)
    corner = corner_of(axle, side)
    dataset = sweep(corner, mount_in=across.values(), mount_back=back.values(), readings=names, **held)

    def print_table(printer: Printer) -> None:
        _print_maps(printer, dataset, names)
        if "toe" in names:
            printer.notes(
                "Toe is what comes with the tie rod left alone; setting toe back changes camber once more, a little."
            )
        printer.notes(
            notes.held(dataset),
            *notes.out_of_reach(dataset),
            *notes.no_such_point(dataset),
            *across.assumed(),
            *back.assumed(),
            *across.beyond(),
            *back.beyond(),
            *beyond(axle, {"travel": travel, "rack": rack}),
        )

    def draw() -> Any:
        from strutsweep import plots

        grid: dict[str, Any] = {"mount_in": across.finer(MAP_PLOT_POINTS), "mount_back": back.finer(MAP_PLOT_POINTS)}
        return plots.mount_map(sweep(corner, readings=names, **grid, **held), readings=names)

    deliver(dataset, format=format, output=output, plot=plot, print_table=print_table, draw=draw)


def _sweep_one(
    car: Axle,
    side: Side,
    wanted: Range,
    held: dict[str, Any],
    names: list[str],
    format: Format | None,
    output: Path | None,
    plot: Path | None,
) -> None:
    """Sweep one input of one corner and hand over the result."""
    corner = corner_of(car, side)
    dataset = _over(corner, wanted.name, wanted.values(), held, names)

    def print_table(printer: Printer) -> None:
        printer.sheet(_against(dataset, wanted.name, names))
        printer.listing("A positive number means", notes.signs([wanted.name, *names]))
        printer.gap()
        printer.notes(
            notes.held(dataset),
            *notes.out_of_reach(dataset),
            *notes.no_such_point(dataset),
            *wanted.assumed(),
            *wanted.beyond(),
            *beyond(car, {name: value for name, value in held.items() if isinstance(value, float)}),
        )

    def draw() -> Any:
        from strutsweep import plots

        smooth = _over(corner, wanted.name, wanted.finer(PLOT_POINTS), held, names)
        against = plots.against_travel if wanted.name == "travel" else plots.against_rack
        return against(smooth, readings=names)

    deliver(dataset, format=format, output=output, plot=plot, print_table=print_table, draw=draw)


def _over(
    corner: Corner, name: str, values: npt.NDArray[np.float64], held: dict[str, Any], names: list[str]
) -> xr.Dataset:
    inputs: dict[str, Any] = {name: values, **held}
    return sweep(corner, readings=names, **inputs)


def _heading(name: str, unit: str) -> list[str]:
    return [*name.split("_"), table_unit(unit)]


def _against(dataset: xr.Dataset, swept: str, names: Sequence[str]) -> Sheet:
    """A table of readings below the values of one input."""
    words = wording(dataset).values.tolist()
    return Sheet(
        title=f"{dataset.attrs['title']}: readings against {attributes(swept)['long_name']}",
        key=Column(_heading(swept, attributes(swept)["units"]), input_cells(dataset[swept].values)),
        columns=[
            Column(
                _heading(name, READINGS[name]["units"]), reading_cells(dataset[name].values, READINGS[name]["units"])
            )
            for name in names
        ],
        instead={
            row: f"out of reach: the {notes.part(word)} runs out"
            for row, (word, status) in enumerate(zip(words, dataset.status.values, strict=True))
            if status
        },
    )


def _print_maps(printer: Printer, dataset: xr.Dataset, names: Sequence[str]) -> None:
    """A table for each reading: the top mount inboard across, rearward down."""
    words = wording(dataset).values
    printer.heading(f"{dataset.attrs['title']}: readings over positions of the top mount")
    printer.notes("Across: mount-in, mm toward the car's centre line. Down: mount-back, mm rearward.")
    printer.gap()
    for name in names:
        unit = READINGS[name]["units"]
        array = dataset[name].transpose("mount_in", "mount_back")
        columns = [
            Column(
                [place],
                [
                    notes.part(word) if status else cell
                    for cell, word, status in zip(
                        reading_cells(array.values[i], unit), words[i], dataset.status.values[i], strict=True
                    )
                ],
            )
            for i, place in enumerate(input_cells(dataset.mount_in.values))
        ]
        title = f"{notes.shown_name(name)}, {table_unit(unit)} ({notes.positive_way(name)})"
        printer.sheet(Sheet(title, Column(["back \\ in"], input_cells(dataset.mount_back.values)), columns))
