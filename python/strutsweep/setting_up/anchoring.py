"""From a measured sheet to a model that reads it: small offsets per side, and what does not fit together.

The car's points were measured with a tape or drawn; its sheet was read by gauges. Where they differ, the model is
bent to the gauges by at most four numbers a side: where the strut top stands in the body (inboard, rearward), which
changes kingpin inclination and caster and, one for one, camber; and how the wheel stands on its knuckle (camber,
toe). The model is then written again with the car as it stands as its design position, so that zero means: as on the
sheet.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from strutsweep._core import Axle, Corner
from strutsweep.errors import InputError, ReachError
from strutsweep.setting_up._kinds import SIDES, Side
from strutsweep.setting_up._poses import pose_of
from strutsweep.setting_up.quantities import amount_text, angle_text
from strutsweep.setting_up.sheet import Sheet, WheelReadings

__all__ = ["Anchored", "Offsets", "anchor", "rewritten"]

_Floats = npt.NDArray[np.float64]

_CLOSED_DEG: Final = 1e-10
"""An anchored model reads its sheet to this."""

_MOST_STEPS: Final = 40

_MOST_MOUNT_MM: Final = 60.0
"""A strut top farther than this from where the car file has it is another car's, or a misread sheet."""

_TAPE_MM: Final = 3.0
"""What points measured with a tape are good for; common practice."""

_BODY_READINGS: Final = {"mount_in": "kingpin_inclination", "mount_back": "caster"}
"""Which reading settles where the strut top stands."""

_CROSS_CASTER_DEG: Final = 0.5
"""Sides of a road car agree in caster within this; a band for a remark, never for a refusal."""


@dataclass(frozen=True)
class Offsets:
    """What bends the model of one side to its sheet, beyond the car file.

    Attributes
    ----------
    mount_in, mount_back : float
        Strut top farther inboard, farther rearward in the body, mm.
    camber, toe : float
        Wheel leans farther outboard on its knuckle, points farther inboard, deg.
    """

    mount_in: float = 0.0
    mount_back: float = 0.0
    camber: float = 0.0
    toe: float = 0.0

    def __str__(self) -> str:
        return (
            f"strut top {amount_text(self.mount_in, 'mm')} inboard, {amount_text(self.mount_back, 'mm')} rearward;"
            f" wheel on its knuckle {angle_text(self.camber)} camber, {angle_text(self.toe)} toe"
        )


@dataclass(frozen=True)
class Anchored:
    """A car whose model reads a sheet, and what was found on the way. Made by `anchor`.

    Attributes
    ----------
    car : Axle
        The car with its design position where the sheet was read: a setting of zero reads the sheet.
    measured : Axle
        The same car with every adjuster where the car file has it: stops, springs and collars are counted from there.
        Where the adjusters stood was not told, it is `car`.
    sheet : Sheet
        The sheet.
    offsets : dict
        By side: what bent the model.
    remarks : tuple of str
        What does not fit together beyond the gauges' accuracy, in careful words.
    assumptions : tuple of str
        What the sheet does not tell and was taken from the car file or assumed.
    """

    car: Axle
    measured: Axle
    sheet: Sheet
    offsets: Mapping[Side, Offsets]
    remarks: tuple[str, ...]
    assumptions: tuple[str, ...]

    def corner(self, side: Side) -> Corner:
        """The anchored corner of one side.

        Parameters
        ----------
        side : {"left", "right"}
            Which.
        """
        return self.car.left if side == "left" else self.car.right


