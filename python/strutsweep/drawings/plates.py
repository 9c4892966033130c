"""The drawing of a top plate and its insert, from above, front of the car up, ready to be checked and cut."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any, Final

from strutsweep._core import Corner, TopPlate
from strutsweep._inputs import TravelAt
from strutsweep.drawings.engraving import labels, ladders
from strutsweep.drawings.geometry import Circle, Contour, Drawing, Shape, Text, extent_of, polygon_of
from strutsweep.drawings.sheets import SHEET, sheet
from strutsweep.drawings.views import InsertView, PlateView
from strutsweep.errors import InputError
from strutsweep.top_plates.clearing import PARTS, Clearances, clearances
from strutsweep.top_plates.hardware import Toe, letter
from strutsweep.top_plates.marking import MarkKind, marks
from strutsweep.top_plates.reaching import offsets

__all__ = ["plate_drawing"]

_LEAST_WEB: Final = 3.0
"""Less material than this between two cuts is told."""


def plate_drawing(
    corner: Corner,
    top_plate: TopPlate,
    *,
    kind: MarkKind = "degrees",
    camber_step: float | None = None,
    caster_step: float | None = None,
    ride_height: float = 0.0,
    toe: Toe = "put_back",
    edge: float = 10.0,
    note: str = "",
    travel: tuple[float, float] = (-80.0, 80.0),
    rack: tuple[float, float] = (0.0, 0.0),
    travel_at: TravelAt = "ground",
    most_bearing_angle: float | None = None,
) -> Drawing:
    """A sheet with plate and insert of one side, at full size.

    Seen from above with the front of the car up: inboard is to the right on a left plate, to the left on a right one,
    which is its mirror image. The insert lies on the plate: marks of each of its positions begin beyond its end, where
    it covers none of them and its pointers reach them. Marks for caster stand beside a stud's slot, beyond the washer
    of its nut; the stud is the pointer there. Where insert positions ask for unlike slides of the plate, each has
    caster marks of its own.

    Parameters
    ----------
    corner : Corner
        Whose part it is: ``car.left`` or ``car.right``. The marks are true on it.
    top_plate : TopPlate
        ``car.top_plate``, or a plan's. It must tell of studs, insert bolts and the insert's clearing radius.
    kind : {"degrees", "millimetres"}
        What the marks count.
    camber_step, caster_step : float, optional
        From mark to mark, in deg or mm.
    ride_height : float
        Where degrees are true: travel in mm.
    toe : {"put_back", "as_it_comes"}
        Whether the tie rod puts toe back when the car is set.
    edge : float
        Least material around every cut, in mm.
    note : str
        A line for the title block, such as where the numbers come from.
    travel, rack : pair of float
        Between which nut, insert and rod are held against the tower's opening, in mm; what does not pass is told on the
        sheet and in its warnings.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held while the hardware moves.
    most_bearing_angle : float, optional
        How far the bearing may lean, in deg: ``car.limits["bearing_angle"]``. Not judged unless given.

    Returns
    -------
    Drawing

    Raises
    ------
    InputError
        The plate does not tell what is needed; two slots run into each other; the edge is negative; the parts are
        larger than the sheet.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import drawings
    >>> car = ss.demo("gravel_hatch")
    >>> sheet = drawings.plate_drawing(car.left, car.top_plate)
    >>> sheet.size, [shape.name for shape in sheet.on("cut")][:3]
    ((420.0, 297.0), ['plate outline', 'plate slot 1', 'plate slot 2'])
    """
    if not 0.0 <= edge < math.inf:
        raise InputError(
            f"edge = {edge} mm must be a number of 0 or more", name="edge", value=edge, limit=0.0, unit="mm"
        )
    needed = {
        "studs": top_plate.studs,
        "insert_bolts": top_plate.insert_bolts,
        "clearing.insert": top_plate.clearing["insert"],
    }
    for name, value in needed.items():
        if value is None:
            raise InputError(f"top_plate.{name} is missing: a drawing needs it", name="top_plate", value=None)
    steps = {"insert": camber_step, "plate": caster_step}
    told: dict[str, Any] = {"kind": kind, "ride_height": ride_height, "toe": toe, "travel_at": travel_at}
    camber = [
        marks(corner, top_plate, of="insert", step=steps["insert"], position=position, **told)
        for position in range(top_plate.positions)
    ]
    caster = [
        marks(corner, top_plate, of="plate", step=steps["plate"], position=alike[0], **told).assign_attrs(
            positions="".join(letter(position) for position in alike)
        )
        for alike in _alike_in_plate_slide(top_plate)
    ]
    plate = PlateView(corner.side, top_plate, edge)
    insert = InsertView(corner.side, top_plate, edge)
    _check_webs(plate.cuts())
    marked, unmarked = ladders(plate, insert, camber, caster)
    web, warnings = _check_webs(plate.cuts())
    warnings += unmarked
    warnings += _clearance_warnings(
        clearances(
            corner,
            top_plate,
            travel=travel,
            rack=rack,
            ride_height=ride_height,
            toe=toe,
            travel_at=travel_at,
            most_bearing_angle=most_bearing_angle,
        )
    )
    shapes: list[Shape] = [*plate.shapes(), *marked, *insert.shapes()]
    sizes = plate.dimensions()
    shapes += labels(corner, plate, insert, marked, [*plate.read_only(), *sizes])
    shapes += sizes + insert.dimensions()
    shapes += sheet(corner, top_plate, plate, insert, camber[0], caster[0], note, warnings)
    _check_fits_sheet(shapes)
    title = f"{corner.name}: top plate and insert, {corner.side}"
    return Drawing(title, SHEET, tuple(_once(shapes)), web, tuple(warnings))


def _alike_in_plate_slide(top_plate: TopPlate) -> list[list[int]]:
    """Positions of the insert for which the plate's zero mark is the same: their bearings ask for one plate slide."""
    groups: dict[float, list[int]] = {}
    for position, aside in enumerate(offsets(top_plate)[0]):
        groups.setdefault(round(float(aside), 6) + 0.0, []).append(position)
    return list(groups.values())


