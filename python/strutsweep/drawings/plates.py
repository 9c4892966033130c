"""The drawing of a top plate and its insert, from above, front of the car up, ready to be checked and cut."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import xarray as xr

from strutsweep._core import Corner, TopPlate, __version__
from strutsweep.drawings.geometry import (
    Circle,
    Contour,
    Drawing,
    Shape,
    Text,
    box,
    grown_hull,
    line,
    polygon_of,
    stadium,
    width_of,
)
from strutsweep.errors import InputError
from strutsweep.top_plates.clearing import PARTS, clearances
from strutsweep.top_plates.hardware import Toe, letter
from strutsweep.top_plates.marking import MarkKind, marks
from strutsweep.top_plates.reaching import offsets
from strutsweep.top_plates.slotting import slot_width

__all__ = ["plate_drawing"]

_SHEET: Final = (420.0, 297.0)
"""A3 across."""
_FRAME: Final = 10.0
_PLATE_AT: Final = (137.0, 152.0)
_INSERT_AT: Final = (330.0, 214.0)
_NUMERALS: Final = 2.5
"""Least height of numerals in mm (ISO 3098, from memory)."""
_LETTERS: Final = 3.5
_ARROW: Final = 3.0
_ROOM: Final = 0.5
"""Between the insert's housing and the window that it slides in, in mm."""
_LEAST_WEB: Final = 3.0
"""Less material than this between two cuts is told."""
_TICK: Final = {False: 2.5, True: 4.5}
_CAUTIONS: Final = (
    "SAFETY PART: material, thickness, strength and welding are for a licensed engineer to decide.",
    "The torque of the rod's nut is its maker's. No top nut is opened before the spring is held captive.",
    "Print without scaling and measure the bar. Check the cut part on the car before it is driven.",
)

Place = tuple[float, float]


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
) -> Drawing:
    """A sheet with plate and insert of one side, at full size.

    Seen from above with the front of the car up: inboard is to the right on a left plate, to the left on a right one,
    which is its mirror image. Marks of each insert position stand beside an insert slot of their own, those for caster
    beside the first stud's slot; the stud is the pointer there.

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

    Returns
    -------
    Drawing

    Raises
    ------
    InputError
        The plate does not tell what is needed; two slots run into each other; the edge is negative.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import drawings
    >>> car = ss.demo("gravel_hatch")
    >>> sheet = drawings.plate_drawing(car.left, car.top_plate)
    >>> sheet.size, [shape.name for shape in sheet.on("cut")][:3]
    ((420.0, 297.0), ['plate outline', 'plate slot 1', 'plate slot 2'])
    """
    if not edge >= 0.0:
        raise InputError(f"edge = {edge} mm must not be negative", name="edge", value=edge, limit=0.0, unit="mm")
    needed = {
        "studs": top_plate.studs,
        "insert_bolts": top_plate.insert_bolts,
        "clearing.insert": top_plate.clearing["insert"],
    }
    for name, value in needed.items():
        if value is None:
            raise InputError(f"top_plate.{name} is missing: a drawing needs it", name="top_plate", value=None)
    steps = {"insert": camber_step, "plate": caster_step}
    told: dict[str, Any] = {"kind": kind, "ride_height": ride_height, "toe": toe}
    ladders = [
        marks(corner, top_plate, of="insert", step=steps["insert"], position=position, **told)
        for position in range(top_plate.positions)
    ]
    caster = marks(corner, top_plate, of="plate", step=steps["plate"], **told)
    plate = _Plate(corner.side, top_plate, edge)
    insert = _Insert(corner.side, top_plate, edge)
    web, warnings = _check_webs(plate.cuts())
    warnings += _clearance_warnings(corner, top_plate, travel, rack, ride_height, toe)
    ladder_shapes = plate.ladder_shapes(ladders, caster)
    shapes: list[Shape] = [*plate.shapes(), *ladder_shapes, *insert.shapes()]
    shapes += _labels(corner, plate, insert, ladder_shapes)
    shapes += plate.dimensions() + insert.dimensions()
    shapes += _sheet(corner, top_plate, plate, insert, ladders[0], caster, note, warnings)
    title = f"{corner.name}: top plate and insert, {corner.side}"
    return Drawing(title, _SHEET, tuple(_once(shapes)), web, tuple(warnings))


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


