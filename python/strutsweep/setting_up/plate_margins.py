"""How much room a setting leaves in an adjustable strut top: its slots, its insert's positions, the tower's opening."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Axle, Corner, TopPlate
from strutsweep.setting_up.adjusters import STAYS, slide_text
from strutsweep.top_plates.clearing import PARTS
from strutsweep.top_plates.hardware import letter

__all__ = ["Stand", "gaps_over", "stand_for"]

_MOUNT = ("mount_back", "mount_in", "mount_up")


@dataclass(frozen=True)
class Stand:
    """Where plate and insert stand to put the strut top where a setting wants it.

    Attributes
    ----------
    position : int
        The insert's position with the most room, counted from 0.
    plate, insert : float
        Slides from their middles, mm.
    plate_room, insert_room : float
        From the nearer end of each slot, mm; negative beyond it.
    lift : float
        How far the setting puts the pivot above where the face takes it, mm. Where the setting tells a height, along
        the face's normal: as thick are the shims that make it up, and the slides put right what they shift. Where it
        tells none, straight up: in and out, fore and aft the slides bring it where the setting wants it.
    """

    position: int
    plate: float
    insert: float
    plate_room: float
    insert_room: float
    lift: float

    def words(self, car: Axle) -> str:
        """Where it stands, for a fitter."""
        insert, plate = (_slid(car, part, amount) for part, amount in (("insert", self.insert), ("plate", self.plate)))
        text = f"insert in position {letter(self.position)}, {insert} its middle; plate {plate} its middle"
        if abs(self.lift) >= 0.05:
            text += f"; the face takes the pivot {abs(self.lift):.1f} mm {'lower' if self.lift > 0.0 else 'higher'}"
        return text


def _slid(car: Axle, part: str, amount: float) -> str:
    way = slide_text(car, part, amount)
    return "in" if way == STAYS else f"{way} of"


def stand_for(plate: TopPlate, setting: Mapping[str, float], stand: Mapping[str, float]) -> Stand:
    """Where the hardware stands for a setting on top of where it stood, the insert in the position with most room."""
    axes, wanted = plate.axes("left"), _shift(setting, stand)
    positions = np.arange(plate.positions)
    heights = np.array(plate.insert["heights"] or np.zeros(positions.size))
    off = axes[2] @ wanted - heights
    if "mount_up" in setting or "mount_up" in stand:
        # A height that is told is made up by shims; they lie on the face, and lift along its normal.
        lift = off
        inboard, rearward = (np.full(positions.size, axis @ wanted) for axis in axes[:2])
    else:
        # One that is not is the face's: straight down on the plane that the bearing's centre moves in.
        lift = off / axes[2, 2]
        inboard, rearward = (axis @ wanted - axis[2] * lift for axis in axes[:2])
    slides = plate.slides(inboard, rearward, positions)
    rooms = np.stack(
        [
            np.minimum(values - slot["reach"][0], slot["reach"][1] - values)
            for values, slot in zip(slides, (plate.plate_slot, plate.insert_slot), strict=True)
        ]
    )
    best = int(np.argmax(rooms.min(axis=0)))
    return Stand(
        position=best,
        plate=float(slides[0, best]),
        insert=float(slides[1, best]),
        plate_room=float(rooms[0, best]),
        insert_room=float(rooms[1, best]),
        lift=float(lift[best]),
    )


def gaps_over(
    corner: Corner, plate: TopPlate, swept: xr.Dataset, stand: Mapping[str, float]
) -> dict[str, xr.DataArray]:
    """Gaps of nut, insert and rod to the tower's opening, mm, in poses swept with ``strut_top`` and ``strut_low``.

    Parts of which the plate tells no radius, or all of them if it tells of no opening, are left out.
    """
    if plate.opening is None:
        return {}
    inboard, rearward, _ = plate.axes("left") @ _shift({}, stand)
    centre = plate.opening["centre"]
    # The opening is where it was; the strut top that it is counted from stands elsewhere by now.
    moved = plate.replace(opening={**plate.opening, "centre": [centre[0] - inboard, centre[1] - rearward]})
    points = [swept[name].transpose("xyz", ...) for name in ("strut_top", "strut_low")]
    gaps = moved.gaps(corner, *(np.ascontiguousarray(point.values.reshape(3, -1)) for point in points))
    like = points[0].isel(xyz=0, drop=True)
    return {
        part: like.copy(data=values.reshape(like.shape))
        for part, values in zip(PARTS, gaps, strict=True)
        if dict(plate.clearing)[part] is not None
    }


def _shift(setting: Mapping[str, float], stand: Mapping[str, float]) -> npt.NDArray[np.float64]:
    """How far the strut top stands from where the car file has it, on a left corner, in the car's axes."""
    back, inward, up = (setting.get(name, 0.0) + stand.get(name, 0.0) for name in _MOUNT)
    return np.array([-back, -inward, up])
