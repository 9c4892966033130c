"""Dimensions on a sheet: arrows, extension lines, numerals, centre lines (ISO 129-1 and ISO 3098, from memory)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

from strutsweep.drawings.geometry import Contour, Place, Shape, Text, extent_of, line, width_of

__all__ = ["NUMERALS", "across", "arrow", "cross_lines", "upward"]

NUMERALS: Final = 2.5
"""Least height of numerals in mm (ISO 3098, from memory)."""
_ARROW: Final = 3.0


def cross_lines(first: Place, second: Place, width: float) -> list[Shape]:
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


def arrow(tip: Place, way: Place) -> Contour:
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


def across(
    low: float,
    high: float,
    y: float,
    feet: tuple[float, float],
    words: str,
    *,
    outside: bool = False,
    clear_of: Sequence[Any] = (),
) -> list[Shape]:
    """A dimension across the sheet at height y, with extension lines from two feet.

    Its words stand in the middle, or beside it where one of the lines `clear_of` would cross them.
    """
    shapes: list[Shape] = []
    for x, foot in ((low, feet[0]), (high, feet[1])):
        away = 1.0 if y > foot else -1.0
        shapes.append(line("reference", (x, foot + away * 1.0), (x, y + away * 2.0)))
    narrow = outside or high - low < width_of(words, NUMERALS) + 2.5 * _ARROW
    if narrow:
        shapes.append(line("reference", (low - 3.0 * _ARROW, y), (high + 3.0 * _ARROW, y)))
        shapes += [arrow((low, y), (1.0, 0.0)), arrow((high, y), (-1.0, 0.0))]
        beside = 3.0 * _ARROW + 1.0
        tried = [
            Text("reference", (high + beside, y - NUMERALS / 2.0), NUMERALS, words),
            Text("reference", (low - beside, y - NUMERALS / 2.0), NUMERALS, words, "right"),
        ]
        shapes.append(next((text for text in tried if not _crossed(text, clear_of)), tried[0]))
    else:
        shapes.append(line("reference", (low, y), (high, y)))
        shapes += [arrow((low, y), (-1.0, 0.0)), arrow((high, y), (1.0, 0.0))]
        tried = [
            Text("reference", (low + share * (high - low), y + 1.0), NUMERALS, words, "middle")
            for share in (0.5, 0.35, 0.65, 0.25, 0.75)
        ]
        shapes.append(next((text for text in tried if not _crossed(text, clear_of)), tried[0]))
    return shapes


def _crossed(text: Text, lines: Sequence[Any]) -> bool:
    room = extent_of(text).buffer(0.6)
    return any(room.intersects(one) for one in lines)


def upward(low: float, high: float, x: float, feet: tuple[float, float], words: str) -> list[Shape]:
    """A dimension up the sheet at x, with extension lines from two feet; its words read from the right."""
    shapes: list[Shape] = []
    for y, foot in ((low, feet[0]), (high, feet[1])):
        away = 1.0 if x > foot else -1.0
        shapes.append(line("reference", (foot + away * 1.0, y), (x + away * 2.0, y)))
    if high - low < width_of(words, NUMERALS) + 2.5 * _ARROW:
        shapes.append(line("reference", (x, low - 3.0 * _ARROW), (x, high + 3.0 * _ARROW)))
        shapes += [arrow((x, low), (0.0, 1.0)), arrow((x, high), (0.0, -1.0))]
        at = (x - 1.0, high + 3.0 * _ARROW + 1.0)
        shapes.append(Text("reference", (at[0] + 1.0 + NUMERALS / 2.0, at[1]), NUMERALS, words, "left", 90.0))
    else:
        shapes.append(line("reference", (x, low), (x, high)))
        shapes += [arrow((x, low), (0.0, -1.0)), arrow((x, high), (0.0, 1.0))]
        shapes.append(Text("reference", (x - 1.0, (low + high) / 2.0), NUMERALS, words, "middle", 90.0))
    return shapes
