"""What is engraved: marks beside slots, their captions, whose part it is, an arrow to the front."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, Final

import numpy as np
import xarray as xr

from strutsweep._core import Corner
from strutsweep.drawings.dimensioning import NUMERALS
from strutsweep.drawings.geometry import Contour, Place, Shape, Text, extent_of, line, polygon_of, width_of
from strutsweep.drawings.views import InsertView, PlateView, Reading, pointing
from strutsweep.top_plates.hardware import letter
from strutsweep.top_plates.marking import Sliding

__all__ = ["labels", "ladders"]

LETTERS: Final = 3.5
_LEAST_ROOM: Final = 1.0
"""Between the front arrow with its words and the next cut or mark, in mm."""
_TICK: Final = {False: 2.5, True: 4.5}
_BEYOND: Final = 0.5
"""From the end of what may cover a mark to the mark, and around marks, in mm."""
_ROW: Final = 10.0
"""From one ladder to the next one beyond it, in mm."""


def ladders(
    plate: PlateView, insert: InsertView, camber: Sequence[xr.Dataset], caster: Sequence[xr.Dataset]
) -> tuple[list[Shape], list[str]]:
    """Marks for each insert position beyond the insert's end, marks for caster beside a stud; and what went wrong.

    The insert lies on the plate and slides over it: marks that are read by its pointer begin where it ends, so that it
    covers none of them. A second ladder goes to the other end of the insert, or in a row of its own beyond the first,
    where no cut takes a mark away. The pointers of the insert are told where they are read.
    """
    shapes: list[Shape] = []
    warnings: list[str] = []
    captions: list[Callable[[Sequence[Shape]], list[Text]]] = []
    plates, rows = plate.top_plate, range(len(camber))
    assert plates.studs is not None
    assert plates.insert_bolts is not None
    bolts = [(float(x), float(y)) for x, y in plates.insert_bolts["centres"]]
    along = pointing(plates.insert_slot["direction"])
    for ladder in camber:
        position = int(ladder.attrs["position"])
        tried = []
        for row, side in itertools.product(rows, (-1.0, 1.0) if position % 2 == 0 else (1.0, -1.0)):
            away = -along[1] * side, along[0] * side
            outward = [away[0] * x + away[1] * y for x, y in bolts]
            start = insert.end(away) - max(outward) + _BEYOND + row * _ROW
            tried += [
                (Reading(bolt, away), start)
                for bolt, out in zip(bolts, outward, strict=True)
                if out > max(outward) - _BEYOND
            ]
        drawn = [_ladder(plate, ladder, reading, start, "insert", letter(position)) for reading, start in tried]
        best = next((i for i, marked in enumerate(drawn) if _clear(plate, marked, shapes)), None)
        if best is None:
            warnings.append(f"no room for all marks of insert position {letter(position)}")
            best = 0
        reading, start = tried[best]
        insert.read_at[position] = reading
        shapes += drawn[best]
        if ladder.sizes["mark"]:
            captions.append(partial(_row_caption, plate, ladder, reading, start, letter(position)))
    # Beyond the washer of the stud's nut: as wide as two bolts (ISO 7089, from memory).
    start = max(plate.width("plate") / 2.0 + 1.0, float(plates.plate_slot["bolt"] or 0.0) + _BEYOND)
    along = pointing(plates.plate_slot["direction"])
    for ladder in caster:
        names = ladder.attrs["positions"] if len(caster) > 1 else ""
        readings = [
            Reading((float(x), float(y)), (-along[1] * side, along[0] * side))
            for x, y in plates.studs["centres"]
            for side in (1.0, -1.0)
        ]
        drawn = [_ladder(plate, ladder, reading, start, "plate", names) for reading in readings]
        best = next((i for i, marked in enumerate(drawn) if _clear(plate, marked, shapes)), None)
        if best is None:
            warnings.append("no room for all marks of the plate's slides")
            best = 0
        shapes += drawn[best]
        if ladder.sizes["mark"]:
            captions.append(partial(_slot_caption, plate, ladder, readings[best], start, names))
    # The plate grows for its marks; words take what room there is then.
    plate.carry(shapes)
    for caption in captions:
        shapes += caption(shapes)
    plate.carry(shapes)
    return shapes, warnings


def _ladder(
    plate: PlateView, ladder: xr.Dataset, reading: Reading, start: float, of: Sliding, name: str
) -> list[Shape]:
    """Ticks square to a slot, from `start` outward of its middle line, and their labels."""
    slot: Any = plate.slot(of)
    # Bolts of the insert move with it; the tower's stay, and the plate's marks move past them.
    sense = 1.0 if of == "insert" else -1.0
    along, away, bolt = np.array(pointing(slot["direction"])), np.array(reading.away), np.array(reading.bolt)
    shapes: list[Shape] = []
    upright = abs(along[0]) > 0.7
    written: list[tuple[float, float]] = []
    entries = zip(ladder.slide.values, ladder.label.values, ladder.long.values, strict=True)
    for at, label, long in sorted(entries, key=lambda mark: (not mark[2], abs(mark[0]))):
        foot = bolt + sense * float(at) * along + start * away
        tip = foot + _TICK[bool(long)] * away
        shapes.append(line("engrave", plate.sheet(*foot), plate.sheet(*tip), name=f"mark {ladder.attrs['of']} {name}"))
        # A label needs room along the slot, or has none; those of long marks are written first.
        half = (0.5 * width_of(str(label), NUMERALS) if upright else NUMERALS / 2.0) + 0.8
        if any(abs(float(at) - other) < half + other_half for other, other_half in written):
            continue
        written.append((float(at), half))
        shapes.append(_beside(plate, foot + (_TICK[True] + 1.2) * away, away, str(label), upright))
    return shapes


def _clear(plate: PlateView, marked: Sequence[Shape], engraved: Sequence[Shape]) -> bool:
    """Whether no cut and nothing that is engraved already takes a mark or a label away."""
    _, *holes = (polygon_of(cut) for cut in plate.cuts())
    taken = [*holes, *(extent_of(shape) for shape in engraved)]
    return not any(extent_of(shape).buffer(_BEYOND).intersects(one) for shape in marked for one in taken)


def _row_caption(
    plate: PlateView, ladder: xr.Dataset, reading: Reading, start: float, name: str, engraved: Sequence[Shape]
) -> list[Text]:
    """What the marks of an insert position are, at an end of their row or beyond it."""
    along, away = np.array(pointing(plate.slot("insert")["direction"])), np.array(reading.away)
    upright = abs(along[0]) > 0.7
    least, most = float(ladder.slide.values.min()), float(ladder.slide.values.max())
    degrees = ladder.attrs["kind"] == "degrees"
    line_of_ticks = np.array(reading.bolt) + (start + (0.0 if upright else NUMERALS)) * away
    middle = line_of_ticks + 0.5 * (least + most) * along
    captions = (
        (f"CAMBER CHANGE deg, INSERT {name}", f"CAMBER deg, INSERT {name}", f"INSERT {name}, deg", f"{name}: deg")
        if degrees
        else (f"INSERT {name}, mm", f"{name}: mm")
    )
    tried: list[Text] = []
    for words in (*captions, name):
        size = width_of(words, NUMERALS) if upright else NUMERALS
        beyond = 0.5 * (most - least + size) + 5.0
        places = [middle + end * beyond * along for end in (1.0, -1.0)]
        tried += [_beside(plate, place, away, words, upright) for place in places]
    return [next((text for text in tried if _free(plate, text, engraved)), tried[-1])]


def _slot_caption(
    plate: PlateView, ladder: xr.Dataset, reading: Reading, start: float, names: str, engraved: Sequence[Shape]
) -> list[Text]:
    """What the marks beside a stud's slot are: on its other side along it, or beyond an end of the ladder."""
    along, away = np.array(pointing(plate.slot("plate")["direction"])), np.array(reading.away)
    least, most = float(ladder.slide.values.min()), float(ladder.slide.values.max())
    middle = np.array(reading.bolt) - 0.5 * (least + most) * along
    opposite = middle - (plate.width("plate") / 2.0 + 1.8) * away
    insert = f", INSERT {names}" if names else ""
    upright = abs(along[0]) > 0.7
    tried: list[Text] = []
    degrees = ladder.attrs["kind"] == "degrees"
    for words in ("CASTER CHANGE deg", "CASTER deg", "deg") if degrees else ("PLATE mm", "mm"):
        told = words + insert
        if upright:
            tried.append(_beside(plate, opposite, -away, told, True))
            continue
        x, y = plate.sheet(*opposite)
        x += NUMERALS if x > plate.sheet(*middle)[0] else 0.0
        tried.append(Text("engrave", (x, y), NUMERALS, told, "middle", 90.0))
        beyond = 0.5 * (most - least) + 2.0 * NUMERALS
        ends = [middle + start * away + end * beyond * along for end in (1.0, -1.0)]
        tried += [_beside(plate, end, away, told, False) for end in ends]
    return [next((text for text in tried if _free(plate, text, engraved)), tried[-1])]


