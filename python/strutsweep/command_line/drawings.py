"""The command ``drawing``: plate and insert of an adjustable strut top, at full size."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final

import typer

from strutsweep import drawings, top_plates
from strutsweep.command_line.arguments import (
    OUTPUT_PANEL,
    CarName,
    Side,
    TravelAt,
    TravelAtChoice,
    corner_of,
    example_text,
    help_of,
    load_car,
)
from strutsweep.command_line.delivery import print_cautions
from strutsweep.command_line.endings import say
from strutsweep.command_line.layout import Printer
from strutsweep.command_line.plate_options import (
    CamberBox,
    CasterBox,
    CasterBy,
    FitChoice,
    FitOption,
    Heights,
    Marks,
    MovedOver,
    OffsetOption,
    Seating,
    Toe,
    ToeChoice,
    Tolerance,
    box_of,
    check_band,
    check_number,
    plate_of,
)
from strutsweep.errors import InputError

__all__ = ["add_to"]

DRAWING_EXAMPLES: Final = (
    "strutsweep drawing demo:gravel_hatch --output plate.dxf",
    "strutsweep drawing demo:hillclimb_saloon --side left --output left.pdf",
)


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command("drawing", help=help_of(drawing), epilog=example_text(*DRAWING_EXAMPLES))(drawing)


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
    offset: OffsetOption = None,
    marks: Annotated[Marks, typer.Option("--marks", help="What the marks count.")] = Marks.DEGREES,
    edge: Annotated[float, typer.Option("--edge", metavar="MM", help="Least material around every cut.")] = 10.0,
    toe: ToeChoice = Toe.PUT_BACK,
    travel_at: TravelAtChoice = TravelAt.GROUND,
    force: Annotated[bool, typer.Option("--force", help="Overwrite files that are there.")] = False,
) -> None:
    """What is to be cut? Plate and insert at full size, left and right, for a laser, a printer and a toolmaker.

    With a box of camber and caster, the slots are those that strutsweep slots finds; without, those of the car file.
    Layers: cut, engrave, reference. Lengths in mm, marks in deg or mm; slides are positive inboard and rearward. Check
    the drawing and the web between slots before anything is cut.
    """
    for path in output:
        if path.suffix.lower() not in drawings.writers.FORMS:
            raise InputError(f"--output {path}: drawings are .dxf, .svg or .pdf", name="output", value=str(path))
    check_band(ride_heights)
    for option, value in (("--tolerance", tolerance), ("--seating", seating), ("--edge", edge)):
        check_number(option, value, "mm", 0.0)
    sides = list(Side) if side is None else [side]
    targets = {
        one: [path if side is not None else path.with_stem(f"{path.stem}-{one.value}") for path in output]
        for one in sides
    }
    there = [path for paths in targets.values() for path in paths if path.exists()]
    if there and not force:
        raise InputError(f"{there[0]} is there already: --force overwrites it", name="output", value=str(there[0]))
    axle = load_car(car)
    plate = plate_of(axle, offset)
    box = box_of(axle.left, camber, caster, caster_by)
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
            travel_at=travel_at.value,
        )
        plate = plan.top_plate
        typer.echo(str(plan))
    moved = MovedOver.of(axle)
    for word in moved.assumed:
        typer.echo(f"assumed for clearances: {word}")
    for one, paths in targets.items():
        sheet = drawings.plate_drawing(
            corner_of(axle, one),
            plate,
            kind=marks.value,
            ride_height=0.5 * (ride_heights[0] + ride_heights[1]),
            toe=toe.value,
            edge=edge,
            note=axle.note or "",
            travel=moved.travel,
            rack=moved.rack,
            travel_at=travel_at.value,
            most_bearing_angle=moved.most_bearing_angle,
        )
        typer.echo(f"{sheet.title}: least web between cuts {sheet.web:.2f} mm")
        for warning in sheet.warnings:
            say(f"look: {warning}")
        for path in paths:
            drawings.save(sheet, path)
            say(f"wrote {path}")
    print_cautions(Printer())
