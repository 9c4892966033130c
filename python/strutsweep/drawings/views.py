"""The parts on the sheet: plate and insert, what is cut of each, and their dimensions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from strutsweep._core import TopPlate
from strutsweep.drawings.dimensioning import NUMERALS, across, cross_lines, upward
from strutsweep.drawings.geometry import (
    Circle,
    Contour,
    Place,
    Shape,
    Text,
    extent_of,
    grown_hull,
    line,
    polygon_of,
    stadium,
)
from strutsweep.top_plates.clearing import opening_area
from strutsweep.top_plates.hardware import letter
from strutsweep.top_plates.marking import Sliding
from strutsweep.top_plates.reaching import offsets
from strutsweep.top_plates.slotting import FITS, cut_width, slot_width

__all__ = ["InsertView", "PlateView", "View", "pointing"]

_PLATE_AT: Final = (137.0, 152.0)
_INSERT_AT: Final = (330.0, 214.0)
_ROOM: Final = 0.5
"""Between the insert's housing and the window that it slides in, in mm."""
_AROUND_MARKS: Final = 2.5
"""Of the plate around what is engraved on it, in mm."""


@dataclass
class View:
    """A part on the sheet: where its frame's origin is, and which way inboard points."""

    side: str
    top_plate: TopPlate
    edge: float
    at: Place = _PLATE_AT

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


def pointing(direction: float) -> tuple[float, float]:
    """The way of an angle in the plate: inboard and rearward."""
    return math.cos(math.radians(direction)), math.sin(math.radians(direction))


def _turned(way: Place, angle: float) -> Place:
    """A direction of the plate's frame, turned from inboard towards rearward."""
    cosine, sine = pointing(angle)
    return way[0] * cosine - way[1] * sine, way[0] * sine + way[1] * cosine


@dataclass(frozen=True)
class Reading:
    """Where a ladder is read in the plate's frame: beside which bolt, and which way from the slot its marks go."""

    bolt: Place
    away: Place