@dataclass
class _View:
    """A part on the sheet: where its frame's origin is, and which way inboard points."""

    side: str
    top_plate: TopPlate
    edge: float
    at: Place = field(default=_PLATE_AT)

    def sheet(self, inboard: float, rearward: float) -> Place:
        """A place of the plate's frame on the sheet, where the front is up."""
        sign = 1.0 if self.side == "left" else -1.0
        return self.at[0] + sign * inboard, self.at[1] - rearward

    def touching(self, outline: Contour | Circle) -> dict[str, Place]:
        """Where the upright rectangle around an outline touches it: left, right, low and high."""
        area: Any = polygon_of(outline)
        points = [(float(x), float(y)) for x, y in area.exterior.coords]
        return {
            "left": min(points, key=lambda at: (round(at[0], 6), at[1])),
            "right": min(points, key=lambda at: (round(-at[0], 6), at[1])),
            "low": min(points, key=lambda at: (round(at[1], 6), at[0])),
            "high": min(points, key=lambda at: (round(-at[1], 6), at[0])),
        }

    def bounds(self, outline: Contour | Circle) -> tuple[float, float, float, float]:
        area: Any = polygon_of(outline)
        return tuple(float(value) for value in area.bounds)  # type: ignore[return-value]


def _pointing(direction: float) -> tuple[float, float]:
    return math.cos(math.radians(direction)), math.sin(math.radians(direction))


