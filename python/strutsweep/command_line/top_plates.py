"""The commands ``reach``, ``slots`` and ``drawing``: what an adjustable strut top sets, its slots, what to cut."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Final, TypeAlias

import typer

from strutsweep import drawings, top_plates
from strutsweep._core import Axle, Corner, TopPlate
from strutsweep.command_line.arguments import (
    OUTPUT_PANEL,
    RANGE_PANEL,
    CarName,
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
from strutsweep.command_line.records import check_plot_path
from strutsweep.errors import InputError

__all__ = ["add_to"]

REACH_EXAMPLES: Final = (
    "strutsweep reach demo:gravel_hatch",
    "strutsweep reach demo:gravel_hatch --ride-height -20 --plot reach.png",
)
SLOTS_EXAMPLES: Final = (
    "strutsweep slots demo:gravel_hatch --camber -3 0 --caster-by -0.5 0.5",
    "strutsweep slots demo:gravel_hatch --camber -2 0 --caster 2 3 --builds 99",
)
DRAWING_EXAMPLES: Final = (
    "strutsweep drawing demo:gravel_hatch --output plate.dxf",
    "strutsweep drawing demo:hillclimb_saloon --side left --output left.pdf",
)


class Toe(StrEnum):
    """What becomes of toe when the top moves."""

    PUT_BACK = "put_back"
    AS_IT_COMES = "as_it_comes"


class Marks(StrEnum):
    """What marks count."""

    DEGREES = "degrees"
    MILLIMETRES = "millimetres"


class FitChoice(StrEnum):
    """Clearance of bolts in slots."""

    FINE = "fine"
    MEDIUM = "medium"
    COARSE = "coarse"


Pair: TypeAlias = tuple[float, float]
_Box: TypeAlias = tuple[Pair, Pair]

ToeChoice: TypeAlias = Annotated[
    Toe, typer.Option("--toe", help="Put back to design by the tie rod, as after any such change, or as it comes.")
]
CamberBox: TypeAlias = Annotated[
    Pair | None,
    typer.Option(
        "--camber",
        metavar="DEG DEG",
        show_default=False,
        rich_help_panel=RANGE_PANEL,
        help="Least and greatest camber.",
    ),
]
CasterBox: TypeAlias = Annotated[
    Pair | None,
    typer.Option(
        "--caster",
        metavar="DEG DEG",
        show_default=False,
        rich_help_panel=RANGE_PANEL,
        help="Least and greatest caster.",
    ),
]
CasterBy: TypeAlias = Annotated[
    Pair | None,
    typer.Option(
        "--caster-by",
        metavar="DEG DEG",
        show_default=False,
        rich_help_panel=RANGE_PANEL,
        help="Or least and greatest change from the caster at design.",
    ),
]
Heights: TypeAlias = Annotated[
    Pair,
    typer.Option(
        "--ride-heights",
        metavar="MM MM",
        rich_help_panel=RANGE_PANEL,
        help="Least and greatest travel at which the car is set; bump positive.",
    ),
]
Tolerance: TypeAlias = Annotated[
    float, typer.Option("--tolerance", metavar="MM", help="How far towers and parts may be off; added to each half.")
]
Seating: TypeAlias = Annotated[
    float, typer.Option("--seating", metavar="MM", help="How far bolts stay from a slot's end; added to each half.")
]
FitOption: TypeAlias = Annotated[
    FitChoice, typer.Option("--fit", help="Clearance of the bolts, for slots of no stated width.")
]


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("reach", help=help_of(reach), epilog=example_text(*REACH_EXAMPLES))(reach)
    app.command("slots", help=help_of(slots), epilog=example_text(*SLOTS_EXAMPLES))(slots)
    app.command("drawing", help=help_of(drawing), epilog=example_text(*DRAWING_EXAMPLES))(drawing)


def plate_of(car: Axle) -> TopPlate:
    """The car's top plate.

    Raises
    ------
    InputError
        The car file has none.
    """
    if car.top_plate is None:
        raise InputError(
            f"{car.name} has no [top_plate] in its car file; demo:gravel_hatch shows one (strutsweep new-car)",
            name="car",
            value=car.name,
        )
    return car.top_plate


def _box(corner: Corner, camber: Pair | None, caster: Pair | None, by: Pair | None) -> _Box | None:
    """The box asked for, if one was."""
    if caster is not None and by is not None:
        raise InputError("give --caster or --caster-by, not both", name="caster", value=caster)
    if by is not None:
        static = corner.solve().caster
        caster = static + by[0], static + by[1]
    if camber is None and caster is None:
        return None
    if camber is None or caster is None:
        raise InputError("a box needs --camber and --caster (or --caster-by)", name="camber", value=camber)
    for name, (least, most) in (("camber", camber), ("caster", caster)):
        if not least < most:
            message = f"--{name} {least:g} {most:g}: the lesser first, and some room between"
            raise InputError(message, name=name, value=(least, most))
    return camber, caster


_ASSUMED_TRAVEL_MM: Final = 80.0


def _moved_over(axle: Axle) -> tuple[Pair, Pair, list[str]]:
    """Travels and rack positions over which clearances are taken, and what of them the car file does not tell."""
    limits, stroke = axle.limits, axle.rack["stroke"]
    assumed = [
        f"{_ASSUMED_TRAVEL_MM:g} mm of {name}: the car file has no limits.{name}"
        for name in ("bump", "droop")
        if limits[name] is None
    ]
    if stroke is None:
        assumed.append("rack held straight: the car file has no rack.stroke")
    bump, droop = limits["bump"], limits["droop"]
    travel = (
        -(_ASSUMED_TRAVEL_MM if droop is None else droop),
        _ASSUMED_TRAVEL_MM if bump is None else bump,
    )
    return travel, (-(stroke or 0.0), stroke or 0.0), assumed


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
    toe: ToeChoice = Toe.PUT_BACK,
    travel_at: TravelAtChoice = TravelAt.GROUND,
    plot: PlotPath = None,
) -> None:
    """What camber and caster can the top plate set, and what does it clear?

    By insert position, at one ride height or several; whether the positions join up; the smallest gaps of nut, insert
    and rod to the tower's opening, and the bearing's largest lean, over the car file's limits of travel and rack. With
    a box, how much of it is out of reach. Angles in deg, lengths in mm; camber is positive with the top of the wheel
    outboard, travel in bump.
    """
    check_plot_path(plot)
    axle = load_car(car)
    plate, corner = plate_of(axle), corner_of(axle, side)
    box = _box(corner, camber, caster, caster_by)
    heights = ride_height or [0.0]
    found = top_plates.reach(corner, plate, ride_height=heights, toe=toe.value, travel_at=travel_at.value)
    printer = Printer()
    typer.echo(str(found))
    if box:
        missing = found.missing(*box)
        (c0, c1), (k0, k1) = box
        share = 100.0 * missing.area / ((c1 - c0) * (k1 - k0))
        typer.echo(f"  of the box, {share:.1f} % is out of reach at some of these ride heights")
    travel, rack, assumed = _moved_over(axle)
    cleared = top_plates.clearances(
        corner,
        plate,
        travel=travel,
        rack=rack,
        ride_height=heights[0],
        toe=toe.value,
        travel_at=travel_at.value,
    )
    typer.echo(str(cleared))
    if len(heights) > 1:
        typer.echo(f"  with the car set at {heights[0]:+g} mm, the first of the ride heights")
    for word in assumed:
        typer.echo(f"  assumed: {word}")
    trim = cleared.trim()
    if not trim.is_empty:
        x0, y0, x1, y1 = trim.bounds
        typer.echo(
            f"  outside the opening: {trim.area:.0f} mm2, inboard {x0:+.1f} to {x1:+.1f}, rearward {y0:+.1f} to"
            f" {y1:+.1f} mm; whether a tower may be cut is for a licensed engineer to say"
        )
    if plot is not None:
        from strutsweep import plots

        given: dict[str, Any] = {"camber": box[0], "caster": box[1]} if box else {}
        save_plot(plots.reach_map(found, **given), plot)
        say(f"wrote {plot}")
    print_cautions(printer)


def slots(
    car: CarName,
    camber: CamberBox = None,
    caster: CasterBox = None,
    caster_by: CasterBy = None,
    ride_heights: Heights = (0.0, 0.0),
    tolerance: Tolerance = 1.0,
    seating: Seating = 0.5,
    fit: FitOption = FitChoice.MEDIUM,
    offset: Annotated[
        float | None,
        typer.Option("--offset", metavar="MM", show_default=False, help="Another offset of the insert's bearing."),
    ] = None,
    builds: Annotated[
        int, typer.Option("--builds", metavar="N", help="Cars to build at random, to see how many reach the box.")
    ] = 0,
    toe: ToeChoice = Toe.PUT_BACK,
    travel_at: TravelAtChoice = TravelAt.GROUND,
    plot: PlotPath = None,
) -> None:
    """How long must the slots be for a box of camber and caster, and where do the marks go?

    The smallest slots that serve left and right at every ride height of the band: half the travel that the box needs,
    plus tolerance, plus seating margin. A grid of 101 by 101 places in the box is tried. Then the marks, true at the
    middle of the band, and by how much each label errs at its ends. Angles in deg, lengths in mm; slides are positive
    inboard (insert) and rearward (plate).
    """
    check_plot_path(plot)
    axle = load_car(car)
    plate = plate_of(axle)
    box = _box(axle.left, camber, caster, caster_by)
    if box is None:
        raise InputError("a box needs --camber and --caster (or --caster-by)", name="camber", value=None)
    if offset is not None:
        plate = plate.replace(insert={"offset": offset})
    both = (axle.left, axle.right)
    told: dict[str, Any] = {"toe": toe.value, "travel_at": travel_at.value}
    plan = top_plates.slots(
        both,
        plate,
        camber=box[0],
        caster=box[1],
        ride_heights=ride_heights,
        tolerance=tolerance,
        seating=seating,
        fit=fit.value,
        **told,
    )
    typer.echo(str(plan))
    least = float(plan.check().slack.min())
    typer.echo(f"  on a grid of 101 by 101 in the box, bolts stay {least:.3f} mm or more from the slots' ends")
    for join in top_plates.joins(plan.top_plate):
        typer.echo(f"  {join}")
    travel, rack, assumed = _moved_over(axle)
    for corner in both:
        for height in sorted(set(ride_heights)):
            cleared = top_plates.clearances(corner, plan.top_plate, travel=travel, rack=rack, ride_height=height, **told)
            typer.echo(f"With the car set at {height:+g} mm, {cleared}")
    for word in assumed:
        typer.echo(f"  assumed: {word}")
    printer = Printer()
    middle = 0.5 * (ride_heights[0] + ride_heights[1])
    ladders: list[tuple[top_plates.Sliding, int]] = [("insert", position) for position in plan.positions]
    for of, position in [*ladders, ("plate", plan.positions[0])]:
        ladder = top_plates.marks(
            both,
            plan.top_plate,
            of=of,
            position=position,
            ride_height=middle,
            also_at=ride_heights,
            **told,
        )
        printer.gap()
        printer.sheet(_mark_sheet(ladder))
    if builds:
        found = top_plates.chance(
            axle.left,
            plan.top_plate,
            camber=box[0],
            caster=box[1],
            ride_heights=ride_heights,
            samples=builds,
            positions=plan.positions,
            **told,
        )
        printer.gap()
        typer.echo(str(found))
    if plot is not None:
        from strutsweep import plots

        heights = sorted({*ride_heights, middle})
        found_reach = top_plates.reach(axle.left, plan.top_plate, ride_height=heights, **told)
        save_plot(plots.reach_map(found_reach, camber=box[0], caster=box[1]), plot)
        say(f"wrote {plot}")
    print_cautions(printer)


def _mark_sheet(ladder: Any) -> Sheet:
    """Marks as a table: label, where it is, what it is worth, its largest error."""
    of, angle = ladder.attrs["of"], ladder.attrs["angle"]
    worst = abs(ladder.error).max(["side", "ride_height"]).values
    where = f", insert position {chr(65 + ladder.attrs['position'])}" if of == "insert" else ""
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


def drawing(
    car: CarName,
    output: Annotated[
        list[Path],
        typer.Option(
            "--output",
            metavar="FILE",
            rich_help_panel=OUTPUT_PANEL,
            help="What to write: .dxf, .svg or .pdf; repeat for more. Each name gets -left, -right without --side.",
        ),
    ],
    side: Annotated[
        Side | None,
        typer.Option(
            "--side", show_default=False, rich_help_panel=OUTPUT_PANEL, help="One side only; both unless given."
        ),
    ] = None,
    camber: CamberBox = None,
    caster: CasterBox = None,
    caster_by: CasterBy = None,
    ride_heights: Heights = (0.0, 0.0),
    tolerance: Tolerance = 1.0,
    seating: Seating = 0.5,
    fit: FitOption = FitChoice.MEDIUM,
    marks: Annotated[Marks, typer.Option("--marks", help="What the marks count.")] = Marks.DEGREES,
    edge: Annotated[float, typer.Option("--edge", metavar="MM", help="Least material around every cut.")] = 10.0,
    toe: ToeChoice = Toe.PUT_BACK,
    force: Annotated[bool, typer.Option("--force", help="Overwrite files that are there.")] = False,
) -> None:
    """What is to be cut? Plate and insert at full size, left and right, for a laser, a printer and a toolmaker.

    With a box of camber and caster, the slots are those that `strutsweep slots` finds; without, those of the car file.
    Layers: cut, engrave, reference. Lengths in mm, marks in deg or mm; slides are positive inboard and rearward. Check
    the drawing and the web between slots before anything is cut.
    """
    for path in output:
        if path.suffix.lower() not in drawings.writers.FORMS:
            raise InputError(f"--output {path}: drawings are .dxf, .svg or .pdf", name="output", value=str(path))
    axle = load_car(car)
    plate = plate_of(axle)
    box = _box(axle.left, camber, caster, caster_by)
    if box:
        plan = top_plates.slots(
            (axle.left, axle.right),
            plate,
            camber=box[0],
            caster=box[1],
            ride_heights=ride_heights,
            tolerance=tolerance,
            seating=seating,
            fit=fit.value,
            toe=toe.value,
        )
        plate = plan.top_plate
        typer.echo(str(plan))
    travel, rack, assumed = _moved_over(axle)
    for word in assumed:
        typer.echo(f"assumed for clearances: {word}")
    sides = list(Side) if side is None else [side]
    targets = {
        one: [path if side is not None else path.with_stem(f"{path.stem}-{one.value}") for path in output]
        for one in sides
    }
    there = [path for paths in targets.values() for path in paths if path.exists()]
    if there and not force:
        raise InputError(f"{there[0]} is there already: --force overwrites it", name="output", value=str(there[0]))
    for one, paths in targets.items():
        sheet = drawings.plate_drawing(
            corner_of(axle, one),
            plate,
            kind=marks.value,
            ride_height=0.5 * (ride_heights[0] + ride_heights[1]),
            toe=toe.value,
            edge=edge,
            note=axle.note or "",
            travel=travel,
            rack=rack,
        )
        typer.echo(f"{sheet.title}: least web between cuts {sheet.web:.2f} mm")
        for warning in sheet.warnings:
            say(f"look: {warning}")
        for path in paths:
            drawings.save(sheet, path)
            say(f"wrote {path}")
    print_cautions(Printer())
