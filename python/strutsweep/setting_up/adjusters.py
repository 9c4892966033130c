"""Adjusters as a fitter calls them: parts, ways, slots; and what goes along with them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from strutsweep._core import Axle
from strutsweep._wanting import Along
from strutsweep.words import SETTINGS

__all__ = [
    "STAYS",
    "added",
    "followed",
    "part_name",
    "slide_text",
    "slides_of",
    "thing_name",
    "way_text",
]

# How to tell the move of an adjuster: the part, what it does, what is positive, what is negative, decimals.
_WAYS: Final = {
    "mount_in": ("strut top", "strut top across the car", "inboard", "outboard", 1),
    "mount_back": ("strut top", "strut top fore and aft", "rearward", "forward", 1),
    "mount_up": ("strut top", "shims of the strut top", "up", "down", 1),
    "tie_rod": ("tie rod", "tie rod", "longer", "shorter", 2),
    "clamp": ("knuckle in its clamp, top of the wheel", "knuckle in its clamp", "outboard", "inboard", 2),
    "arm": ("lower arm", "lower arm", "longer", "shorter", 1),
    "tie_outer_up": ("outer tie-rod joint on the knuckle", "spacer at the outer tie-rod joint", "up", "down", 1),
    "ball_joint_down": ("ball joint on the knuckle", "spacer at the ball joint", "down", "up", 1),
    "hub_spacer": ("wheel, by a spacer,", "wheel spacer", "outboard", "inboard", 1),
}


STAYS: Final = "as it is"
"""What is said of a move too small to be shown."""


def part_name(adjuster: str) -> str:
    """An adjuster as a fitter would call it."""
    return _WAYS[adjuster][1]


def way_text(adjuster: str, amount: float) -> str:
    """The move of an adjuster, its direction in words.

    Examples
    --------
    >>> from strutsweep.setting_up.adjusters import way_text
    >>> way_text("mount_in", -3.2), way_text("tie_rod", 1.25)
    ('3.2 mm outboard', '1.25 mm longer')
    """
    _, _, positive, negative, decimals = _WAYS[adjuster]
    body = f"{abs(amount):.{decimals}f}"
    if float(body) == 0.0:
        return STAYS
    return f"{body} {SETTINGS[adjuster]['units']} {positive if amount > 0.0 else negative}"


def thing_name(adjuster: str) -> str:
    """The thing that an adjuster moves, as a sentence has it."""
    return _WAYS[adjuster][0]


def followed(change: Mapping[str, float], along: Along) -> dict[str, float]:
    """A change with what goes along with its adjusters: a strut top on a tilted tower falls as it slides inboard.

    Examples
    --------
    >>> from strutsweep.setting_up.adjusters import followed
    >>> followed({"mount_in": 10.0}, {"mount_up": {"mount_in": -0.1, "mount_back": 0.05}})
    {'mount_in': 10.0, 'mount_up': -1.0}
    """
    whole = dict(change)
    for name, rates in along.items():
        moved = [by for by in rates if by in change]
        if moved and name not in change:
            whole[name] = math.fsum(rates[by] * change[by] for by in moved)
    return whole


def added(stand: Mapping[str, float], change: Mapping[str, float]) -> dict[str, float]:
    """A change on top of where adjusters stand."""
    return {name: stand.get(name, 0.0) + change.get(name, 0.0) for name in {**stand, **change}}


def slides_of(car: Axle, change: Mapping[str, float]) -> dict[str, float]:
    """How far plate and insert slide along their slots for a change of the strut top, mm; empty without a top plate.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.setting_up.adjusters import slides_of
    >>> car = ss.demo("gravel_hatch")
    >>> moved = {"mount_in": 10.0, "mount_up": 10.0 * car.top_plate.rise["mount_in"]}
    >>> {name: round(value, 2) for name, value in slides_of(car, moved).items()}
    {'plate': 0.04, 'insert': 10.04}
    """
    plate = car.top_plate
    if plate is None or not any(change.get(name) for name in ("mount_in", "mount_back", "mount_up")):
        return {}
    # Left: inboard is -Y, rearward is -X. The slides are affine in the place, the same on either side.
    inboard, rearward, up = (change.get(name, 0.0) for name in ("mount_in", "mount_back", "mount_up"))
    there = plate.axes("left")[:2] @ np.array([-rearward, -inboard, up])
    places = np.array([[0.0, 0.0], there])
    slides = plate.slides(places[:, 0].copy(), places[:, 1].copy(), np.zeros(2, dtype=np.int64))
    return {part: float(slid[1] - slid[0]) for part, slid in zip(("plate", "insert"), slides, strict=True)}


def slide_text(car: Axle, part: str, amount: float) -> str:
    """A slide of plate or insert along its slot, its direction in words."""
    body = f"{abs(amount):.1f}"
    if car.top_plate is None or float(body) == 0.0:
        return STAYS
    slot = car.top_plate.plate_slot if part == "plate" else car.top_plate.insert_slot
    turn = math.radians(slot["direction"])
    fore_and_aft = abs(math.sin(turn)) > abs(math.cos(turn))
    ways = ("rearward", "forward") if fore_and_aft else ("inboard", "outboard")
    positive = amount * (math.sin(turn) if fore_and_aft else math.cos(turn)) > 0.0
    return f"{body} mm {ways[0] if positive else ways[1]}"