class _Plate(_View):
    """The plate: outline, slots for the studs and the insert's bolts, window for the insert's housing."""

    def __init__(self, side: str, top_plate: TopPlate, edge: float) -> None:
        super().__init__(side, top_plate, edge)
        self.stud_slots = [
            self._slot(centre, top_plate.plate_slot, -1.0, f"plate slot {i + 1}")
            for i, centre in enumerate(top_plate.studs["centres"] if top_plate.studs else ())
        ]
        self.bolt_slots = [
            self._slot(centre, top_plate.insert_slot, 1.0, f"insert slot {i + 1}")
            for i, centre in enumerate(top_plate.insert_bolts["centres"] if top_plate.insert_bolts else ())
        ]
        self.window = self._window()
        self.outline = self._outline()

    def _width(self, slot: Any) -> float:
        return float(slot["width"]) if slot["width"] else slot_width(float(slot["bolt"] or 0.0))

    def _ends(self, centre: Sequence[float], slot: Any, sense: float) -> tuple[Place, Place]:
        """Centres of a slot's ends in the plate's own frame: bolts of the insert move with it, the tower's stay."""
        least, most = sorted(sense * end for end in slot["reach"])
        inboard, rearward = _pointing(slot["direction"])
        return (
            (centre[0] + least * inboard, centre[1] + least * rearward),
            (centre[0] + most * inboard, centre[1] + most * rearward),
        )

    def _slot(self, centre: Sequence[float], slot: Any, sense: float, name: str) -> tuple[Place, Place, float, str]:
        first, second = self._ends(centre, slot, sense)
        return self.sheet(*first), self.sheet(*second), self._width(slot), name

    def _window(self) -> Contour | Circle:
        """Everywhere that the insert's housing gets, in every position."""
        across, along = offsets(self.top_plate)
        reach = self.top_plate.insert_slot["reach"]
        forward, inboard = (
            _pointing(self.top_plate.plate_slot["direction"]),
            _pointing(self.top_plate.insert_slot["direction"]),
        )
        points = [
            self.sheet(
                a * forward[0] + (b + end) * inboard[0],
                a * forward[1] + (b + end) * inboard[1],
            )
            for a, b in zip(across, along, strict=True)
            for end in reach
        ]
        radius = float(self.top_plate.clearing["insert"] or 0.0) + _ROOM
        return grown_hull("cut", points, radius, "window")

    def _outline(self) -> Contour | Circle:
        slots = [*self.stud_slots, *self.bolt_slots]
        points = [end for first, second, _, _ in slots for end in (first, second)]
        radius = self.edge + max(width for _, _, width, _ in slots) / 2.0
        window: Any = polygon_of(self.window)
        for _ in range(3):
            # The string around the slots may come too near to the window: it grows by what is missing.
            outline = grown_hull("cut", points, radius, "plate outline")
            area: Any = polygon_of(outline)
            short = self.edge - (
                float(window.distance(area.exterior))
                if area.contains(window)
                else -float(window.hausdorff_distance(area))
            )
            if short <= 1e-6:
                break
            radius += short
        return outline

    def cuts(self) -> list[Contour | Circle]:
        """The outline first, then every opening."""
        slots = [
            stadium("cut", first, second, width, name)
            for first, second, width, name in (*self.stud_slots, *self.bolt_slots)
        ]
        return [self.outline, *slots, self.window]

    def shapes(self) -> list[Shape]:
        """Cuts, centre lines, stud circle, opening of the tower."""
        shapes: list[Shape] = list(self.cuts())
        studs = self.top_plate.studs
        assert studs is not None
        centre = self.sheet(0.0, 0.0)
        shapes.append(Circle("reference", centre, studs["circle"] / 2.0, style="chain"))
        low_x, low_y, high_x, high_y = self.bounds(self.outline)
        shapes.append(line("reference", (low_x - 4.0, centre[1]), (high_x + 4.0, centre[1]), "chain"))
        shapes.append(line("reference", (centre[0], low_y - 4.0), (centre[0], high_y + 4.0), "chain"))
        opening = self.top_plate.opening
        if opening and "radius" in opening:
            at = self.sheet(*opening["centre"])
            shapes.append(Circle("reference", at, opening["radius"], style="dashed", name="tower opening"))
        for first, second, width, _ in (*self.stud_slots, *self.bolt_slots):
            shapes += _cross_lines(first, second, width)
        return shapes

    def ladder_shapes(self, ladders: Sequence[xr.Dataset], caster: xr.Dataset) -> list[Shape]:
        """Marks for each insert position beside an insert slot of its own, marks for caster beside the first stud."""
        shapes: list[Shape] = []
        bolts, studs = self.top_plate.insert_bolts, self.top_plate.studs
        assert bolts is not None
        assert studs is not None
        ranked = sorted(bolts["centres"], key=lambda centre: centre[1])
        for ladder in ladders:
            position = int(ladder.attrs["position"])
            outermost = ranked[0] if position % 2 == 0 else ranked[-1]
            away = -1.0 if position % 2 == 0 else 1.0
            side = away if position < 2 else -away
            slot = self.top_plate.insert_slot
            shapes += self._ladder(ladder, outermost, slot, 1.0, side, letter(position), shapes)
        shapes += self._ladder(caster, studs["centres"][0], self.top_plate.plate_slot, -1.0, 1.0, "", shapes)
        return shapes

    def _ladder(
        self,
        ladder: xr.Dataset,
        bolt: Sequence[float],
        slot: Any,
        sense: float,
        side: float,
        name: str,
        engraved: Sequence[Shape],
    ) -> list[Shape]:
        """Ticks square to a slot from its edge outward, and their labels, on the side that `side` says.

        Captions keep clear of every cut and of what is engraved already.
        """
        along = np.array(_pointing(slot["direction"]))
        away = np.array([-along[1], along[0]]) * side
        start = self._width(slot) / 2.0 + 1.0
        shapes: list[Shape] = []
        taken = -math.inf
        upright = abs(along[0]) > 0.7
        written: list[tuple[float, float]] = []
        entries = zip(ladder.slide.values, ladder.label.values, ladder.long.values, strict=True)
        for at, label, long in sorted(entries, key=lambda mark: (not mark[2], abs(mark[0]))):
            foot = np.array(bolt) + sense * float(at) * along + start * away
            tip = foot + _TICK[bool(long)] * away
            shapes.append(
                line("engrave", self.sheet(*foot), self.sheet(*tip), name=f"mark {ladder.attrs['of']} {name}")
            )
            # A label needs room along the slot, or has none; those of long marks are written first.
            half = (0.5 * width_of(str(label), _NUMERALS) if upright else _NUMERALS / 2.0) + 0.8
            if any(abs(float(at) - other) < half + other_half for other, other_half in written):
                continue
            written.append((float(at), half))
            shapes.append(self._beside(foot + (_TICK[True] + 1.2) * away, away, str(label), upright))
        ends = np.array([float(ladder.slide.values.min()), float(ladder.slide.values.max())])
        middle = np.array(bolt) + sense * ends.mean() * along
        degrees = ladder.attrs["kind"] == "degrees"
        if upright:
            what = f"CAMBER CHANGE deg, INSERT {name}" if degrees else f"INSERT {name}, mm"
            # Beyond the labels, moved along the slot, or beyond its ends: where no cut takes a letter away.
            out = middle + (start + _TICK[True] + 5.6) * away
            least, most = slot["reach"]
            half_way = np.array(bolt) + sense * 0.5 * (least + most) * along - 0.5 * _NUMERALS * away
            tried: list[Text] = []
            # Where there is no room for all of it, the position's letter has to do.
            for words in (what, f"{name}: {'deg change' if degrees else 'mm'}", f"{name}: {'deg' if degrees else 'mm'}", name):
                beyond = 0.5 * (most - least + self._width(slot) + width_of(words, _NUMERALS)) + 4.0
                places = [out + step * along for step in (0.0, -5.0, 5.0, -10.0, 10.0, -15.0, 15.0)]
                places += [half_way + end * beyond * along for end in (-1.0, 1.0)]
                tried += [self._beside(place, away, words, True) for place in places]
            shapes.append(next((text for text in tried if self._free(text, [*engraved, *shapes])), tried[-1]))
        else:
            # On the slot's other side, along it.
            x, y = self.sheet(*(middle - (start + 0.8) * away))
            if x > self.sheet(*middle)[0]:
                x += _NUMERALS
            captions = ("CASTER CHANGE deg", "CASTER deg", "deg") if degrees else ("PLATE mm", "mm")
            turned = [Text("engrave", (x, y), _NUMERALS, words, "middle", 90.0) for words in captions]
            shapes.append(next((text for text in turned if self._free(text, [*engraved, *shapes])), turned[-1]))
        return shapes

    def _free(self, text: Text, engraved: Sequence[Shape]) -> bool:
        """Whether words stand on the plate and clear of every cut and of what else is engraved."""
        outline, *holes = (polygon_of(cut) for cut in self.cuts())
        room: Any = _extent(text).buffer(1.0)
        area: Any = outline
        taken = [*holes, *(_extent(shape) for shape in engraved)]
        return bool(area.contains(room)) and not any(room.intersects(one) for one in taken)

    def _beside(self, place: Any, away: Any, words: str, upright: bool) -> Text:
        x, y = self.sheet(*place)
        dx, dy = (end - start for end, start in zip(self.sheet(*(place + away)), (x, y), strict=True))
        if upright:
            return Text("engrave", (x, y if dy > 0.0 else y - _NUMERALS), _NUMERALS, words, "middle")
        return Text("engrave", (x, y - _NUMERALS / 2.0), _NUMERALS, words, "left" if dx > 0.0 else "right")

    def dimensions(self) -> list[Shape]:
        """Sizes of the outline, of one slot of each kind, and where these are."""
        low_x, low_y, high_x, high_y = self.bounds(self.outline)
        centre = self.sheet(0.0, 0.0)
        feet = self.touching(self.outline)
        shapes: list[Shape] = []
        # The outline: across below, up on the left.
        shapes += _across(low_x, high_x, low_y - 16.0, (feet["left"][1], feet["right"][1]), f"{high_x - low_x:.2f}")
        shapes += _upward(low_y, high_y, low_x - 14.0, (feet["low"][0], feet["high"][0]), f"{high_y - low_y:.2f}")
        # Insert slots, on their side of the window: the front one's ends, where the rear one's end is.
        ranked = sorted(self.bolt_slots, key=lambda slot: -slot[0][1])
        for slot, from_centre in ((ranked[0], False), (ranked[-1], True)):
            one, other = sorted(slot[:2])
            inward = -1.0 if one[1] > centre[1] else 1.0
            y = one[1] + inward * (slot[2] / 2.0 + (6.0 if inward < 0.0 else 4.0))
            if not from_centre:
                shapes += _across(one[0], other[0], y, (one[1], other[1]), f"{math.dist(one, other):.2f}")
            elif len(ranked) > 1:
                far = max((one, other), key=lambda end: abs(end[0] - centre[0]))
                low, high = sorted((centre[0], far[0]))
                shapes += _across(low, high, y, (far[1], far[1]), f"{high - low:.2f}")
        # The right-hand stud's slot: its ends, and where they are.
        right = max(self.stud_slots, key=lambda slot: slot[0][0])
        lower, upper = sorted((right[0], right[1]), key=lambda place: place[1])
        shapes += _upward(lower[1], upper[1], high_x + 8.0, (lower[0], upper[0]), f"{math.dist(lower, upper):.2f}")
        low, high = sorted((centre[1], upper[1]))
        shapes += _upward(low, high, high_x + 16.0, (high_x + 4.0, upper[0]), f"{high - low:.2f}")
        low, high = sorted((centre[0], right[0][0]))
        foot = (low_y - 4.0, lower[1]) if high > centre[0] else (lower[1], low_y - 4.0)
        shapes += _across(low, high, low_y - 8.0, foot, f"{high - low:.2f}")
        return shapes