def _check_fits_sheet(shapes: Sequence[Shape]) -> None:
    """Refuse parts that are too large for the sheet: at full size nothing can be made smaller."""
    width, height = SHEET
    for shape in shapes:
        low_x, low_y, high_x, high_y = extent_of(shape).bounds
        if min(low_x, low_y, width - high_x, height - high_y) < 0.0:
            what = f"{shape.words!r}" if isinstance(shape, Text) else shape.name or "a line of it"
            raise InputError(
                f"top_plate does not fit a sheet of {width:g} by {height:g} mm at full size ({what} lies beyond it):"
                " are top_plate.studs.circle, top_plate.insert_bolts.circle and the slots' reach in mm?",
                name="top_plate",
                value=(high_x - low_x, high_y - low_y),
                limit=width,
                unit="mm",
            )


def _once(shapes: Sequence[Shape]) -> list[Shape]:
    """Every shape once: a laser would cut a doubled line twice."""
    return list(dict.fromkeys(shapes))


def _check_webs(cuts: Sequence[Contour | Circle]) -> tuple[float, list[str]]:
    """The least material between cuts; slots that run into each other are refused, thin webs told."""
    areas: list[tuple[str, Any]] = [(cut.name, polygon_of(cut)) for cut in cuts]
    (_, outline), holes = areas[0], areas[1:]
    web, warnings = math.inf, []
    for (one, a), (other, b) in itertools.combinations(holes, 2):
        apart = float(a.distance(b))
        web = min(web, apart)
        if apart <= 0.0:
            raise InputError(
                f"top_plate: {one} and {other} run into each other: move bolts or studs, or shorten the slots",
                name="top_plate",
                value=(one, other),
            )
        if apart < _LEAST_WEB:
            warnings.append(f"only {apart:.1f} mm between {one} and {other}")
    for _, area in holes:
        web = min(web, float(area.distance(outline.exterior)))
    return web, warnings


def _clearance_warnings(found: Clearances) -> list[str]:
    """What does not pass the tower's opening, and a bearing that leans too far."""
    gaps = {part: float(found.least.gap.sel(part=part)) for part in PARTS}
    fouled = [f"{part} by {-gap:.1f}" for part, gap in gaps.items() if gap < 0.0]
    warnings = [f"DOES NOT PASS the tower's opening: {', '.join(fouled)} mm"] if fouled else []
    most, lean = found.most_bearing_angle, float(found.bearing.bearing_angle)
    if most is not None and lean > most:
        warnings.append(f"the bearing leans {lean:.1f} deg of {most:g} allowed")
    return warnings
