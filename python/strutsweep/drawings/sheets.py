"""The sheet around the parts: frame, title block, table of cuts, notes, scale bar."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import xarray as xr

from strutsweep._core import Corner, TopPlate, __version__
from strutsweep.drawings.engraving import LETTERS
from strutsweep.drawings.geometry import Circle, Contour, Place, Shape, Text, box, line, polygon_of
from strutsweep.drawings.views import InsertView, PlateView
from strutsweep.top_plates.hardware import letter

__all__ = ["SHEET", "sheet"]

SHEET: Final = (420.0, 297.0)
"""A3 across."""
_FRAME: Final = 10.0
_CAUTIONS: Final = (
    "SAFETY PART: material, thickness, strength and welding are for a licensed engineer to decide.",
    "The torque of the rod's nut is its maker's. No top nut is opened before the spring is held captive.",
    "Print without scaling and measure the bar. Check the cut part on the car before it is driven.",
)


def sheet(
    corner: Corner,
    top_plate: TopPlate,
    plate: PlateView,
    insert: InsertView,
    camber: xr.Dataset,
    caster: xr.Dataset,
    note: str,
    warnings: Sequence[str],
) -> list[Shape]:
    """Frame, title block, table of cuts, projection symbol, scale bar, notes."""
    width, height = SHEET
    shapes: list[Shape] = [box("reference", (_FRAME, _FRAME), (width - _FRAME, height - _FRAME), "frame")]
    right, low = width - _FRAME, _FRAME
    left, top = right - 180.0, low + 56.0
    shapes += [
        line("reference", (left, low), (left, top), "outline"),
        line("reference", (left, top), (right, top), "outline"),
    ]
    rows = [top - 14.0, top - 24.0, top - 34.0, top - 44.0]
    shapes += [line("reference", (left, y), (right, y)) for y in rows]
    half, third = left + 112.0, left + 56.0
    shapes.append(line("reference", (half, low), (half, rows[0])))
    shapes.append(line("reference", (third, rows[3]), (third, rows[0])))

    def say(x: float, y: float, small: str, words: str = "", size: float = LETTERS, bold: bool = False) -> None:
        shapes.append(Text("reference", (x + 1.5, y - 3.2), 1.8, small))
        if words:
            shapes.append(Text("reference", (x + 1.5, y - 8.2), size, words, bold=bold))

    other = "right" if corner.side == "left" else "left"
    shapes.append(
        Text("reference", (left + 1.5, top - 6.0), 4.0, f"TOP PLATE AND INSERT, {corner.side.upper()}", bold=True)
    )
    shapes.append(
        Text(
            "reference",
            (left + 1.5, top - 11.5),
            2.5,
            f"{corner.name}. The {other} parts are the mirror image of these.",
        )
    )
    say(left, rows[0], "MATERIAL")
    say(third, rows[0], "THICKNESS, mm")
    say(half, rows[0], "SCALE", "1:1, millimetres", 2.5)
    say(left, rows[1], "FINISH")
    say(third, rows[1], "TOLERANCES")
    say(half, rows[1], "FIRST ANGLE")
    shapes += _projection_symbol((half + 48.0, rows[1] - 5.0))
    say(left, rows[2], "DRAWN, DATE")
    say(third, rows[2], "CHECKED BY ENGINEER, DATE")
    say(half, rows[2], "MADE WITH", f"strutsweep {__version__}", 2.5)
    shapes.append(Text("reference", (left + 1.5, rows[3] - 5.5), 2.5, note or "Sheet 1 of 1"))
    say(half, rows[3], "SIZE", "A3", 2.5)

    for words, view, outline in (("PLATE", plate, plate.outline), ("INSERT", insert, insert.outline)):
        low_x, _, _, high_y = view.bounds(outline)
        shapes.append(Text("reference", (low_x - 14.0, high_y + 8.0), LETTERS, words, bold=True))

    # Scale bar below the plate.
    x, y = _FRAME + 12.0, _FRAME + 9.0
    shapes += [line("reference", (x, y), (x + 100.0, y), "outline", name="scale bar")]
    shapes += [line("reference", (x + step, y - 2.0), (x + step, y + 2.0)) for step in (0.0, 50.0, 100.0)]
    shapes.append(Text("reference", (x + 103.0, y - 1.25), 2.5, "100 mm: measure before cutting"))

    # What is cut, above the title block.
    step, x, y = 4.6, left + 2.0, top + 60.0
    studs, bolts = top_plate.studs, top_plate.insert_bolts
    assert studs is not None
    assert bolts is not None
    window: Any = polygon_of(plate.window)
    first, second, stud_width, _ = plate.stud_slots[0]
    one, two, bolt_width, _ = plate.bolt_slots[0]
    p0, p1 = top_plate.plate_slot["reach"]
    q0, q1 = top_plate.insert_slot["reach"]
    table = [
        f"PLATE SLOTS  {len(plate.stud_slots)} x  width {stud_width:g}, ends {math.dist(first, second):.2f} apart,"
        f" {math.dist(first, second) + stud_width:.2f} over full-radius ends; plate slides {p0:+.2f} to {p1:+.2f}",
        f"INSERT SLOTS  {len(plate.bolt_slots)} x  width {bolt_width:g}, ends {math.dist(one, two):.2f} apart,"
        f" {math.dist(one, two) + bolt_width:.2f} over full-radius ends; insert slides {q0:+.2f} to {q1:+.2f}",
        f"WINDOW  {window.bounds[2] - window.bounds[0]:.2f} x {window.bounds[3] - window.bounds[1]:.2f}, rounded by"
        f" radius {plate.window_radius:g};"
        f" STUDS  {studs['count']} on a circle of {studs['circle']:g}",
        f"INSERT  {len(insert.bolts)} holes of {insert.hole:g} on a circle of {bolts['circle']:g}; bearing seat of"
        f" diameter ________ at e = {top_plate.insert['offset']:g} from the middle",
        *_marks_note(corner, camber, caster),
    ]
    table += _positions_note(top_plate, insert)
    table += [f"LOOK: {warning}" for warning in warnings]
    for i, words in enumerate(table):
        shapes.append(Text("reference", (x, y - i * step), 2.1, words))
    y -= len(table) * step + 2.0
    for i, words in enumerate(_CAUTIONS):
        shapes.append(Text("reference", (x, y - i * step), 2.1, words, bold=i == 0))
    heads = (
        "Seen square to the tower's face, from above, front of the car up. Red is cut, blue engraved, black only read."
        " Dashed: tower opening, bearing housing.",
        f"Datum: the crossed centre lines, where the middle of all slides is.{_yaw_note(top_plate)}",
    )
    for i, words in enumerate(heads):
        shapes.append(Text("reference", (_FRAME + 5.0, height - _FRAME - 7.0 - 5.0 * i), 2.5, words))
    return shapes


def _positions_note(top_plate: TopPlate, insert: InsertView) -> list[str]:
    """How the insert's pointers are read."""
    if top_plate.positions < 2:
        return []
    pointers = insert.pointers()
    told = set("".join(pointers.values()))
    over = [letter(position) for position in range(top_plate.positions) if letter(position) not in told]
    if len(pointers) == 1 and not over:
        return ["The insert lies on the plate; its one pointer reads the ladder that it stands at"]
    note = "The insert lies on the plate; each of its pointers reads the ladder of its letter"
    return [f"{note}; {', '.join(over)}: insert turned over, its blank face up, no pointer" if over else note]