class _Insert(_View):
    """The insert: bolt holes, bearing seat off the middle, pointers."""

    def __init__(self, side: str, top_plate: TopPlate, edge: float) -> None:
        super().__init__(side, top_plate, edge, _INSERT_AT)
        bolts = top_plate.insert_bolts
        assert bolts is not None
        bolt = top_plate.insert_slot["bolt"] or (top_plate.insert_slot["width"] or 9.0) - 1.0
        self.hole = slot_width(bolt) if bolt in (5.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0) else bolt + 1.0
        self.bolts = [self.sheet(*centre) for centre in bolts["centres"]]
        angle = math.radians(top_plate.insert["angles"][0])
        offset = top_plate.insert["offset"]
        self.seat = self.sheet(offset * math.cos(angle), offset * math.sin(angle))
        self.radius = float(top_plate.clearing["insert"] or 0.0)
        grow = self.edge + self.hole / 2.0
        spread = max(0.0, math.dist(self.seat, self.sheet(0.0, 0.0)) + self.radius + 2.0 - grow)
        inboard = np.array(_pointing(top_plate.insert_slot["direction"]))
        sides = [self.sheet(*(sign * spread * inboard)) for sign in (1.0, -1.0)] if spread > 0.0 else []
        self.outline = grown_hull("cut", [*self.bolts, *sides], grow, "insert outline")

    def shapes(self) -> list[Shape]:
        """Outline, holes, seat and pointers."""
        shapes: list[Shape] = [self.outline]
        shapes += [Circle("cut", at, self.hole / 2.0, name=f"insert hole {i + 1}") for i, at in enumerate(self.bolts)]
        shapes.append(Circle("reference", self.seat, self.radius, style="dashed", name="bearing housing"))
        middle = self.sheet(0.0, 0.0)
        low_x, low_y, high_x, high_y = self.bounds(self.outline)
        shapes.append(line("reference", (low_x - 4.0, middle[1]), (high_x + 4.0, middle[1]), "chain"))
        shapes.append(line("reference", (middle[0], low_y - 4.0), (middle[0], high_y + 4.0), "chain"))
        shapes.append(line("reference", (self.seat[0], self.seat[1] - 7.0), (self.seat[0], self.seat[1] + 7.0)))
        # One pointer, on the hole that is in front in the first position: turned half round it stands in the rear, beside
        # the other ladder. A letter on each hole would stand beside the wrong one there.
        x, y = max(self.bolts, key=lambda at: at[1])
        foot, tip = y + self.hole / 2.0 + 1.0, high_y - 1.0
        arrow = ((x - 2.0, foot, 0.0), (x + 2.0, foot, 0.0), (x, tip, 0.0))
        shapes.append(Contour("engrave", arrow, style="thin", name="pointer"))
        return shapes

    def dimensions(self) -> list[Shape]:
        """Sizes of the outline, the holes' distance, the offset."""
        low_x, low_y, high_x, high_y = self.bounds(self.outline)
        middle = self.sheet(0.0, 0.0)
        shapes = _across(low_x, high_x, low_y - 14.0, (middle[1], middle[1]), f"{high_x - low_x:.2f}")
        first, second = sorted(self.bolts, key=lambda at: at[1])[:: max(1, len(self.bolts) - 1)][:2]
        shapes += _upward(first[1], second[1], low_x - 10.0, (first[0], second[0]), f"{second[1] - first[1]:.2f}")
        offset = abs(self.seat[0] - middle[0])
        if offset > 0.0:
            left, right = sorted((middle[0], self.seat[0]))
            shapes += _across(
                left, right, high_y + 9.0, (self.seat[1] + 7.0, self.seat[1] + 7.0), f"e = {offset:.2f}", outside=True
            )
        return shapes