class PlateView(View):
    """The plate: outline, slots for the studs and the insert's bolts, window for the insert's housing."""

    def __init__(self, side: str, top_plate: TopPlate, edge: float) -> None:
        super().__init__(side, top_plate, edge)
        self.stud_slots = [
            self._slot(centre, "plate", -1.0, f"plate slot {i + 1}")
            for i, centre in enumerate(top_plate.studs["centres"] if top_plate.studs else ())
        ]
        self.bolt_slots = [
            self._slot(centre, "insert", 1.0, f"insert slot {i + 1}")
            for i, centre in enumerate(top_plate.insert_bolts["centres"] if top_plate.insert_bolts else ())
        ]
        self.window = self._window()
        self.outline = self._outline(())

    def carry(self, engraved: Sequence[Shape]) -> None:
        """Let the outline grow until these marks and words stand on the plate."""
        self.outline = self._outline(engraved)

    def _ends(self, centre: Sequence[float], slot: Any, sense: float) -> tuple[Place, Place]:
        """Centres of a slot's ends in the plate's own frame: bolts of the insert move with it, the tower's stay."""
        least, most = sorted(sense * end for end in slot["reach"])
        inboard, rearward = pointing(slot["direction"])
        return (
            (centre[0] + least * inboard, centre[1] + least * rearward),
            (centre[0] + most * inboard, centre[1] + most * rearward),
        )

    def slot(self, of: Sliding) -> Any:
        """The slots by which plate or insert slide, as the top plate has them."""
        return self.top_plate.plate_slot if of == "plate" else self.top_plate.insert_slot

    def width(self, of: Sliding) -> float:
        """Width of the slots by which plate or insert slide, in mm."""
        return cut_width(self.top_plate, of)

    def _slot(self, centre: Sequence[float], of: Sliding, sense: float, name: str) -> tuple[Place, Place, float, str]:
        first, second = self._ends(centre, self.slot(of), sense)
        return self.sheet(*first), self.sheet(*second), self.width(of), name

    def _window(self) -> Contour | Circle:
        """Everywhere that the insert's housing gets, in every position."""
        across, along = offsets(self.top_plate)
        reach = self.top_plate.insert_slot["reach"]
        forward, inboard = (
            pointing(self.top_plate.plate_slot["direction"]),
            pointing(self.top_plate.insert_slot["direction"]),
        )
        points = [
            self.sheet(
                a * forward[0] + (b + end) * inboard[0],
                a * forward[1] + (b + end) * inboard[1],
            )
            for a, b in zip(across, along, strict=True)
            for end in reach
        ]
        return grown_hull("cut", points, self.window_radius, "window")

    @property
    def window_radius(self) -> float:
        """Of the window's rounds, in mm: the housing's and some room."""
        return float(self.top_plate.clearing["insert"] or 0.0) + _ROOM

    def _outline(self, engraved: Sequence[Shape]) -> Contour | Circle:
        slots = [*self.stud_slots, *self.bolt_slots]
        points = [end for first, second, _, _ in slots for end in (first, second)]
        radius = self.edge + max(width for _, _, width, _ in slots) / 2.0
        # The string runs at its radius outside of these points, and so as far as it has to from what is engraved.
        inward = radius - min(_AROUND_MARKS, radius)
        for shape in engraved:
            area: Any = extent_of(shape)
            low_x, low_y, high_x, high_y = area.bounds
            for x, y in ((low_x, low_y), (low_x, high_y), (high_x, low_y), (high_x, high_y)):
                away = math.dist((x, y), self.at)
                share = max(0.0, 1.0 - inward / away) if away > 0.0 else 0.0
                aside, ahead = share * (x - self.at[0]), share * (y - self.at[1])
                # On either side alike, for a plate that looks the same whichever way its words run.
                points += [(self.at[0] + sign * aside, self.at[1] + ahead) for sign in (1.0, -1.0)]
        window: Any = polygon_of(self.window)
        for _ in range(3):
            # The string around the slots may come too near to the window: it grows by what is missing.
            outline = grown_hull("cut", points, radius, "plate outline")
            area = polygon_of(outline)
            short = self.edge - (
                float(window.distance(area.exterior))
                if area.contains(window)
                else -float(window.hausdorff_distance(area))
            )
            if short <= 1e-6:
                break
            radius += short
        return outline

    def opening(self) -> list[Contour | Circle]:
        """The tower's opening, as it lies under the plate in the middle of its slots.

        A car file counts it from where the strut top was measured; the sheet counts from the middle of all slides.
        """
        opening = self.top_plate.opening
        area: Any = opening_area(self.top_plate)
        if opening is None or area is None:
            return []
        if "radius" in opening:
            at = self.sheet(*(at - middle for at, middle in zip(opening["centre"], self.top_plate.middle, strict=True)))
            return [Circle("reference", at, opening["radius"], style="dashed", name="tower opening")]
        inboard, rearward = self.top_plate.middle
        ring = [self.sheet(float(x) - inboard, float(y) - rearward) for x, y in area.exterior.coords[:-1]]
        return [Contour("reference", tuple((x, y, 0.0) for x, y in ring), style="dashed", name="tower opening")]

    def cuts(self) -> list[Contour | Circle]:
        """The outline first, then every opening."""
        slots = [
            stadium("cut", first, second, width, name)
            for first, second, width, name in (*self.stud_slots, *self.bolt_slots)
        ]
        return [self.outline, *slots, self.window]

    def shapes(self) -> list[Shape]:
        """Cuts, centre lines, stud circle, opening of the tower."""
        shapes: list[Shape] = [*self.cuts(), *self.read_only()]
        for first, second, width, _ in (*self.stud_slots, *self.bolt_slots):
            shapes += cross_lines(first, second, width)
        return shapes

    def read_only(self) -> list[Shape]:
        """Centre lines of the plate, stud circle, opening of the tower."""
        shapes: list[Shape] = []
        studs = self.top_plate.studs
        assert studs is not None
        centre = self.sheet(0.0, 0.0)
        shapes.append(Circle("reference", centre, studs["circle"] / 2.0, style="chain"))
        low_x, low_y, high_x, high_y = self.bounds(self.outline)
        shapes.append(line("reference", (low_x - 4.0, centre[1]), (high_x + 4.0, centre[1]), "chain"))
        shapes.append(line("reference", (centre[0], low_y - 4.0), (centre[0], high_y + 4.0), "chain"))
        return [*shapes, *self.opening()]

    def dimensions(self) -> list[Shape]:
        """Sizes of the outline, of one slot of each kind, and where these are."""
        low_x, low_y, high_x, high_y = self.bounds(self.outline)
        centre = self.sheet(0.0, 0.0)
        feet = self.touching(self.outline)
        shapes: list[Shape] = []
        # The outline: across below, up on the left.
        shapes += across(low_x, high_x, low_y - 16.0, (feet["left"][1], feet["right"][1]), f"{high_x - low_x:.2f}")
        shapes += upward(low_y, high_y, low_x - 27.0, (feet["low"][0], feet["high"][0]), f"{high_y - low_y:.2f}")
        # Insert slots and window fore and aft, from the datum.
        edges = self.touching(self.window)
        shapes += self._from_datum([edges["low"], edges["high"]], low_x - 6.0)
        shapes += self._from_datum(self._axes_of_insert_slots(), low_x - 13.0)
        # The window's ends across, from the datum, within it.
        aside = centre[1] - 0.25 * (edges["high"][1] - edges["low"][1])
        for end in (edges["left"], edges["right"]):
            low, high = sorted((centre[0], end[0]))
            if high - low >= 0.005:
                shapes += across(low, high, aside, (end[1], end[1]), f"{high - low:.2f}", clear_of=self._read_across())
        # Insert slots across, on their side of the window: the front one's ends, where the rear one's end is.
        crossing = self._read_across()
        ranked = sorted(self.bolt_slots, key=lambda slot: -slot[0][1])
        for slot, from_centre in ((ranked[0], False), (ranked[-1], True)):
            one, other = sorted(slot[:2])
            inward = -1.0 if one[1] > centre[1] else 1.0
            y = one[1] + inward * (slot[2] / 2.0 + (6.0 if inward < 0.0 else 4.0))
            if not from_centre:
                shapes += across(one[0], other[0], y, (one[1], other[1]), f"{other[0] - one[0]:.2f}", clear_of=crossing)
            elif len(ranked) > 1:
                far = max((one, other), key=lambda end: abs(end[0] - centre[0]))
                low, high = sorted((centre[0], far[0]))
                shapes += across(low, high, y, (far[1], far[1]), f"{high - low:.2f}", clear_of=crossing)
        # The right-hand stud's slot: its ends, and where they are.
        right = max(self.stud_slots, key=lambda slot: slot[0][0])
        lower, upper = sorted((right[0], right[1]), key=lambda place: place[1])
        shapes += upward(lower[1], upper[1], high_x + 8.0, (lower[0], upper[0]), f"{upper[1] - lower[1]:.2f}")
        low, high = sorted((centre[1], upper[1]))
        shapes += upward(low, high, high_x + 16.0, (high_x + 4.0, upper[0]), f"{high - low:.2f}")
        low, high = sorted((centre[0], right[0][0]))
        foot = (low_y - 4.0, lower[1]) if high > centre[0] else (lower[1], low_y - 4.0)
        shapes += across(low, high, low_y - 8.0, foot, f"{high - low:.2f}")
        # The stud's slot farthest from that one, fore and aft: its rear end.
        farthest = max(self.stud_slots, key=lambda slot: abs(slot[0][1] - right[0][1]))
        if abs(farthest[0][1] - right[0][1]) > 0.005:
            shapes += self._from_datum([min(farthest[:2], key=lambda place: place[1])], low_x - 20.0)
        return shapes

    def _read_across(self) -> list[Any]:
        """Lines that no number should stand on: the upright centre line and the tower's opening."""
        import shapely

        _, low_y, _, high_y = self.bounds(self.outline)
        x, _ = self.sheet(0.0, 0.0)
        upright = shapely.LineString([(x, low_y), (x, high_y)])
        return [upright, *(polygon_of(shape).exterior for shape in self.opening())]

    def _axes_of_insert_slots(self) -> list[Place]:
        """The left ends' centres of the insert's slots in front and in the rear; all ends of slots that run askew."""
        ends = [end for first, second, _, _ in self.bolt_slots for end in sorted((first, second))]
        heights = {round(y, 6): (x, y) for x, y in reversed(ends)}
        return [heights[min(heights)], heights[max(heights)]] if len(heights) > 1 else list(heights.values())

    def _from_datum(self, places: Sequence[Place], x: float) -> list[Shape]:
        """Distances of places from the centre line across, one above the other at x."""
        _, datum = self.sheet(0.0, 0.0)
        low_x, *_ = self.bounds(self.outline)
        shapes: list[Shape] = []
        for at in places:
            low, high = sorted((datum, at[1]))
            if high - low < 0.005:
                continue
            feet = (low_x - 4.0, at[0]) if at[1] > datum else (at[0], low_x - 4.0)
            shapes += upward(low, high, x, feet, f"{high - low:.2f}")
        return shapes