def _yaw_note(top_plate: TopPlate) -> str:
    """Which way the parts stand in the car, where that is not straight."""
    if top_plate.yaw == 0.0:
        return ""
    way = "rearward" if top_plate.yaw > 0.0 else "forward"
    return f" On the car the parts are turned {abs(top_plate.yaw):g} deg in the face, inboard side {way}."


def _marks_note(corner: Corner, camber: xr.Dataset, caster: xr.Dataset) -> tuple[str, str]:
    static = corner.solve()
    zero = f"0 is the top as measured (camber {static.camber:+.2f}, caster {static.caster:+.2f} deg at design height)"
    if camber.attrs["kind"] != "degrees":
        return "MARKS  equal millimetres, true on any car", zero
    toe = "put back" if "put back" in str(caster.attrs["held"]) else "as it comes"
    height = f"{camber.attrs['ride_height']:+g} mm from design"
    return f"MARKS  changes in degrees, true on this car at a ride height of {height}, toe {toe}", zero


def _projection_symbol(at: Place) -> list[Shape]:
    """First angle: a cone's side view to the left of its end view (ISO 128, from memory)."""
    x, y = at
    return [
        Contour(
            "reference",
            ((x - 10.0, y - 1.6, 0.0), (x - 2.0, y - 3.2, 0.0), (x - 2.0, y + 3.2, 0.0), (x - 10.0, y + 1.6, 0.0)),
            style="thin",
        ),
        line("reference", (x - 12.0, y), (x, y), "chain"),
        Circle("reference", (x + 6.0, y), 3.2, style="thin"),
        Circle("reference", (x + 6.0, y), 1.6, style="thin"),
        line("reference", (x + 1.0, y), (x + 11.0, y), "chain"),
        line("reference", (x + 6.0, y - 4.6), (x + 6.0, y + 4.6), "chain"),
    ]