def _cross_lines(first: Place, second: Place, width: float) -> list[Shape]:
    """Centre lines of a slot: along it, and across at each end's centre."""
    dx, dy = second[0] - first[0], second[1] - first[1]
    length = math.hypot(dx, dy)
    ux, uy = (dx / length, dy / length) if length > 1e-9 else (1.0, 0.0)
    over = width / 2.0 + 2.0
    ends = [first] if length <= 1e-9 else [first, second]
    shapes: list[Shape] = [
        line(
            "reference",
            (first[0] - over * ux, first[1] - over * uy),
            (second[0] + over * ux, second[1] + over * uy),
            "chain",
        )
    ]
    shapes += [
        line("reference", (x - over * -uy, y - over * ux), (x + over * -uy, y + over * ux), "chain") for x, y in ends
    ]
    return shapes


def _arrow(tip: Place, way: Place) -> Contour:
    """A slim filled head whose point is at `tip`, flying the given way."""
    x, y = tip
    ux, uy = way
    half = _ARROW / 6.0
    return Contour(
        "reference",
        (
            (x, y, 0.0),
            (x - _ARROW * ux - half * -uy, y - _ARROW * uy - half * ux, 0.0),
            (x - _ARROW * ux + half * -uy, y - _ARROW * uy + half * ux, 0.0),
        ),
        filled=True,
        style="thin",
    )