class InsertView(View):
    """The insert: bolt holes, bearing seat off the middle, pointers."""

    def __init__(self, side: str, top_plate: TopPlate, edge: float) -> None:
        super().__init__(side, top_plate, edge, _INSERT_AT)
        bolts = top_plate.insert_bolts
        assert bolts is not None
        bolt = top_plate.insert_slot["bolt"] or (top_plate.insert_slot["width"] or 9.0) - 1.0
        self.hole = slot_width(bolt) if bolt in FITS else bolt + 1.0
        self.bolts = [self.sheet(*centre) for centre in bolts["centres"]]
        angle = math.radians(top_plate.insert["angles"][0])
        offset = top_plate.insert["offset"]
        self.seat = self.sheet(offset * math.cos(angle), offset * math.sin(angle))
        self.radius = float(top_plate.clearing["insert"] or 0.0)
        grow = self.edge + self.hole / 2.0
        spread = max(0.0, math.dist(self.seat, self.sheet(0.0, 0.0)) + self.radius + 2.0 - grow)
        inboard = np.array(pointing(top_plate.insert_slot["direction"]))
        sides = [self.sheet(*(sign * spread * inboard)) for sign in (1.0, -1.0)] if spread > 0.0 else []
        self.outline = grown_hull("cut", [*self.bolts, *sides], grow, "insert outline")
        self.read_at: dict[int, Reading] = {}
        """Where the ladder of each position is read."""

    def end(self, way: Place) -> float:
        """How far its outline gets from its middle in a direction of the plate, in whichever position it is, in mm."""
        area: Any = polygon_of(self.outline)
        sign = 1.0 if self.side == "left" else -1.0
        points = np.array([(sign * (x - self.at[0]), self.at[1] - y) for x, y in area.exterior.coords])
        angles = self.top_plate.insert["angles"]
        ways = [_turned(way, angles[0] - angle) for angle in angles]
        return max(float((points @ np.array(one)).max()) for one in ways)

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
        for (at, way), names in self.pointers().items():
            shapes += self._pointer(at, way, names)
        return shapes

    def pointers(self) -> dict[tuple[Place, Place], str]:
        """The holes that carry a pointer, which way on the sheet it points, and the positions that are read by it.

        Turned to a position, the hole stands at the bolt whose ladder that position has, and its pointer points there.
        A position in which the insert is turned over shows its blank face, and has none.
        """
        bolts, angles = self.top_plate.insert_bolts, self.top_plate.insert["angles"]
        assert bolts is not None
        found: dict[tuple[Place, Place], str] = {}
        for position, reading in self.read_at.items():
            back = angles[0] - angles[position]
            inboard, rearward = _turned(reading.bolt, back)
            apart = [math.dist((inboard, rearward), centre) for centre in bolts["centres"]]
            nearest = int(np.argmin(apart))
            if apart[nearest] < 0.02 * bolts["circle"]:
                way = _turned(reading.away, back)
                x, y = self.sheet(*way)
                key = self.bolts[nearest], (round(x - self.at[0], 9), round(y - self.at[1], 9))
                found[key] = found.get(key, "") + letter(position)
        return found

    def _pointer(self, at: Place, way: Place, names: str) -> list[Shape]:
        """An arrow from a hole towards the insert's end, and the letters of its positions where not all share it."""
        out = np.array(way)
        aside = np.array([-out[1], out[0]])
        foot = np.array(at) + (self.hole / 2.0 + 1.0) * out
        # As far as the edge allows; an insert's edge of no width takes none.
        tip = np.array(at) + (self.hole / 2.0 + max(self.edge - 1.0, 2.0)) * out
        corners = (foot - 2.0 * aside, foot + 2.0 * aside, tip)
        vertices = tuple((float(x), float(y), 0.0) for x, y in corners)
        shapes: list[Shape] = [Contour("engrave", vertices, style="thin", name=f"pointer {names}")]
        if len(names) < self.top_plate.positions:
            # Towards the insert's middle, or else on the right, where no extension line runs.
            inward = np.array(self.sheet(0.0, 0.0)) - np.array(at) + np.array([1e-3, 0.0])
            x, y = np.array(at) + (self.hole / 2.0 + 4.0) * np.sign(inward @ aside) * aside
            shapes.append(Text("engrave", (float(x), float(y) - NUMERALS / 2.0), NUMERALS, names, "middle"))
        return shapes

    def dimensions(self) -> list[Shape]:
        """Sizes of the outline, the holes' distance, the offset."""
        low_x, low_y, high_x, high_y = self.bounds(self.outline)
        middle = self.sheet(0.0, 0.0)
        shapes = across(low_x, high_x, low_y - 14.0, (middle[1], middle[1]), f"{high_x - low_x:.2f}")
        first, second = sorted(self.bolts, key=lambda at: at[1])[:: max(1, len(self.bolts) - 1)][:2]
        shapes += upward(first[1], second[1], low_x - 10.0, (first[0], second[0]), f"{second[1] - first[1]:.2f}")
        offset = abs(self.seat[0] - middle[0])
        if offset > 0.0:
            left, right = sorted((middle[0], self.seat[0]))
            shapes += across(
                left, right, high_y + 9.0, (self.seat[1] + 7.0, self.seat[1] + 7.0), f"e = {offset:.2f}", outside=True
            )
        return shapes
