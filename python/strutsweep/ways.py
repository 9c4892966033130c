"""Ways to one camber: top mount, knuckle clamp, lower arm, side by side with what each costs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from strutsweep._core import Axle, Corner, Pose, __version__
from strutsweep._inputs import TravelAt, checked_names
from strutsweep._tables import Table, amount, html_of, text_of
from strutsweep._wanting import Along, TieRod, Want, along_of, along_text, corner_of_side, going_along, limits_of
from strutsweep.errors import InputError
from strutsweep.planning import plan
from strutsweep.plans import Plan
from strutsweep.words import MOTIONS, OUTCOMES, READINGS, SETTINGS, TRAVEL_AT

__all__ = ["Ways", "ways"]

USUAL_WAYS = ("mount_in", "clamp", "arm")

COSTS = (
    "camber",
    "toe",
    "caster",
    "kingpin_inclination",
    "included_angle",
    "scrub_radius",
    "mechanical_trail",
    "half_track",
    "strut_to_wheel",
    "strut_compression",
    "bearing_angle",
    "bump_steer",
    "roll_centre_height",
)

_STRUT_TO_WHEEL = {
    "units": "mm",
    "long_name": "strut axis to the wheel's centre plane at the height of the tyre's top",
    "positive": "more room between tyre and strut",
}


def _words(name: str) -> dict[str, Any]:
    return _STRUT_TO_WHEEL if name == "strut_to_wheel" else READINGS[name]


@dataclass(frozen=True)
class Ways:
    """Ways to one camber, side by side.

    Attributes
    ----------
    dataset : xarray.Dataset
        Along ``way``: ``move`` (mm or deg of that adjuster, ``move_units``), ``tie_rod`` (mm that put toe back),
        ``toe_untouched`` (the toe that the move alone would leave), ``outcome``. Along ``way`` and ``cost``: ``change``
        of each reading, and of the room between tyre and strut, in ``cost_units``. ``tyre_room`` along ``way``, and
        ``tyre_room_now``: mm from the strut axis to the tyre's inner wall at the height of the tyre's top, NaN where
        the tyre's width is not known; half the strut's thickness comes off it.
    plans : dict of str to Plan
        Per way the whole plan.
    """

    dataset: xr.Dataset
    plans: dict[str, Plan]

    def tables(self) -> list[Table]:
        """The ways as a table: a row a cost, a column a way."""
        ds = self.dataset
        names = [str(name) for name in ds.way.values]
        rows = [["move", *(amount(float(ds.move.sel(way=n)), 3, signed=True) for n in names), "mm or deg", ""]]
        rows[0][-2] = ", ".join(str(ds.move_units.sel(way=n).values) for n in names)
        rows[0][-1] = "; ".join(SETTINGS[n]["positive"] for n in names)
        rods = [amount(float(ds.tie_rod.sel(way=n)), 3, signed=True) for n in names]
        rows.append(["tie rod", *rods, "mm", SETTINGS["tie_rod"]["positive"]])
        loose = [amount(float(ds.toe_untouched.sel(way=n)), 3, signed=True) for n in names]
        rows.append(["toe, tie rod untouched", *loose, "deg", READINGS["toe"]["positive"]])
        for cost in map(str, ds.cost.values):
            unit = str(ds.cost_units.sel(cost=cost).values)
            factor, shown, decimals = (
                (1000.0, "deg/m", 2) if unit == "deg/mm" else (1.0, unit, 3 if unit == "deg" else 2)
            )
            values = [amount(factor * float(ds.change.sel(way=n, cost=cost)), decimals, signed=True) for n in names]
            rows.append([cost.replace("_", " "), *values, shown, str(_words(cost)["positive"])])
        room_now = float(ds.tyre_room_now)
        if not math.isnan(room_now):
            rooms = [amount(float(ds.tyre_room.sel(way=n)), 2) for n in names]
            words = f"{room_now:.2f} now; less half the strut's thickness"
            rows.append(["strut axis to tyre's wall", *rooms, "mm", words])
        ended = [str(self.plans[n].outcome).replace("_", " ") for n in names]
        rows.append(["outcome", *ended, "", ""])
        last = len(names) + 1
        title = f"{ds.attrs['title']}: ways to a camber of {ds.attrs['camber']:+.3f} deg, changes against now"
        return [Table(title, ["", *names, "unit", "positive"], rows, frozenset({0, last, last + 1}))]

    def notes(self) -> list[str]:
        """What is held and what the words mean, in sentences."""
        ds = self.dataset
        rod = "The tie rod puts toe back" if ds.attrs["tie_rod"] == "puts_toe_back" else "The tie rod is untouched"
        notes = [
            f"Held: {ds.attrs['held']} (travel is measured at the {ds.attrs['travel_at']}). {rod}.",
            f"Strut to wheel: from the strut axis to the wheel's centre plane, along the spin axis, {ds.attrs['tyre']}."
            " Top mount and arm leave it alone: strut and wheel keep their places in the knuckle.",
        ]
        notes += [
            f"Goes along: {along_text(going)} (the top slides in its tower's face)."
            for one in self.plans.values()
            if (going := going_along(one.along, one.free))
        ]
        for name, one in self.plans.items():
            if not one.reached:
                notes.append(f"{name}: {one.reason}{f' ({one.stops})' if one.stops else ''}.")
        return notes

    def __str__(self) -> str:
        return text_of(self.tables(), self.notes())

    def _repr_html_(self) -> str:
        return html_of(self.tables(), self.notes())


def ways(
    car: Corner | Axle,
    camber: float,
    by: Iterable[str] | str = USUAL_WAYS,
    *,
    side: str = "left",
    start: Mapping[str, float] | None = None,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
    tie_rod: TieRod = "puts_toe_back",
    limits: Mapping[str, float | None] | None = None,
    along: Along | None = None,
    tyre_radius: float | None = None,
    tyre_width: float | None = None,
) -> Ways:
    """Ways to the same camber, side by side with what each costs.

    A top mount trades camber for kingpin inclination one for one and keeps the included angle; a clamp turns wheel
    against strut, keeps kingpin inclination and takes room from the tyre; an arm moves the ball joint.

    Parameters
    ----------
    car : Corner or Axle
        The corner, or the car, of which `side` is taken.
    camber : float
        The camber wanted, in deg.
    by : str or iterable of str
        Adjusters to compare, each alone with the tie rod.
    side : {"left", "right"}
        Which corner of a car.
    start, travel, rack, roll, travel_at, tie_rod, limits, along
        As in `plan`; the tie rod puts toe back to what it is now unless told otherwise.
    tyre_radius, tyre_width : float, optional
        Unloaded radius and width of the tyre, in mm, where room to the strut is measured. Those of the car file's
        ``[envelope]`` unless given; without them the radius is the loaded one, and only the change of room is told.

    Returns
    -------
    Ways

    Raises
    ------
    InputError, ReachError
        As `plan`.

    Examples
    --------
    >>> import strutsweep as ss
    >>> found = ss.ways(ss.demo("hillclimb_saloon"), -1.0)
    >>> change = found.dataset.change.sel(cost="kingpin_inclination")
    >>> [round(float(value), 2) for value in change]
    [0.49, -0.01, 0.49]
    """
    envelope: Mapping[str, Any] = {}
    if isinstance(car, Axle):
        limits = limits_of(car) if limits is None else limits
        along = along_of(car) if along is None else along
        envelope = car.envelope
        corner: Corner = corner_of_side(car, side)
    else:
        corner = car
    tyre = _Tyre.of(corner, envelope, tyre_radius, tyre_width)
    names = checked_names("by", by, SETTINGS)
    if "tie_rod" in names:
        raise InputError("by: the tie rod sets toe; it is no way to camber", name="by", value="tie_rod")
    if not names:
        raise InputError("by: no adjuster to compare", name="by", value=names)
    motion: dict[str, Any] = dict(zip(MOTIONS, (travel, rack, roll), strict=True))
    want = [Want("camber", camber, **motion)]
    plans = {
        name: plan(
            corner,
            want,
            [name],
            start=start,
            travel_at=travel_at,
            tie_rod=tie_rod,
            limits=limits,
            along=along,
            **motion,
        )
        for name in names
    }
    change = np.array(
        [[_cost(one.pose, c, tyre) - _cost(one.before, c, tyre) for c in COSTS] for one in plans.values()]
    )
    rooms = [tyre.room(one.pose) for one in plans.values()]
    room_now = tyre.room(next(iter(plans.values())).before)
    loose = []
    for name, one in plans.items():
        # As planned, but for the tie rod.
        inputs: dict[str, Any] = {**one.setting, "tie_rod": one.start["tie_rod"], **motion, "travel_at": travel_at}
        loose.append(corner.solve(**inputs).toe - one.before.toe)
    rods = [one.setting["tie_rod"] - one.start["tie_rod"] for one in plans.values()]
    dataset = xr.Dataset(
        {
            "move": (
                "way",
                [one.moves[name] for name, one in plans.items()],
                {"long_name": "move", "units": "move_units"},
            ),
            "tie_rod": ("way", rods, {"long_name": "tie-rod length changed", "units": "mm", "positive": "longer"}),
            "toe_untouched": ("way", loose, {"long_name": "change of toe, tie rod untouched", "units": "deg"}),
            "outcome": (
                "way",
                np.array([OUTCOMES[one.outcome]["code"] for one in plans.values()], dtype=np.int8),
                {
                    "units": "1",
                    "flag_values": np.array([words["code"] for words in OUTCOMES.values()], dtype=np.int8),
                    "flag_meanings": " ".join(OUTCOMES),
                },
            ),
            "tyre_room": (
                "way",
                rooms,
                {"long_name": "strut axis to the tyre's inner wall at the height of the tyre's top", "units": "mm"},
            ),
            "tyre_room_now": ((), room_now, {"long_name": "the same as it is set now", "units": "mm"}),
            "change": (("way", "cost"), change, {"long_name": "change against now", "units": "cost_units"}),
        },
        {
            "way": ("way", names, {"long_name": "adjuster"}),
            "move_units": ("way", [SETTINGS[name]["units"] for name in names]),
            "cost": ("cost", list(COSTS), {"long_name": "what changes"}),
            "cost_units": ("cost", [str(_words(name)["units"]) for name in COSTS]),
            "cost_positive": ("cost", [str(_words(name)["positive"]) for name in COSTS]),
        },
        attrs={
            "title": f"{corner.name}, {corner.side} corner",
            "car": corner.name,
            "side": corner.side,
            "camber": float(camber),
            "travel_at": travel_at,
            "held": TRAVEL_AT[travel_at],
            "tie_rod": tie_rod,
            "tyre": tyre.words,
            "source": f"strutsweep {__version__}",
        },
    )
    return Ways(dataset, plans)


@dataclass(frozen=True)
class _Tyre:
    """The tyre of one corner, as far as it is known."""

    corner: Corner
    radius: float
    width: float | None
    words: str
    """At which height room is measured."""

    @classmethod
    def of(cls, corner: Corner, envelope: Mapping[str, Any], radius: float | None, width: float | None) -> _Tyre:
        """The tyre that is given, or that of the car file, or at least the loaded radius."""
        for name, value in (("tyre_radius", radius), ("tyre_width", width)):
            if value is not None and not 0.0 < value < math.inf:
                raise InputError(f"{name} = {value} mm is not a finite number above zero", name=name, value=value)
        known = envelope.get("tyre_radius") if radius is None else radius
        wide = envelope.get("tyre_width") if width is None else width
        if known is None:
            words = f"{corner.wheel_radius:g} mm from the spin axis (the loaded radius: the tyre's own is not told)"
            return cls(corner, corner.wheel_radius, wide, words)
        return cls(corner, known, wide, f"at the height of the tyre's top, {known:g} mm from the spin axis")

    def strut_to_wheel(self, pose: Pose) -> float:
        """From the strut axis to the wheel's centre plane, mm."""
        setting = pose.inputs
        return self.corner.strut_to_wheel(self.radius, clamp=setting["clamp"], hub_spacer=setting["hub_spacer"])

    def room(self, pose: Pose) -> float:
        """From the strut axis to the tyre's inner wall, mm; NaN where the width is not known."""
        return math.nan if self.width is None else self.strut_to_wheel(pose) - self.width / 2.0


def _cost(pose: Pose, name: str, tyre: _Tyre) -> float:
    return tyre.strut_to_wheel(pose) if name == "strut_to_wheel" else pose.readings[name]