def _across(
    low: float,
    high: float,
    y: float,
    feet: tuple[float, float],
    words: str,
    *,
    outside: bool = False,
    skip_first: bool = False,
) -> list[Shape]:
    """A dimension across the sheet at height y, with extension lines from two feet."""
    shapes: list[Shape] = []
    for i, (x, foot) in enumerate(((low, feet[0]), (high, feet[1]))):
        if skip_first and i == 0:
            continue
        away = 1.0 if y > foot else -1.0
        shapes.append(line("reference", (x, foot + away * 1.0), (x, y + away * 2.0)))
    narrow = outside or high - low < width_of(words, _NUMERALS) + 2.5 * _ARROW
    if narrow:
        shapes.append(line("reference", (low - 3.0 * _ARROW, y), (high + 3.0 * _ARROW, y)))
        shapes += [_arrow((low, y), (1.0, 0.0)), _arrow((high, y), (-1.0, 0.0))]
        shapes.append(Text("reference", (high + 3.0 * _ARROW + 1.0, y - _NUMERALS / 2.0), _NUMERALS, words))
    else:
        shapes.append(line("reference", (low, y), (high, y)))
        shapes += [_arrow((low, y), (-1.0, 0.0)), _arrow((high, y), (1.0, 0.0))]
        shapes.append(Text("reference", ((low + high) / 2.0, y + 1.0), _NUMERALS, words, "middle"))
    return shapes


