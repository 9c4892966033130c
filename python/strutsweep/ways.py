"""Ways to one camber: top mount, knuckle clamp, lower arm, side by side with what each costs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from strutsweep._core import Axle, Corner, Pose, __version__
from strutsweep._tables import Table, amount, html_of, text_of
from strutsweep.errors import InputError
from strutsweep.planning import Plan, TieRod, TravelAt, Want, _limits_of, plan
from strutsweep.sweeping import _names
from strutsweep.words import MOTIONS, OUTCOMES, READINGS, SETTINGS, TRAVEL_AT

__all__ = ["Ways", "strut_to_wheel", "ways"]

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
        of each reading, and of the room between tyre and strut, in ``cost_units``.
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
            "Strut to wheel: from the strut axis to the wheel's centre plane, along the spin axis, at the height of the"
            " tyre's top. Top mount and arm leave it alone: strut and wheel keep their places in the knuckle.",
        ]
        for name, one in self.plans.items():
            if not one.reached:
                stops = ", ".join(f"{n} at {one.setting[n]:+g}" for n in one.active_limits)
                notes.append(f"{name}: {one.reason}{f' ({stops})' if stops else ''}.")
        return notes

    def __str__(self) -> str:
        return text_of(self.tables(), self.notes())

    def _repr_html_(self) -> str:
        return html_of(self.tables(), self.notes())


def strut_to_wheel(pose: Pose, side: str, tyre_radius: float) -> float:
    """How far the strut axis stands inboard of the wheel's centre plane at the height of the tyre's top.

    Less half the tyre's width and the strut's radius it is the room between tyre and strut; its change is the change of
    that room.

    Parameters
    ----------
    pose : Pose
        A pose of the corner.
    side : {"left", "right"}
        The corner's side.
    tyre_radius : float
        Distance from the spin axis, in mm, at which to measure.

    Returns
    -------
    float
        In mm, along the spin axis, positive where the strut stands inboard. NaN where the strut axis passes the spin
        axis nowhere at that distance.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.ways import strut_to_wheel
    >>> corner = ss.demo("hillclimb_saloon").left
    >>> now, moved = (strut_to_wheel(corner.solve(mount_in=x), "left", 300.0) for x in (0.0, 10.0))
    >>> round(now, 1), abs(moved - now) < 1e-9
    (169.7, True)
    """
    outboard = 1.0 if side == "left" else -1.0
    camber, toe = math.radians(pose.camber), math.radians(pose.toe)
    # The inverse of the readings' definitions: camber = asin(-s.z), toe = atan2(s.x, outboard s.y).
    spin = np.array([math.cos(camber) * math.sin(toe), outboard * math.cos(camber) * math.cos(toe), -math.sin(camber)])
    top, low = pose.point("strut_top"), pose.point("strut_low")
    along = (top - low) / float(np.linalg.norm(top - low))
    from_hub = low - pose.point("wheel_centre")
    # |across the spin axis of (from_hub + t along)| = radius: the upper of two roots.
    a = along - float(along @ spin) * spin
    b = from_hub - float(from_hub @ spin) * spin
    aa, ab, bb = float(a @ a), float(a @ b), float(b @ b) - tyre_radius**2
    radicand = ab * ab - aa * bb
    if not radicand >= 0.0:
        return math.nan
    t = (-ab + math.sqrt(radicand)) / aa
    return -float((from_hub + t * along) @ spin)


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
    tyre_radius: float | None = None,
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
    start, travel, rack, roll, travel_at, tie_rod, limits
        As in `plan`; the tie rod puts toe back to what it is now unless told otherwise.
    tyre_radius : float, optional
        Unloaded radius of the tyre, in mm, at which room to the strut is measured; the loaded radius unless given.

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
    if isinstance(car, Axle):
        if side not in ("left", "right"):
            raise InputError(f"side = {side!r} is not one of left, right", name="side", value=side)
        limits = _limits_of(car) if limits is None else limits
        corner: Corner = car.left if side == "left" else car.right
    else:
        corner = car
    names = _names("by", by, SETTINGS)
    if "tie_rod" in names:
        raise InputError("by: the tie rod sets toe; it is no way to camber", name="by", value="tie_rod")
    if not names:
        raise InputError("by: no adjuster to compare", name="by", value=names)
    motion: dict[str, Any] = dict(zip(MOTIONS, (travel, rack, roll), strict=True))
    want = [Want("camber", camber, **motion)]
    plans = {
        name: plan(corner, want, [name], start=start, travel_at=travel_at, tie_rod=tie_rod, limits=limits, **motion)
        for name in names
    }
    radius = corner.wheel_radius if tyre_radius is None else tyre_radius
    change = np.array(
        [
            [_cost(one.pose, c, corner, radius) - _cost(one.before, c, corner, radius) for c in COSTS]
            for one in plans.values()
        ]
    )
    loose = []
    for name, one in plans.items():
        inputs: dict[str, Any] = {**one.start, name: one.setting[name], **motion, "travel_at": travel_at}
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
            "source": f"strutsweep {__version__}",
        },
    )
    return Ways(dataset, plans)


def _cost(pose: Pose, name: str, corner: Corner, tyre_radius: float) -> float:
    if name == "strut_to_wheel":
        return strut_to_wheel(pose, corner.side, tyre_radius)
    return pose.readings[name]