def _free(plate: PlateView, text: Text, engraved: Sequence[Shape]) -> bool:
    """Whether words stand on the plate and clear of every cut and of what else is engraved."""
    outline, *holes = (polygon_of(cut) for cut in plate.cuts())
    room: Any = extent_of(text).buffer(1.0)
    area: Any = outline
    taken = [*holes, *(extent_of(shape) for shape in engraved)]
    return bool(area.contains(room)) and not any(room.intersects(one) for one in taken)


def _beside(plate: PlateView, place: Any, away: Any, words: str, upright: bool) -> Text:
    x, y = plate.sheet(*place)
    dx, dy = (end - start for end, start in zip(plate.sheet(*(place + away)), (x, y), strict=True))
    if upright:
        return Text("engrave", (x, y if dy > 0.0 else y - NUMERALS), NUMERALS, words, "middle")
    return Text("engrave", (x, y - NUMERALS / 2.0), NUMERALS, words, "left" if dx > 0.0 else "right")


def labels(
    corner: Corner, plate: PlateView, insert: InsertView, engraved: Sequence[Shape], drawn: Sequence[Shape]
) -> list[Shape]:
    """What is engraved into the parts beside marks: whose they are, and an arrow to the front where there is room.

    Clear of every cut and mark, and of what else is drawn there if that leaves room.
    """
    import shapely

    outline, *holes = (polygon_of(cut) for cut in plate.cuts())
    area: Any = outline
    marked = [extent_of(shape) for shape in engraved if shape.layer == "engrave"]
    taken: Any = shapely.union_all([*holes, *marked])
    low_x, low_y, high_x, high_y = plate.bounds(plate.outline)
    xs, ys = np.meshgrid(np.arange(low_x, high_x, 2.0), np.arange(low_y, high_y, 2.0))
    spots = shapely.box(xs.ravel() - 9.0, ys.ravel() - 11.0, xs.ravel() + 9.0, ys.ravel() + 16.0)
    room = np.minimum(shapely.distance(spots, taken), shapely.distance(spots, area.exterior))
    room = np.where(shapely.within(spots, area), room, -1.0)
    # Words that the fewest lines cross come first, then those with the most room; the arrow can stand being crossed.
    words = shapely.box(xs.ravel() - 9.0, ys.ravel() - 11.0, xs.ravel() + 9.0, ys.ravel() - 0.5)
    crossed = sum(shapely.intersects(words, _line_of(shape)).astype(int) for shape in drawn)
    best = int(np.lexsort((-room, crossed, room <= _LEAST_ROOM))[0])
    shapes = _front_arrow((float(xs.ravel()[best]), float(ys.ravel()[best])), corner.side)
    x, y = insert.at
    away = -12.0 if insert.seat[0] >= x else 12.0
    shapes.append(Text("engrave", (x + away, y - 20.0), LETTERS, corner.side[0].upper(), "middle", bold=True))
    return shapes


def _line_of(shape: Shape) -> Any:
    """Where the pen goes: of a circle and a closed contour its edge, not what it holds."""
    import shapely

    if isinstance(shape, Contour) and not shape.closed:
        return shapely.LineString([vertex[:2] for vertex in shape.vertices])
    return extent_of(shape) if isinstance(shape, Text) else polygon_of(shape).exterior


def _front_arrow(at: Place, side: str) -> list[Shape]:
    """An arrow to the front of the car, and whose plate it is."""
    x, y = at
    head = Contour("engrave", ((x - 2.5, y + 9.0, 0.0), (x, y + 15.0, 0.0), (x + 2.5, y + 9.0, 0.0)), style="thin")
    return [
        line("engrave", (x, y), (x, y + 9.0), name="front"),
        head,
        Text("engrave", (x, y - 5.0), LETTERS, "FRONT", "middle"),
        Text("engrave", (x, y - 10.5), LETTERS, side.upper(), "middle", bold=True),
    ]