def anchor(
    car: Axle,
    sheet: Sheet,
    standing: Mapping[Side, Mapping[str, float]] | None = None,
) -> Anchored:
    """Bend a car's model until it reads a measured sheet.

    Parameters
    ----------
    car : Axle
        The car as its file has it.
    sheet : Sheet
        What gauges showed, at ride height with the steering straight.
    standing : mapping, optional
        By side the setting that the adjusters stood at when the sheet was read, mm and deg, where it is known to differ
        from the car file: offsets are found on top of it.

    Returns
    -------
    Anchored
        Where the sheet has no kingpin inclination or no caster, the strut top keeps its place that way, and the whole
        difference in camber is laid on the wheel.

    Raises
    ------
    InputError
        The sheet cannot be this car's: a strut top would have to stand more than 60 mm from where the file has it.

    Examples
    --------
    >>> import strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> sheet = ss.Sheet.of(car, left={"mount_in": 3.0})      # a body 3 mm out on the left
    >>> anchored = ss.anchor(car, sheet)
    >>> round(anchored.offsets["left"].mount_in, 6), round(anchored.offsets["left"].mount_back, 6) + 0.0
    (3.0, 0.0)
    >>> abs(anchored.car.left.solve().camber - sheet.left.camber) < 1e-9
    True
    """
    offsets: dict[Side, Offsets] = {}
    corners: dict[Side, Corner] = {}
    measured: dict[Side, Corner] = {}
    for side, corner in zip(SIDES, (car.left, car.right), strict=True):
        stand = dict((standing or {}).get(side, {}))
        offsets[side], corners[side] = _anchored(side, corner, sheet.wheel(side), stand)
        measured[side] = corners[side] if not any(stand.values()) else _put_back(corner, offsets[side])
    return Anchored(
        car=car.with_corners(corners["left"], corners["right"]),
        measured=car.with_corners(measured["left"], measured["right"]),
        sheet=sheet,
        offsets=offsets,
        remarks=tuple([*_another_car(car, sheet), *_remarks(sheet, offsets)]),
        assumptions=tuple(_assumptions(sheet)),
    )


def _anchored(side: Side, corner: Corner, wheel: WheelReadings, stand: dict[str, float]) -> tuple[Offsets, Corner]:
    """Offsets of one corner, and the corner written again as it stands."""
    targets = {
        **{knob: getattr(wheel, reading) for knob, reading in _BODY_READINGS.items()},
        "camber": wheel.camber,
        "toe": wheel.toe,
    }
    knobs = [knob for knob, target in targets.items() if target is not None]
    readings = [_BODY_READINGS.get(knob, knob) for knob in knobs]
    wanted = np.array([targets[knob] for knob in knobs], dtype=np.float64)
    values = np.zeros(len(knobs))
    try:
        for _ in range(_MOST_STEPS):
            misses = _read(corner, stand, knobs, values, readings) - wanted
            if np.abs(misses).max(initial=0.0) <= _CLOSED_DEG:
                break
            values = values - np.linalg.solve(_slopes(corner, stand, knobs, values, readings), misses)
            _check_near(side, knobs, values)
        else:
            raise _foreign(side, "its readings cannot all be met")
    except (ReachError, np.linalg.LinAlgError) as error:
        raise _foreign(side, str(error)) from error
    found = Offsets(**dict(zip(knobs, map(float, values), strict=True)))
    at = {**stand}
    for knob in _BODY_READINGS:
        at[knob] = stand.get(knob, 0.0) + getattr(found, knob)
    return found, rewritten(_turned(corner, found), at, camber=wheel.camber, toe=wheel.toe)


def _put_back(corner: Corner, offsets: Offsets) -> Corner:
    """The bent corner with every adjuster where the car file has it."""
    return rewritten(_turned(corner, offsets), {knob: getattr(offsets, knob) for knob in _BODY_READINGS})


def _turned(corner: Corner, offsets: Offsets) -> Corner:
    """The corner with its wheel standing otherwise on its knuckle."""
    return corner.replace(camber=corner.camber + offsets.camber, toe=corner.toe + offsets.toe)


def _read(corner: Corner, stand: dict[str, float], knobs: list[str], values: _Floats, readings: list[str]) -> _Floats:
    found = Offsets(**dict(zip(knobs, map(float, values), strict=True)))
    at = {**stand, **{knob: stand.get(knob, 0.0) + getattr(found, knob) for knob in _BODY_READINGS}}
    pose = pose_of(_turned(corner, found), at)
    return np.array([getattr(pose, reading) for reading in readings])