def _upward(low: float, high: float, x: float, feet: tuple[float, float], words: str) -> list[Shape]:
    """A dimension up the sheet at x, with extension lines from two feet; its words read from the right."""
    shapes: list[Shape] = []
    for y, foot in ((low, feet[0]), (high, feet[1])):
        away = 1.0 if x > foot else -1.0
        shapes.append(line("reference", (foot + away * 1.0, y), (x + away * 2.0, y)))
    if high - low < width_of(words, _NUMERALS) + 2.5 * _ARROW:
        shapes.append(line("reference", (x, low - 3.0 * _ARROW), (x, high + 3.0 * _ARROW)))
        shapes += [_arrow((x, low), (0.0, 1.0)), _arrow((x, high), (0.0, -1.0))]
        at = (x - 1.0, high + 3.0 * _ARROW + 1.0)
        shapes.append(Text("reference", (at[0] + 1.0 + _NUMERALS / 2.0, at[1]), _NUMERALS, words, "left", 90.0))
    else:
        shapes.append(line("reference", (x, low), (x, high)))
        shapes += [_arrow((x, low), (0.0, -1.0)), _arrow((x, high), (0.0, 1.0))]
        shapes.append(Text("reference", (x - 1.0, (low + high) / 2.0), _NUMERALS, words, "middle", 90.0))
    return shapes


def _labels(corner: Corner, plate: _Plate, insert: _Insert, engraved: Sequence[Shape]) -> list[Shape]:
    """What is engraved into the parts beside marks: whose they are, and an arrow to the front where there is room."""
    import shapely

    outline, *holes = (polygon_of(cut) for cut in plate.cuts())
    area: Any = outline
    marked = [_extent(shape) for shape in engraved if shape.layer == "engrave"]
    taken: Any = shapely.union_all([*holes, *marked])
    low_x, low_y, high_x, high_y = plate.bounds(plate.outline)
    xs, ys = np.meshgrid(np.arange(low_x, high_x, 2.0), np.arange(low_y, high_y, 2.0))
    spots = shapely.box(xs.ravel() - 9.0, ys.ravel() - 11.0, xs.ravel() + 9.0, ys.ravel() + 16.0)
    room = np.minimum(shapely.distance(spots, taken), shapely.distance(spots, area.exterior))
    room = np.where(shapely.within(spots, area), room, -1.0)
    best = int(np.argmax(room))
    shapes = _front_arrow((float(xs.ravel()[best]), float(ys.ravel()[best])), corner.side)
    x, y = insert.at
    away = -12.0 if insert.seat[0] >= x else 12.0
    shapes.append(Text("engrave", (x + away, y - 20.0), _LETTERS, corner.side[0].upper(), "middle", bold=True))
    return shapes


def _extent(shape: Shape) -> Any:
    """About where a shape is, as an area."""
    import shapely

    if isinstance(shape, Text):
        width = width_of(shape.words, shape.height, bold=shape.bold)
        start = {"left": 0.0, "middle": -width / 2.0, "right": -width}[shape.align]
        written = shapely.box(start, 0.0, start + width, shape.height)
        turned = shapely.affinity.rotate(written, shape.turned, origin=(0.0, 0.0))
        return shapely.affinity.translate(turned, *shape.at)
    if isinstance(shape, Circle):
        return polygon_of(shape)
    return shapely.LineString([vertex[:2] for vertex in shape.vertices]).buffer(0.2)


