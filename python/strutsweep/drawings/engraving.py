"""What is engraved: marks beside slots, their captions, whose part it is, an arrow to the front."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import xarray as xr

from strutsweep._core import Corner
from strutsweep.drawings.dimensioning import NUMERALS
from strutsweep.drawings.geometry import Contour, Place, Shape, Text, extent_of, line, polygon_of, width_of
from strutsweep.drawings.views import InsertView, PlateView, ladder_bolt, pointing
from strutsweep.top_plates.hardware import letter
from strutsweep.top_plates.marking import Sliding

__all__ = ["labels", "ladders"]

LETTERS: Final = 3.5
_LEAST_ROOM: Final = 1.0
"""Between the front arrow with its words and the next cut or mark, in mm."""
_TICK: Final = {False: 2.5, True: 4.5}


def ladders(plate: PlateView, camber: Sequence[xr.Dataset], caster: xr.Dataset) -> list[Shape]:
    """Marks for each insert position beside an insert slot of its own, marks for caster beside the first stud."""
    shapes: list[Shape] = []
    studs = plate.top_plate.studs
    assert studs is not None
    for ladder in camber:
        position = int(ladder.attrs["position"])
        outermost, side = ladder_bolt(plate.top_plate, position)
        shapes += _ladder(plate, ladder, outermost, "insert", side, letter(position), shapes)
    shapes += _ladder(plate, caster, studs["centres"][0], "plate", 1.0, "", shapes)
    return shapes


def _ladder(
    plate: PlateView,
    ladder: xr.Dataset,
    bolt: Sequence[float],
    of: Sliding,
    side: float,
    name: str,
    engraved: Sequence[Shape],
) -> list[Shape]:
    """Ticks square to a slot from its edge outward, and their labels, on the side that `side` says.

    Captions keep clear of every cut and of what is engraved already.
    """
    if not ladder.sizes["mark"]:
        return []
    slot: Any = plate.slot(of)
    # Bolts of the insert move with it; the tower's stay, and the plate's marks move past them.
    sense = 1.0 if of == "insert" else -1.0
    along = np.array(pointing(slot["direction"]))
    away = np.array([-along[1], along[0]]) * side
    start = plate.width(of) / 2.0 + 1.0
    shapes: list[Shape] = []
    upright = abs(along[0]) > 0.7
    written: list[tuple[float, float]] = []
    entries = zip(ladder.slide.values, ladder.label.values, ladder.long.values, strict=True)
    for at, label, long in sorted(entries, key=lambda mark: (not mark[2], abs(mark[0]))):
        foot = np.array(bolt) + sense * float(at) * along + start * away
        tip = foot + _TICK[bool(long)] * away
        shapes.append(line("engrave", plate.sheet(*foot), plate.sheet(*tip), name=f"mark {ladder.attrs['of']} {name}"))
        # A label needs room along the slot, or has none; those of long marks are written first.
        half = (0.5 * width_of(str(label), NUMERALS) if upright else NUMERALS / 2.0) + 0.8
        if any(abs(float(at) - other) < half + other_half for other, other_half in written):
            continue
        written.append((float(at), half))
        shapes.append(_beside(plate, foot + (_TICK[True] + 1.2) * away, away, str(label), upright))
    ends = np.array([float(ladder.slide.values.min()), float(ladder.slide.values.max())])
    middle = np.array(bolt) + sense * ends.mean() * along
    degrees = ladder.attrs["kind"] == "degrees"
    if upright:
        what = f"CAMBER CHANGE deg, INSERT {name}" if degrees else f"INSERT {name}, mm"
        # Beyond the labels, moved along the slot, or beyond its ends: where no cut takes a letter away.
        out = middle + (start + _TICK[True] + 5.6) * away
        least, most = slot["reach"]
        half_way = np.array(bolt) + sense * 0.5 * (least + most) * along - 0.5 * NUMERALS * away
        tried: list[Text] = []
        # Where there is no room for all of it, the position's letter has to do.
        for words in (
            what,
            f"{name}: {'deg change' if degrees else 'mm'}",
            f"{name}: {'deg' if degrees else 'mm'}",
            name,
        ):
            beyond = 0.5 * (most - least + plate.width(of) + width_of(words, NUMERALS)) + 4.0
            places = [out + step * along for step in (0.0, -5.0, 5.0, -10.0, 10.0, -15.0, 15.0)]
            places += [half_way + end * beyond * along for end in (-1.0, 1.0)]
            tried += [_beside(plate, place, away, words, True) for place in places]
        shapes.append(next((text for text in tried if _free(plate, text, [*engraved, *shapes])), tried[-1]))
    else:
        # On the slot's other side, along it.
        x, y = plate.sheet(*(middle - (start + 0.8) * away))
        if x > plate.sheet(*middle)[0]:
            x += NUMERALS
        captions = ("CASTER CHANGE deg", "CASTER deg", "deg") if degrees else ("PLATE mm", "mm")
        turned = [Text("engrave", (x, y), NUMERALS, words, "middle", 90.0) for words in captions]
        shapes.append(next((text for text in turned if _free(plate, text, [*engraved, *shapes])), turned[-1]))
    return shapes


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