def _slopes(corner: Corner, stand: dict[str, float], knobs: list[str], values: _Floats, readings: list[str]) -> _Floats:
    """Exact slopes of the readings in the offsets."""
    found = Offsets(**dict(zip(knobs, map(float, values), strict=True)))
    at: dict[str, Any] = {knob: stand.get(knob, 0.0) + getattr(found, knob) for knob in _BODY_READINGS}
    inputs = [knob if knob in _BODY_READINGS else f"wheel.{knob}" for knob in knobs]
    slopes = _turned(corner, found).derivatives(inputs, **{**stand, **at}, readings=list(dict.fromkeys(readings)))
    return np.array([slopes[reading].values for reading in readings], dtype=np.float64)


def _check_near(side: Side, knobs: list[str], values: _Floats) -> None:
    for knob, value in zip(knobs, values, strict=True):
        if knob in _BODY_READINGS and not abs(value) <= _MOST_MOUNT_MM:
            raise _foreign(
                side,
                f"its {_BODY_READINGS[knob].replace('_', ' ')} would put the strut top {abs(value):.0f} mm from where"
                f" the car file has it, more than {_MOST_MOUNT_MM:g} mm",
            )


def _foreign(side: Side, why: str) -> InputError:
    return InputError(
        f"the sheet's {side} wheel does not fit this car: {why}. Is it this car's sheet, with left and right in place,"
        " and are the car file's points those of the car?",
        name=f"sheet.{side}",
        value=None,
    )


def rewritten(
    corner: Corner, setting: Mapping[str, float], *, camber: float | None = None, toe: float | None = None
) -> Corner:
    """A corner whose design position is this one's with a setting, at ride height: the same linkage, zeroed there.

    Parameters
    ----------
    corner : Corner
        The corner.
    setting : mapping
        Its setting, mm and deg, as `Corner.solve` takes it.
    camber, toe : float, optional
        What camber and toe are known to be there, deg, to be rid of round-off; as solved unless given.

    Raises
    ------
    ReachError
        The corner does not get there.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.setting_up.anchoring import rewritten
    >>> corner = ss.demo("gravel_hatch").left
    >>> there = rewritten(corner, {"mount_in": 8.0})
    >>> abs(there.solve(travel=30).camber - corner.solve(travel=30, mount_in=8).camber) < 1e-9
    True
    """
    before, after = corner.solve(), pose_of(corner, setting)
    names = ("ball_joint", "strut_top", "strut_low", "tie_rod_outer", "wheel_centre")
    changes: dict[str, Any] = {name: after.point(name) for name in names}
    # What a spacer or a longer arm moves is found above; what the knuckle alone carries turns with it.
    design = corner.points
    body = corner.to_dict()["strut"]
    axis = np.asarray(body.get("bearing_axis", design["strut_top"] - design["strut_low"]), dtype=np.float64)
    changes["bearing_axis"] = axis
    if "clamp" in body:
        # The clamp's bolt is fixed on the strut: as far along its axis, and as far off it, as at design.
        turn = _turn_between(before.point("strut_low"), before.points, after.points)
        changes["strut_clamp"] = after.point("strut_low") + turn @ (design["strut_clamp"] - design["strut_low"])
    return corner.replace(
        **changes,
        camber=after.camber if camber is None else camber,
        toe=after.toe if toe is None else toe,
    )


def _turn_between(origin: _Floats, before: Mapping[str, _Floats], after: Mapping[str, _Floats]) -> _Floats:
    """The turn that carries the knuckle's points from one pose to another (Kabsch: least squares by an SVD)."""
    names = ("strut_low", "ball_joint", "tie_rod_outer", "wheel_centre")
    first = np.array([before[name] - origin for name in names])
    second = np.array([after[name] - after["strut_low"] for name in names])
    u, _, vt = np.linalg.svd(second.T @ first)
    sign = math.copysign(1.0, float(np.linalg.det(u @ vt)))
    turn: _Floats = u @ np.diag([1.0, 1.0, sign]) @ vt
    return turn


