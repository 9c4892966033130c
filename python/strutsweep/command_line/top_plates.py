"""The commands ``reach`` and ``slots``: what an adjustable strut top sets and clears, how long its slots must be."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer
import xarray as xr

from strutsweep import top_plates
from strutsweep.command_line.arguments import (
    OUTPUT_PANEL,
    RANGE_PANEL,
    CarName,
    Format,
    FormatChoice,
    PlotPath,
    Side,
    SideChoice,
    TravelAt,
    TravelAtChoice,
    corner_of,
    example_text,
    help_of,
    load_car,
)
from strutsweep.command_line.delivery import print_cautions, save_plot
from strutsweep.command_line.endings import say
from strutsweep.command_line.layout import Column, Printer, Sheet
from strutsweep.command_line.plate_options import (
    CamberBox,
    CasterBox,
    CasterBy,
    FitChoice,
    FitOption,
    Heights,
    MovedOver,
    OffsetOption,
    Seating,
    Toe,
    ToeChoice,
    Tolerance,
    box_of,
    check_band,
    check_heights,
    check_number,
    plate_of,
    trim_text,
)
from strutsweep.command_line.records import check_plot_path
from strutsweep.command_line.rows import check_rows_path, csv_of, json_of, write_rows
from strutsweep.errors import InputError
from strutsweep.top_plates.chances import LEAST_SAMPLES
from strutsweep.top_plates.hardware import letter

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["add_to"]

REACH_EXAMPLES: Final = (
    "strutsweep reach demo:gravel_hatch",
    "strutsweep reach demo:gravel_hatch --ride-height -20 --plot reach.png",
    "strutsweep reach demo:hillclimb_saloon --output reach.csv",
)
SLOTS_EXAMPLES: Final = (
    "strutsweep slots demo:gravel_hatch --camber -3 0 --caster-by -0.5 0.5",
    "strutsweep slots demo:hillclimb_saloon --camber -2 0 --caster 5 6 --builds 99",
)

DataPath = Annotated[
    Path | None,
    typer.Option(
        "--output",
        metavar="FILE",
        show_default=False,
        rich_help_panel=OUTPUT_PANEL,
        help="Write the data to a file instead: .csv or .json.",
    ),
]


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("reach", help=help_of(reach), epilog=example_text(*REACH_EXAMPLES))(reach)
    app.command("slots", help=help_of(slots), epilog=example_text(*SLOTS_EXAMPLES))(slots)


def reach(
    car: CarName,
    side: SideChoice = Side.LEFT,
    ride_height: Annotated[
        list[float] | None,
        typer.Option(
            "--ride-height",
            metavar="MM",
            show_default=False,
            rich_help_panel=RANGE_PANEL,
            help="Travel at which the car is set; repeat for more. Design height unless given.",
        ),
    ] = None,
    camber: CamberBox = None,
    caster: CasterBox = None,
    caster_by: CasterBy = None,
    offset: OffsetOption = None,
    toe: ToeChoice = Toe.PUT_BACK,
    travel_at: TravelAtChoice = TravelAt.GROUND,
    format: FormatChoice = None,
    output: DataPath = None,
    plot: PlotPath = None,
) -> None:
    """What camber and caster can the top plate set, and what does it clear?

    By insert position, at one ride height or several; whether the positions join up; the smallest gaps of nut, insert
    and rod to the tower's opening, and the bearing's largest lean, over the car file's limits of travel and rack. With
    a box, how much of it is out of reach. As data: the edges of the reach, once round the slots' ends for each position
    and ride height. Angles in deg, lengths in mm; camber is positive with the top of the wheel outboard, travel in
    bump, slides inboard (insert) and rearward (plate).
    """
    check_plot_path(plot)
    check_rows_path(output)
    heights = ride_height or [0.0]
    check_heights("--ride-height", heights)
    axle = load_car(car)
    plate, corner = plate_of(axle, offset), corner_of(axle, side)
    box = box_of(corner, camber, caster, caster_by)
    found = top_plates.reach(corner, plate, ride_height=heights, toe=toe.value, travel_at=travel_at.value)
    moved = MovedOver.of(axle)
    cleared = moved.clearances(corner, plate, heights[0], toe, travel_at)
    lines = [str(found)]
    about: dict[str, Any] = {**found.edges.attrs, "joins": [_join_record(join) for join in found.joins]}
    if box:
        (c0, c1), (k0, k1) = box
        share = 100.0 * found.missing(*box).area / ((c1 - c0) * (k1 - k0))
        lines.append(f"  of the box, {share:.1f} % is out of reach at some of these ride heights")
        about |= {"box": {"camber_deg": box[0], "caster_deg": box[1], "out_of_reach_percent": share}}
    lines.append(str(cleared))
    if len(heights) > 1:
        lines.append(f"  with the car set at {heights[0]:+g} mm, the first of the ride heights")
    lines += [f"  assumed: {word}" for word in moved.assumed]
    lines += filter(None, [trim_text(cleared)])
    about |= {"clearances": [_clearance_record(cleared, heights[0])], "assumed": list(moved.assumed)}

    def draw() -> Figure:
        from strutsweep import plots

        given: dict[str, Any] = {"camber": box[0], "caster": box[1]} if box else {}
        return plots.reach_map(found, **given)

    _hand_over(about, list(_edge_rows(found)), format, output, plot, draw, lambda printer: _say_lines(lines), [cleared])


def slots(
    car: CarName,
    camber: CamberBox = None,
    caster: CasterBox = None,
    caster_by: CasterBy = None,
    ride_heights: Heights = (0.0, 0.0),
    tolerance: Tolerance = 1.0,
    seating: Seating = 0.5,
    fit: FitOption = FitChoice.MEDIUM,
    offset: OffsetOption = None,
    builds: Annotated[
        int,
        typer.Option(
            "--builds",
            metavar="N",
            help=f"Cars to build at random, to see how many reach the box: 0, or {LEAST_SAMPLES} and more.",
        ),
    ] = 0,
    toe: ToeChoice = Toe.PUT_BACK,
    travel_at: TravelAtChoice = TravelAt.GROUND,
    format: FormatChoice = None,
    output: DataPath = None,
    plot: PlotPath = None,
) -> None:
    """How long must the slots be for a box of camber and caster, and where do the marks go?

    The smallest slots that serve left and right at every ride height of the band: half the travel that the box needs,
    plus tolerance, plus seating margin. A grid of 101 by 101 places in the box is tried. Then what clears the tower's
    opening, and the marks, true at the middle of the band, and by how much each label errs at its ends. As data: a row
    for each slot and each mark. Angles in deg, lengths in mm; slides are positive inboard (insert), rearward (plate).
    """
    check_plot_path(plot)
    check_rows_path(output)
    check_band(ride_heights)
    check_number("--tolerance", tolerance, "mm", 0.0)
    check_number("--seating", seating, "mm", 0.0)
    if builds and builds < LEAST_SAMPLES:
        message = f"--builds = {builds} must be 0, or {LEAST_SAMPLES} or more"
        raise InputError(message, name="builds", value=builds, limit=LEAST_SAMPLES)
    axle = load_car(car)
    plate = plate_of(axle, offset)
    box = box_of(axle.left, camber, caster, caster_by)
    if box is None:
        raise InputError("a box needs --camber and --caster (or --caster-by)", name="camber", value=None)
    both = (axle.left, axle.right)
    told: dict[str, Any] = {"toe": toe.value, "travel_at": travel_at.value}
    band: dict[str, Any] = {"camber": box[0], "caster": box[1], "ride_heights": ride_heights}
    plan = top_plates.slots(both, plate, **band, tolerance=tolerance, seating=seating, fit=fit.value, **told)
    least = float(plan.check().slack.min())
    joins = top_plates.joins(plan.top_plate)
    moved = MovedOver.of(axle)
    cleared = [
        (height, moved.clearances(corner, plan.top_plate, height, toe, travel_at))
        for corner in both
        for height in sorted(set(ride_heights))
    ]
    middle = 0.5 * (ride_heights[0] + ride_heights[1])
    which: list[tuple[top_plates.Sliding, int]] = [("insert", position) for position in plan.positions]
    ladders = [
        top_plates.marks(
            both, plan.top_plate, of=of, position=position, ride_height=middle, also_at=ride_heights, **told
        )
        for of, position in [*which, ("plate", plan.positions[0])]
    ]
    built = (
        top_plates.chance(axle.left, plan.top_plate, **band, samples=builds, positions=plan.positions, **told)
        if builds
        else None
    )
    lines = [str(plan), f"  on a grid of 101 by 101 in the box, bolts stay {least:.3f} mm or more from the slots' ends"]
    lines += [f"  {join}" for join in joins]
    for height, found in cleared:
        lines.append(f"With the car set at {height:+g} mm, {found}")
        lines += filter(None, [trim_text(found)])
    lines += [f"  assumed: {word}" for word in moved.assumed]

    def table(printer: Printer) -> None:
        _say_lines(lines)
        for ladder in ladders:
            printer.gap()
            printer.sheet(_mark_sheet(ladder))
        if built is not None:
            printer.gap()
            typer.echo(str(built))

    def draw() -> Figure:
        from strutsweep import plots

        heights = sorted({*ride_heights, middle})
        found = top_plates.reach(axle.left, plan.top_plate, ride_height=heights, **told)
        return plots.reach_map(found, camber=box[0], caster=box[1])

    about: dict[str, Any] = {
        "title": axle.name,
        "held": plan.held,
        **told,
        "camber_deg": plan.camber,
        "caster_deg": plan.caster,
        "ride_heights_mm": plan.ride_heights,
        "tolerance_mm": plan.tolerance,
        "seating_mm": plan.seating,
        "insert_offset_mm": plan.top_plate.insert["offset"],
        "positions": [letter(position) for position in plan.positions],
        "largest_error_deg": plan.largest_error,
        "least_slack_mm": least,
        "joins": [_join_record(join) for join in joins],
        "clearances": [_clearance_record(found, height) for height, found in cleared],
        "assumed": list(moved.assumed),
    }
    if built is not None:
        about["chance"] = {
            "probability": built.probability,
            "standard_error": built.standard_error,
            "builds": builds,
            "shares": built.shares,
        }
    rows = [*_slot_rows(plan), *(row for ladder in ladders for row in _mark_rows(ladder))]
    _hand_over(about, rows, format, output, plot, draw, table, [found for _, found in cleared])


def _hand_over(
    about: dict[str, Any],
    rows: Sequence[dict[str, Any]],
    format: Format | None,
    output: Path | None,
    plot: Path | None,
    draw: Callable[[], Figure],
    table: Callable[[Printer], None],
    cleared: Sequence[top_plates.Clearances],
) -> None:
    """Hand over what was found in every form that was asked for."""
    if output is not None:
        write_rows(output, about, rows)
    if plot is not None:
        save_plot(draw(), plot)
        say(f"wrote {plot}")
    shown = format or (Format.TABLE if output is None else None)
    if shown is Format.TABLE:
        table(Printer())
    else:
        if shown is not None:
            sys.stdout.write(csv_of(rows) if shown is Format.CSV else json_of(about, rows))
        # Rows do not tell it, and nobody shall cut without knowing.
        for found in cleared:
            for line in str(found).splitlines():
                if "DOES NOT PASS" in line or "TOO FAR" in line:
                    say(f"look: {found.corner.side},{line}")
    print_cautions(Printer() if shown is Format.TABLE else Printer(sys.stderr))


def _say_lines(lines: Iterable[str]) -> None:
    for text in lines:
        typer.echo(text)


def _edge_rows(found: top_plates.Reach) -> Iterable[dict[str, Any]]:
    """The edges of the reach, a row a place."""
    edges = found.edges
    for height in found.ride_heights:
        for position in range(found.top_plate.positions):
            at = edges.sel(ride_height=height).isel(position=position)
            for step in range(edges.sizes["step"]):
                place = at.isel(step=step)
                yield {
                    "side": found.corner.side,
                    "ride_height_mm": height,
                    "position": letter(position),
                    "plate_mm": float(place["plate"]),
                    "insert_mm": float(place["insert"]),
                    "camber_deg": float(place.camber),
                    "caster_deg": float(place.caster),
                    "tie_rod_mm": float(place.tie_rod),
                }


def _slot_rows(plan: top_plates.SlotPlan) -> Iterable[dict[str, Any]]:
    for slot in plan.slots:
        least, most = slot.reach
        yield {
            "what": "slot",
            "of": slot.name,
            "direction_deg": slot.direction,
            "from_mm": least,
            "to_mm": most,
            "needed_half_mm": slot.needed,
            "width_mm": slot.width,
            "length_mm": slot.length,
        }


def _mark_rows(ladder: xr.Dataset) -> Iterable[dict[str, Any]]:
    for label, mark in zip(ladder.label.values, range(ladder.sizes["mark"]), strict=True):
        at = ladder.isel(mark=mark)
        yield {
            "what": "mark",
            "of": ladder.attrs["of"],
            "position": letter(ladder.attrs["position"]) if ladder.attrs["of"] == "insert" else None,
            "label": str(label),
            "angle": ladder.attrs["angle"],
            "slide_mm": float(at.slide),
            "from_zero_mm": float(at.from_zero),
            "worth_deg": float(at.worth),
            "largest_error_deg": float(abs(at.error).max()),
        }


def _join_record(join: top_plates.Join) -> dict[str, Any]:
    return {
        "first": letter(join.first),
        "second": letter(join.second),
        "joined": join.joined,
        "gap_mm": join.gap,
        "travel_mm": join.travel,
        "needed_mm": join.needed,
    }


def _clearance_record(found: top_plates.Clearances, ride_height: float) -> dict[str, Any]:
    trim = found.trim()
    return {
        "side": found.corner.side,
        "ride_height_mm": ride_height,
        "clears": found.clears,
        "gaps_mm": {part: float(found.least.gap.sel(part=part)) for part in top_plates.PARTS},
        "bearing_angle_deg": float(found.bearing.bearing_angle),
        "most_bearing_angle_deg": found.most_bearing_angle,
        "to_trim_mm2": float(trim.area),
        "to_trim_bounds_mm": None if trim.is_empty else list(trim.bounds),
    }


def _mark_sheet(ladder: xr.Dataset) -> Sheet:
    """Marks as a table: label, where it is, its largest error."""
    of, angle = ladder.attrs["of"], ladder.attrs["angle"]
    worst = abs(ladder.error).max(["side", "ride_height"]).values
    where = f", insert position {letter(ladder.attrs['position'])}" if of == "insert" else ""
    return Sheet(
        title=f"Marks for the change of {angle} beside the {of} slot{where}, true at a ride height of"
        f" {ladder.attrs['ride_height']:+g} mm; 0 is the top as measured",
        key=Column([f"{angle} change", "deg"], [str(label) for label in ladder.label.values]),
        columns=[
            Column(["slide", "mm"], [f"{value + 0.0:.2f}" for value in ladder.slide.values]),
            Column(["from zero", "mm"], [f"{value + 0.0:.2f}" for value in ladder.from_zero.values]),
            Column(["errs by up to", "deg"], [f"{value:.3f}" for value in worst]),
        ],
    )