def _front_arrow(at: Place, side: str) -> list[Shape]:
    """An arrow to the front of the car, and whose plate it is."""
    x, y = at
    head = Contour("engrave", ((x - 2.5, y + 9.0, 0.0), (x, y + 15.0, 0.0), (x + 2.5, y + 9.0, 0.0)), style="thin")
    return [
        line("engrave", (x, y), (x, y + 9.0), name="front"),
        head,
        Text("engrave", (x, y - 5.0), _LETTERS, "FRONT", "middle"),
        Text("engrave", (x, y - 10.5), _LETTERS, side.upper(), "middle", bold=True),
    ]


def _sheet(
    corner: Corner,
    top_plate: TopPlate,
    plate: _Plate,
    insert: _Insert,
    camber: xr.Dataset,
    caster: xr.Dataset,
    note: str,
    warnings: Sequence[str],
) -> list[Shape]:
    """Frame, title block, table of cuts, projection symbol, scale bar, notes."""
    width, height = _SHEET
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

    def say(x: float, y: float, small: str, words: str = "", size: float = _LETTERS, bold: bool = False) -> None:
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
        shapes.append(Text("reference", (low_x - 14.0, high_y + 8.0), _LETTERS, words, bold=True))

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
        f"WINDOW  {window.bounds[2] - window.bounds[0]:.2f} x {window.bounds[3] - window.bounds[1]:.2f}, full-radius ends;"
        f" STUDS  {studs['count']} on a circle of {studs['circle']:g}",
        f"INSERT  {len(insert.bolts)} holes of {insert.hole:g} on a circle of {bolts['circle']:g}; bearing seat of diameter"
        f" ________ at e = {top_plate.insert['offset']:g} from the middle",
        *_marks_note(corner, camber, caster),
    ]
    if top_plate.positions > 1:
        table.append("The insert's one pointer reads the ladder beside it: A in front, B in the rear when turned half round")
    table += [f"LOOK: {warning}" for warning in warnings]
    for i, words in enumerate(table):
        shapes.append(Text("reference", (x, y - i * step), 2.1, words))
    y -= len(table) * step + 2.0
    for i, words in enumerate(_CAUTIONS):
        shapes.append(Text("reference", (x, y - i * step), 2.1, words, bold=i == 0))
    shapes.append(
        Text(
            "reference",
            (_FRAME + 5.0, height - _FRAME - 7.0),
            2.5,
            "Seen from above, front of the car up. Red is cut, blue engraved, black only read."
            " Dashed: tower opening, bearing housing.",
        )
    )
    return shapes


def _marks_note(corner: Corner, camber: xr.Dataset, caster: xr.Dataset) -> tuple[str, str]:
    static = corner.solve()
    zero = f"0 is the top as measured (camber {static.camber:+.2f}, caster {static.caster:+.2f} deg at design height)"
    if camber.attrs["kind"] != "degrees":
        return "MARKS  equal millimetres, true on any car", zero
    toe = "put back" if "put back" in str(caster.attrs["held"]) else "as it comes"
    height = f"{camber.attrs['ride_height']:+g} mm from design"
    return f"MARKS  changes in degrees, true on this car at a ride height of {height}, toe {toe}", zero


def _clearance_warnings(
    corner: Corner, top_plate: TopPlate, travel: tuple[float, float], rack: tuple[float, float], ride_height: float, toe: Toe
) -> list[str]:
    """What does not pass the tower's opening, and a bearing that leans too far."""
    found = clearances(corner, top_plate, travel=travel, rack=rack, ride_height=ride_height, toe=toe)
    gaps = {part: float(found.least.gap.sel(part=part)) for part in PARTS}
    fouled = [f"{part} by {-gap:.1f}" for part, gap in gaps.items() if gap < 0.0]
    warnings = [f"DOES NOT PASS the tower's opening: {', '.join(fouled)} mm"] if fouled else []
    most, lean = top_plate.most_bearing_angle, float(found.bearing.bearing_angle)
    if most is not None and lean > most:
        warnings.append(f"the bearing leans {lean:.1f} deg of {most:g} allowed")
    return warnings


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