def _another_car(car: Axle, sheet: Sheet) -> list[str]:
    """A sheet that names another car than the car file does."""
    named, known = sheet.car.strip(), car.name.strip()
    if not named or not known or named.casefold() == known.casefold():
        return []
    return [f"The sheet is of {named!r}, the car file of {known!r}: is it this car's sheet?"]


def _remarks(sheet: Sheet, offsets: Mapping[Side, Offsets]) -> list[str]:
    """What does not fit together beyond what the gauges are good for."""
    remarks = []
    left, right, accuracy = sheet.left, sheet.right, sheet.accuracy
    if left.included_angle is not None and right.included_angle is not None:
        cross = left.included_angle - right.included_angle
        # Two readings a side make four, each with its own error.
        band = math.sqrt(2.0) * math.hypot(accuracy["camber"], accuracy["kingpin_inclination"])
        if abs(cross) > band:
            larger, smaller = ("left", "right") if cross > 0.0 else ("right", "left")
            remarks.append(
                f"Included angle differs by {angle_text(abs(cross), sign=False)} between the sides, {larger} larger;"
                f" the gauges explain {angle_text(band, sign=False)}. A top mount changes camber and kingpin"
                " inclination one for one and leaves their sum, so this lies in knuckle, strut or clamp: a"
                " bent part on one side is possible, as is a knuckle clamped otherwise, or a misreading. Measure again,"
                " then look at"
                f" the {smaller} and the {larger} strut and knuckle before any plate is moved."
            )
    if left.caster is not None and right.caster is not None:
        cross, band = left.caster - right.caster, math.sqrt(2.0) * accuracy["caster"]
        if abs(cross) > max(band, _CROSS_CASTER_DEG):
            remarks.append(
                f"Caster differs by {angle_text(abs(cross), sign=False)} between the sides; road cars are usually kept"
                f" within {angle_text(_CROSS_CASTER_DEG, sign=False)}. Plates may stand unlike, or an arm or a"
                " tower may"
                " be out of place."
            )
    for side in SIDES:
        here = offsets[side]
        distance = math.hypot(here.mount_in, here.mount_back)
        if distance > _TAPE_MM:
            remarks.append(
                f"The {side} strut top stands {distance:.1f} mm from where the car file has it"
                f" ({amount_text(here.mount_in, 'mm')} inboard, {amount_text(here.mount_back, 'mm')} rearward),"
                " more than the"
                f" {_TAPE_MM:g} mm that a tape leaves open. If the plate stood elsewhere when the points were"
                " taken, say"
                " where it stands; else measure again."
            )
    return remarks


def _assumptions(sheet: Sheet) -> list[str]:
    """What the sheet leaves open, and how that was settled."""
    words = []
    missing = {
        side: [
            name.replace("_", " ")
            for name in ("camber", "caster", "kingpin_inclination", "toe")
            if getattr(sheet.wheel(side), name) is None
        ]
        for side in SIDES
    }
    for side in SIDES:
        if missing[side]:
            words.append(f"No {', '.join(missing[side])} on the {side}: the car file's geometry stands in its place.")
    if sheet.shared_toe:
        words.append(
            "Toe was told as a total: half of it is taken for each wheel, so what the sheet leaves open is whether the"
            " steering wheel stood straight."
        )
    heights = (sheet.left.ride_height, sheet.right.ride_height)
    if heights[0] is not None and heights[1] is not None and abs(heights[0] - heights[1]) > 5.0:
        words.append(
            f"Ride height differs by {abs(heights[0] - heights[1]):.0f} mm between the sides: set it first, as"
            " camber and"
            " toe change with it."
        )
    return words
