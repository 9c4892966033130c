"""How much room a setting leaves: every limit that the car file tells, over all of travel and lock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import xarray as xr

from strutsweep._core import Axle
from strutsweep.errors import ReachError
from strutsweep.heights import heights
from strutsweep.setting_up._kinds import SIDES, Side
from strutsweep.setting_up.adjusters import added
from strutsweep.setting_up.plate_margins import gaps_over, stand_for
from strutsweep.setting_up.tie_rods import steering_wheel, turn_tie_rod
from strutsweep.sweeping import sweep
from strutsweep.words import SETTINGS

__all__ = ["Margin", "margins"]

_TRAVELS: Final = 61
_RACKS: Final = 61
_OTHERWISE_TRAVEL: Final = (60.0, 60.0)
_OTHERWISE_STROKE: Final = 50.0
_ON_THE_FACE_MM: Final = 1e-9


@dataclass(frozen=True)
class Margin:
    """The least room to one limit. Made by `margins`.

    Attributes
    ----------
    name : str
        The limit, in words.
    field : str
        Where the car file tells it; empty for a limit that the linkage itself sets.
    side : {"left", "right", "both"}
        Which corner.
    room : float
        How much is left, in ``unit``; negative: beyond the limit.
    unit : str
        ``"mm"``, ``"deg"``, or ``"1"`` for a sine.
    travel, rack : float or None
        Where room is least, mm; None where that plays no part.
    note : str
        Where the parts stand, in words, where that is worth telling.
    """

    name: str
    field: str
    side: Literal["left", "right", "both"]
    room: float
    unit: str
    travel: float | None = None
    rack: float | None = None
    note: str = ""

    @property
    def kept(self) -> bool:
        """Whether the limit is kept."""
        return self.room >= 0.0

    @property
    def where(self) -> str:
        """Where room is least, in words."""
        if self.note:
            return self.note
        if self.travel is None or self.rack is None:
            return "at ride height, straight"
        height = "ride height" if abs(self.travel) < 0.5 else f"{abs(self.travel):.0f} mm of "
        if abs(self.travel) >= 0.5:
            height += "bump" if self.travel > 0.0 else "droop"
        if abs(self.rack) < 0.5:
            return f"{height}, straight"
        return f"{height}, rack {abs(self.rack):.0f} mm to the {'left' if self.rack > 0.0 else 'right'}"

    def __str__(self) -> str:
        unit = "" if self.unit == "1" else f" {self.unit}"
        digits = 3 if self.unit == "1" else 1
        room = (
            f"{self.room:.{digits}f}{unit} left" if self.kept else f"BEYOND the limit by {-self.room:.{digits}f}{unit}"
        )
        return f"{self.name}, {self.side}: {room} ({self.where})"


def margins(
    car: Axle,
    left: Mapping[str, float] | None = None,
    right: Mapping[str, float] | None = None,
    *,
    standing: Mapping[Side, Mapping[str, float]] | None = None,
    measured: Axle | None = None,
) -> tuple[Margin, ...]:
    """The least room that a setting leaves to each limit, over all of travel and lock.

    Parameters
    ----------
    car : Axle
        The car. Limits that its file does not tell are not checked; travel without stops is taken as 60 mm either
        way, a rack without a stroke as 50 mm.
    left, right : mapping, optional
        Setting of either corner, mm and deg.
    standing : mapping, optional
        By side where the adjusters stand before that setting, from the middle of their reach: slots and the threads of
        the tie rods are counted from there.
    measured : Axle, optional
        The car with its adjusters in the middle of their reach: its stops are counted from there, what stands since
        comes on top. The car itself unless given.

    Returns
    -------
    tuple of Margin
        Reach of the adjusters as the car file limits it; slots of an adjustable top (``[top_plate]``), its insert in
        the position that leaves most room, and the gaps of nut, insert and rod to the tower's opening; bump and droop
        travel at held ride height, bearing angle, tie
        rod to over-centre, thread of the tie rods, and the linkage's own ends; the scarcest of each kind, side by side.
        Swept over 61 travels by 61 rack positions a side, from stop to stop as they are with the setting.

    Examples
    --------
    >>> import strutsweep as ss
    >>> found = ss.margins(ss.demo("gravel_hatch"), left={"mount_in": 25.0})
    >>> print(next(margin for margin in found if not margin.kept))
    slot of the top mount, in and out, left: BEYOND the limit by 5.0 mm (at ride height, straight)
    """
    settings: dict[Side, dict[str, float]] = {"left": dict(left or {}), "right": dict(right or {})}
    found: list[Margin] = []
    for side in SIDES:
        stand = (standing or {}).get(side, {})
        found += _reaches(car, side, settings[side], stand)
        found += _plate_slots(car, side, settings[side], stand)
        stops = _stops(measured or car, side, added(stand if measured else {}, settings[side]))
        found += [
            Margin(f"{way} travel to its stop", f"limits.{way}", side, room, "mm") for way, room in stops.items()
        ]
        found += _over_travel_and_lock(car, side, settings[side], stand, stops)
        found += _threads(car, side, settings[side], stand)
    stroke = car.rack["stroke"]
    if stroke is not None:
        offset = steering_wheel(car, settings["left"], settings["right"]).rack
        found.append(Margin("rack stroke, running straight", "rack.stroke", "both", stroke - abs(offset), "mm"))
    return tuple(found)


_REACHES: Final = {
    "mount_in": "slot of the top mount, in and out",
    "mount_back": "slot of the top mount, fore and aft",
    "mount_up": "shims of the top mount",
    "tie_rod": "reach of the tie rod",
    "clamp": "reach of the clamp",
    "arm": "reach of the lower arm",
}


def _reaches(car: Axle, side: Side, setting: Mapping[str, float], stand: Mapping[str, float]) -> list[Margin]:
    limits: Mapping[str, Any] = car.limits
    stand, setting = _off_the_face(car, stand), _off_the_face(car, setting)
    return [
        Margin(
            words,
            f"limits.{name}",
            side,
            limits[name] - abs(stand.get(name, 0.0) + setting.get(name, 0.0)),
            SETTINGS[name]["units"],
        )
        for name, words in _REACHES.items()
        if limits[name] is not None and (limits[name] > 0.0 or setting.get(name, 0.0) or stand.get(name, 0.0))
    ]


def _off_the_face(car: Axle, setting: Mapping[str, float]) -> dict[str, float]:
    """A setting with the strut top's height counted from the tower's face, on which it slides: that of its shims."""
    off = dict(setting)
    if car.top_plate is not None and "mount_up" in off:
        off["mount_up"] -= sum(per * off.get(by, 0.0) for by, per in car.top_plate.rise.items())
        if abs(off["mount_up"]) < _ON_THE_FACE_MM:
            off["mount_up"] = 0.0
    return off


def _plate_slots(car: Axle, side: Side, setting: Mapping[str, float], stand: Mapping[str, float]) -> list[Margin]:
    """Slots of an adjustable top, its insert in the position that leaves most room."""
    if car.top_plate is None:
        return []
    at = stand_for(car.top_plate, setting, stand)
    return [
        Margin(f"{name} slot of the top plate", f"top_plate.{name}_slot.reach", side, room, "mm", note=at.words(car))
        for name, room in (("plate", at.plate_room), ("insert", at.insert_room))
    ]


def _stops(car: Axle, side: Side, setting: dict[str, float]) -> dict[str, float]:
    """Travel left either way at the ride height of before, the collar seeing to that; as far as the car file tells."""
    try:
        collar = heights(car, side, **setting).collar_for_ride_height
        settled = heights(car, side, collar=collar, **setting)
    except ReachError:
        # The damper runs out where the linkage cannot go: the linkage's own end is told below.
        return {}
    left = {"bump": settled.bump_left, "droop": settled.droop_left}
    return {way: room for way, room in left.items() if room is not None}


def _over_travel_and_lock(
    car: Axle, side: Side, setting: Mapping[str, float], stand: Mapping[str, float], stops: Mapping[str, float]
) -> list[Margin]:
    """Room over all that the wheel can do: from stop to stop as they are with this setting, from lock to lock."""
    corner = car.left if side == "left" else car.right
    limits: Mapping[str, Any] = car.limits
    stroke = car.rack["stroke"]
    bump, droop = (
        max(stops.get(way, otherwise if limits[way] is None else limits[way]), 0.0)
        for way, otherwise in zip(("bump", "droop"), _OTHERWISE_TRAVEL, strict=True)
    )
    lock = _OTHERWISE_STROKE if stroke is None else stroke
    inputs: dict[str, Any] = {
        "travel": np.union1d(np.linspace(-droop, bump, _TRAVELS), [0.0]),
        "rack": np.linspace(-lock, lock, _RACKS),
        **setting,
    }
    plate = car.top_plate
    places = [] if plate is None else ["strut_top", "strut_low"]
    swept = sweep(corner, readings=["bearing_angle", "tie_rod_margin"], places=places, **inputs)
    found = []
    if plate is not None:
        for part, gap in gaps_over(corner, plate, swept, stand).items():
            found.append(_least(f"{part} to the tower's opening", "top_plate.opening", side, gap, "mm"))
    if limits["bearing_angle"] is not None:
        room = limits["bearing_angle"] - swept.bearing_angle
        found.append(_least("bearing angle", "limits.bearing_angle", side, room, "deg"))
    if limits["tie_rod_margin"] is not None:
        room = swept.tie_rod_margin - limits["tie_rod_margin"]
        found.append(_least("tie rod to over-centre", "limits.tie_rod_margin", side, room, "1"))
    lost = swept.status != 0
    if bool(lost.any()):
        nearest = (abs(lost.travel) + abs(lost.rack)).where(lost)
        at = nearest.isel(nearest.argmin(...))
        share = float(lost.mean()) * 100.0
        found.append(
            Margin(
                f"the linkage itself ({share:.0f} % of travel and lock out of reach)",
                "",
                side,
                -share,
                "%",
                float(at.travel),
                float(at.rack),
            )
        )
    return [margin for margin in found if margin is not None]


def _least(name: str, field: str, side: Side, room: xr.DataArray, unit: str) -> Margin | None:
    if not bool(room.notnull().any()):
        return None
    at = room.isel(room.argmin(...))
    return Margin(name, field, side, float(at), unit, float(at.travel), float(at.rack))


def _threads(car: Axle, side: Side, setting: Mapping[str, float], stand: Mapping[str, float]) -> list[Margin]:
    # The car file tells the threads as it was measured; a rod turned since stands elsewhere in them.
    room = turn_tie_rod(car, side, setting.get("tie_rod", 0.0), standing=stand.get("tie_rod", 0.0)).margin
    if room is None:
        return []
    table = "tie_rod" if side == "left" else "right.tie_rod"
    return [Margin("thread of the tie rod", f"{table}.least_thread_engaged", side, room, "mm")]
