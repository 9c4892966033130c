"""The way back: from wanted readings to the setting that gives them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal, TypeAlias, overload

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Axle, Corner, Pose, plan_grid
from strutsweep._tables import Table, amount, html_of, text_of
from strutsweep.errors import InputError
from strutsweep.sweeping import Values, _check_corner, _count, _grid, _labelled, _spread, _unknown, sweep
from strutsweep.words import CLOSED, MOTIONS, OUTCOMES, READINGS, SETTINGS, STATUSES, TRAVEL_AT, attributes

__all__ = ["AxlePlan", "Plan", "Want", "plan", "plan_map"]

TravelAt: TypeAlias = Literal["ground", "hub", "strut"]
TieRod: TypeAlias = Literal["puts_toe_back", "untouched"]
Span: TypeAlias = "float | tuple[float, float] | None"
"""A limit: either way, from least to most, or none stated."""
Free: TypeAlias = "str | Iterable[str] | Mapping[str, Span]"

_TOE_ACCURACY = 1e-5
"""Of a toe that the tie rod puts back, in deg: whatever else stops short, toe is set."""

_DECIMALS = {"deg": 3, "mm": 2, "deg/mm": 6, "1": 4}


@dataclass(frozen=True)
class Want:
    """A reading that is wanted, and in which motion.

    Attributes
    ----------
    reading : str
        Its name.
    value : number or array
        What it is to read, in its unit; an array in `plan_map`.
    travel, rack, roll : float
        The motion in which it is wanted, in mm and deg.
    accuracy : float, optional
        How much of it counts as one unit of miss where not everything wanted can be met: 0.01 deg, 0.1 mm,
        1e-4 deg/mm or 0.001 unless stated. A smaller accuracy weighs more.

    Examples
    --------
    >>> import strutsweep as ss
    >>> ss.Want("toe", 0.1, travel=30.0)
    Want(reading='toe', value=0.1, travel=30.0, rack=0.0, roll=0.0, accuracy=None)
    """

    reading: str
    value: Any
    travel: float = 0.0
    rack: float = 0.0
    roll: float = 0.0
    accuracy: float | None = None

    @property
    def motion(self) -> tuple[float, ...]:
        """Travel, rack and roll."""
        return (self.travel, self.rack, self.roll)

    @property
    def label(self) -> str:
        """The reading's name, with its motion where that is not zero."""
        motion = [f"{name} {value:+g}" for name, value in zip(MOTIONS, self.motion, strict=True) if value]
        return f"{self.reading} at {', '.join(motion)}" if motion else self.reading


Wanted: TypeAlias = "Mapping[str, Values] | Sequence[Want]"


@dataclass(frozen=True)
class Plan:
    """A setting that was planned, what it reads, and what stands in its way.

    Attributes
    ----------
    corner : Corner
        The corner it is for.
    wants : tuple of Want
        What was wanted; a toe that the tie rod puts back is among them.
    setting : dict of str to float
        Every field of the setting, in mm and deg; what was not free is as it was.
    start : dict of str to float
        The setting before.
    free : tuple of str
        Adjusters that were free.
    limits : dict of str to tuple of float
        Least and greatest value of each free adjuster; infinite where none was stated.
    limits_from : dict of str to str
        Where each limit comes from: ``"given"``, ``"car file"`` or ``"none stated"``.
    before, pose : Pose
        The corner in the plan's motion, before and after; `pose` is a forward solve of the setting.
    outcome : str
        ``"reached"``, ``"limited"``, ``"nearest"``, ``"out_of_reach"`` or ``"unfinished"``.
    reason : str
        What that means, in a sentence.
    active_limits : dict of str to str
        Free adjusters that stand at a limit: ``"least"`` or ``"most"``.
    residuals : dict of str to float
        Per wanted reading what the forward solve reads less what is wanted, in its unit.
    held : str
        What the setting holds: ride height, hub height or spring length.
    travel_at : str
        Where travel is measured.
    tie_rod : str
        ``"puts_toe_back"`` or ``"untouched"``, or ``"free"`` where it was given as an adjuster.
    steps : int
        Steps that the search took.
    folded : bool
        Whether the adjusters move the readings in another sense than at the start: the setting lies beyond a fold, and
        a nearer one may exist. Seen where there are as many adjusters as readings.
    ran_out : str or None
        Which part of the linkage ran out on the way, if one did.
    """

    corner: Corner
    wants: tuple[Want, ...]
    setting: dict[str, float]
    start: dict[str, float]
    free: tuple[str, ...]
    limits: dict[str, tuple[float, float]]
    limits_from: dict[str, str]
    before: Pose
    pose: Pose
    outcome: str
    active_limits: dict[str, str]
    residuals: dict[str, float]
    readings_before: dict[str, float] = field(repr=False)
    travel_at: TravelAt = "ground"
    tie_rod: str = "untouched"
    steps: int = 0
    folded: bool = False
    ran_out: str | None = None

    @property
    def reached(self) -> bool:
        """Whether everything wanted is met, to 1e-8 deg or mm, by the forward solve."""
        return self.outcome == "reached"

    @property
    def reason(self) -> str:
        """What the outcome means, in a sentence."""
        return str(OUTCOMES[self.outcome]["reason"])

    @property
    def held(self) -> str:
        """What the setting holds: ride height, hub height or spring length."""
        return TRAVEL_AT[self.travel_at]

    @property
    def moves(self) -> dict[str, float]:
        """Per free adjuster how far it moves from where it stood, in its unit."""
        return {name: self.setting[name] - self.start[name] for name in self.free}

    def tables(self) -> list[Table]:
        """The plan as tables: adjusters, wanted readings, other readings."""
        title = f"{self.corner.name}, {self.corner.side} corner"
        adjusters = []
        for name in self.free:
            least, most = self.limits[name]
            limits = "none" if math.isinf(least) and math.isinf(most) else f"{least:+g} to {most:+g}"
            mark = f" at its {self.active_limits[name]}" if name in self.active_limits else ""
            places = [amount(value, 3) for value in (self.start[name], self.setting[name])]
            moved = amount(self.moves[name], 3, signed=True)
            words = SETTINGS[name]
            cells = [
                name,
                *places,
                moved,
                words["units"],
                words["positive"],
                f"{limits} ({self.limits_from[name]}){mark}",
            ]
            adjusters.append(cells)
        wanted = []
        for want in self.wants:
            unit = READINGS[want.reading]["units"]
            decimals = _DECIMALS[unit]
            miss = self.residuals[want.label]
            now = self.readings_before[want.label]
            after = want.value + miss
            wanted.append([want.label, *(amount(v, decimals) for v in (now, want.value, after)), f"{miss:+.1e}", unit])
        others = []
        named = {want.reading for want in self.wants if want.label == want.reading}
        for name in _SHOWN:
            if name in named:
                continue
            unit = READINGS[name]["units"]
            values = [self.before.readings[name], self.pose.readings[name]]
            decimals = _DECIMALS[unit]
            change = amount(values[1] - values[0], decimals, signed=True)
            others.append(
                [name, *(amount(value, decimals) for value in values), change, unit, READINGS[name]["positive"]]
            )
        return [
            Table(
                f"{title}: {self.outcome.replace('_', ' ')}",
                ["adjuster", "now", "set to", "move", "unit", "positive", "limits"],
                adjusters,
                frozenset({0, 4, 5, 6}),
            ),
            Table("Wanted", ["reading", "now", "wanted", "after", "miss", "unit"], wanted, frozenset({0, 5})),
            Table(
                "Moved with it", ["reading", "now", "after", "change", "unit", "positive"], others, frozenset({0, 4, 5})
            ),
        ]

    def notes(self) -> list[str]:
        """What was held, why the plan ended as it did, and what to beware of, in sentences."""
        rod = {
            "puts_toe_back": "The tie rod puts toe back.",
            "untouched": "The tie rod is untouched: toe moves with the setting.",
            "free": "The tie rod is one of the adjusters.",
        }[self.tie_rod]
        notes = [f"Held: {self.held} (travel is measured at the {self.travel_at}). {rod}"]
        notes.append(f"{self.reason[0].upper()}{self.reason[1:]}.")
        if self.active_limits and not self.reached:
            stops = ", ".join(
                f"{name} at {self.setting[name]:+g} {SETTINGS[name]['units']}" for name in self.active_limits
            )
            notes.append(f"Stopped by {stops}.")
        if self.ran_out is not None:
            notes.append(f"On the way: {STATUSES[self.ran_out]['reason']}.")
        if self.folded:
            notes.append("The setting lies beyond a fold: a nearer one with the same readings may exist.")
        return notes

    def __str__(self) -> str:
        return text_of(self.tables(), self.notes())

    def _repr_html_(self) -> str:
        return html_of(self.tables(), self.notes())


@dataclass(frozen=True)
class AxlePlan:
    """The plans of both corners of a car.

    Attributes
    ----------
    left, right : Plan
        One a side.
    """

    left: Plan
    right: Plan

    @property
    def reached(self) -> bool:
        """Whether both sides are."""
        return self.left.reached and self.right.reached

    @property
    def setting(self) -> dict[str, dict[str, float]]:
        """Per side every field of its setting."""
        return {"left": self.left.setting, "right": self.right.setting}

    def __iter__(self) -> Iterator[Plan]:
        return iter((self.left, self.right))

    def __str__(self) -> str:
        return f"{self.left}\n\n{self.right}"

    def _repr_html_(self) -> str:
        return self.left._repr_html_() + self.right._repr_html_()


_SHOWN = (
    "camber",
    "caster",
    "kingpin_inclination",
    "toe",
    "included_angle",
    "scrub_radius",
    "mechanical_trail",
    "half_track",
    "wheelbase_shift",
    "strut_compression",
    "bump_steer",
)


@overload
def plan(
    car: Corner,
    want: Wanted,
    free: Free,
    *,
    start: Mapping[str, float] | None = None,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
    tie_rod: TieRod | None = None,
    limits: Mapping[str, float | None] | None = None,
    efforts: Mapping[str, float] | None = None,
) -> Plan: ...


@overload
def plan(
    car: Axle,
    want: Wanted | Mapping[str, Wanted],
    free: Free | Mapping[str, Free],
    *,
    start: Mapping[str, float] | Mapping[str, Mapping[str, float]] | None = None,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
    tie_rod: TieRod | None = None,
    limits: Mapping[str, float | None] | None = None,
    efforts: Mapping[str, float] | None = None,
) -> AxlePlan: ...


def plan(
    car: Corner | Axle,
    want: Wanted | Mapping[str, Wanted],
    free: Free | Mapping[str, Free],
    *,
    start: Mapping[str, float] | Mapping[str, Mapping[str, float]] | None = None,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
    tie_rod: TieRod | None = None,
    limits: Mapping[str, float | None] | None = None,
    efforts: Mapping[str, float] | None = None,
) -> Plan | AxlePlan:
    """The setting that gives wanted readings.

    Any readings, rates too, against any adjusters. As many adjusters as readings: the setting that meets them. More
    adjusters: the one of least move that does. More readings, readings that contradict each other, or a limit in the
    way: the nearest setting, each miss counted by its accuracy, and what stops it.

    Parameters
    ----------
    car : Corner or Axle
        One corner, or both of a car: a plan for each.
    want : mapping of str to float, or sequence of Want
        Readings and their values, in mm and deg; `Want` states another motion or an accuracy. For a car alike on both
        sides, or per side: ``{"left": ..., "right": ...}``.
    free : str, iterable of str, or mapping of str to limits
        Adjusters that may move: settings by name. A limit is a number (so far either way), a pair (least, most) or
        None.
        For a car also per side.
    start : mapping of str to float, optional
        The present setting; as measured unless given. For a car also per side.
    travel, rack, roll : float
        The motion in which readings of a mapping are wanted, in mm and deg: zero is design height, rack centred.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what the setting holds: ride height, hub height, spring length.
    tie_rod : {"puts_toe_back", "untouched"}, optional
        Whether the tie rod puts toe back: to the wanted toe, or to what it is now. Unless given it does where toe is
        wanted and is left alone otherwise. A toe put back is met, unless a limit of the tie rod says otherwise,
        whatever else stops short: it counts a thousand times more than another angle.
    limits : mapping of str to float or None, optional
        How far adjusters go either way where `free` does not say. Those of the car file (``car.limits``) unless given;
        a corner by itself knows none.
    efforts : mapping of str to float, optional
        How much of an adjuster counts as one unit of move where several settings do: 1 mm or 0.1 deg unless given.

    Returns
    -------
    Plan or AxlePlan

    Raises
    ------
    InputError
        Nothing wanted or nothing free, an unknown name, the same reading twice in one motion, limits that leave nothing
        or leave out the present setting, a value that no wheel has (another unit?), an adjuster that moves none of the
        wanted readings.
    ReachError
        The corner cannot stand in a wanted motion as it is set now.

    Notes
    -----
    Jacobians are exact; steps stay within the limits and a region of trust (Nocedal and Wright, Numerical Optimization,
    2nd edition, chapter 4). Readings of a strut are nearly straight functions of its adjusters; a second setting with
    the same readings lies beyond a fold. Steps start from the present setting and never let the miss grow: the answer
    on this side of a fold is found.

    Examples
    --------
    >>> import strutsweep as ss
    >>> corner = ss.demo("hillclimb_saloon").left
    >>> planned = ss.plan(corner, {"camber": -1.291, "toe": 0.0}, ["mount_in"])
    >>> planned.reached, round(planned.setting["mount_in"], 2), planned.held, planned.tie_rod
    (True, 9.78, 'ride height', 'puts_toe_back')
    """
    if isinstance(car, Axle):
        found = {}
        for side, corner in (("left", car.left), ("right", car.right)):
            found[side] = _plan_corner(
                corner,
                _of_side(want, side),
                _of_side(free, side),
                _of_side(start, side),
                (travel, rack, roll),
                travel_at,
                tie_rod,
                _limits_of(car) if limits is None else limits,
                efforts,
                "car file" if limits is None else "given",
            )
        return AxlePlan(found["left"], found["right"])
    _check_corner("plan", car)
    return _plan_corner(
        car, want, free, start, (travel, rack, roll), travel_at, tie_rod, limits or {}, efforts, "given"
    )


def _limits_of(car: Axle) -> dict[str, float | None]:
    """The reach of adjusters as the car file gives it."""
    return {
        name: value for name, value in car.limits.items() if name in SETTINGS and isinstance(value, (float, type(None)))
    }


def _of_side(given: Any, side: str) -> Any:
    """What belongs to one side, where it is told per side."""
    if isinstance(given, Mapping) and set(given) == {"left", "right"}:
        return given[side]
    return given


def _plan_corner(
    corner: Corner,
    want: Any,
    free: Any,
    start: Any,
    motion: tuple[float, ...],
    travel_at: TravelAt,
    tie_rod: TieRod | None,
    limits: Mapping[str, float | None],
    efforts: Mapping[str, float] | None,
    source: str,
) -> Plan:
    problem = _Problem(corner, want, free, start, motion, travel_at, tie_rod, limits, efforts, source)
    values = np.array([[_one_number(want) for want in problem.wants]], dtype=np.float64)
    found = problem.solve(values, 0)
    setting = dict(zip(SETTINGS, found["setting"][0].tolist(), strict=True))
    inputs: dict[str, Any] = {**dict(zip(MOTIONS, motion, strict=True)), "travel_at": travel_at}
    pose = corner.solve(**inputs, **setting)
    # The forward solve has the last word on what the setting reads.
    residuals: dict[str, float] = {}
    for wanted in problem.wants:
        there = pose
        if wanted.motion != motion:
            elsewhere: dict[str, Any] = {**inputs, **dict(zip(MOTIONS, wanted.motion, strict=True)), **setting}
            there = corner.solve(**elsewhere)
        residuals[wanted.label] = there.readings[wanted.reading] - float(wanted.value)
    outcome = _OUTCOME_OF[int(found["outcome"][0])]
    if outcome == "reached" and any(
        not abs(residuals[wanted.label]) <= CLOSED[wanted.reading] for wanted in problem.wants
    ):
        outcome = "unfinished"
    sides = {-1: "least", 1: "most"}
    at_limit = zip(problem.free, found["at_limit"][0].tolist(), strict=True)
    ran_out = int(found["ran_out"][0])
    return Plan(
        corner=corner,
        wants=problem.wants,
        setting=setting,
        start=problem.start,
        free=tuple(problem.free),
        limits=problem.limits,
        limits_from=problem.limits_from,
        before=corner.solve(**{**inputs, **problem.start}),
        pose=pose,
        outcome=outcome,
        active_limits={name: sides[side] for name, side in at_limit if side},
        residuals=residuals,
        readings_before=dict(zip([w.label for w in problem.wants], found["before"].tolist(), strict=True)),
        travel_at=travel_at,
        tie_rod=problem.tie_rod,
        steps=int(found["steps"][0]),
        folded=bool(found["folded"][0]),
        ran_out=_STATUS_OF[ran_out] if ran_out else None,
    )


_OUTCOME_OF = {words["code"]: name for name, words in OUTCOMES.items()}
_STATUS_OF = {words["code"]: name for name, words in STATUSES.items()}


def _one_number(want: Want) -> float:
    value = _labelled(want.reading, want.value)
    if value.ndim:
        message = f"{want.label} is wanted as an array of shape {value.shape}: plan takes numbers, plan_map arrays"
        raise InputError(message, name=want.reading, value=value.shape)
    return float(value)


class _Problem:
    """What is asked of a planner, with every default worked in."""

    def __init__(
        self,
        corner: Corner,
        want: Any,
        free: Any,
        start: Mapping[str, float] | None,
        motion: tuple[float, ...],
        travel_at: TravelAt,
        tie_rod: TieRod | None,
        limits: Mapping[str, float | None],
        efforts: Mapping[str, float] | None,
        source: str,
    ) -> None:
        if travel_at not in TRAVEL_AT:
            raise _unknown("travel_at", travel_at, TRAVEL_AT)
        if tie_rod not in (None, "puts_toe_back", "untouched"):
            raise _unknown("tie_rod", tie_rod, ("puts_toe_back", "untouched"))
        self.corner = corner
        self.travel_at: TravelAt = travel_at
        self.start = dict.fromkeys(SETTINGS, 0.0)
        for name, value in (start or {}).items():
            if name not in SETTINGS:
                raise _unknown("start", name, SETTINGS)
            number = _labelled(name, value)
            if number.ndim:
                raise InputError(f"start: {name} is not one number", name=name, value=number.shape)
            self.start[name] = float(number)
        wants = _wants(want, motion)
        given = _spans(free)
        wants_toe = any(wanted.reading == "toe" for wanted in wants)
        self.tie_rod: str = "untouched"
        if "tie_rod" in given:
            if tie_rod == "untouched":
                message = 'tie_rod is among the free adjusters, but tie_rod="untouched" holds it'
                raise InputError(message, name="tie_rod", value=tie_rod)
            self.tie_rod = "puts_toe_back" if wants_toe else "free"
        elif tie_rod == "puts_toe_back" or (tie_rod is None and wants_toe):
            # Where nothing else is wanted or free, the complaint must not be of the tie rod.
            if wants and given:
                given["tie_rod"] = None
                self.tie_rod = "puts_toe_back"
        if tie_rod == "puts_toe_back" and not wants_toe and wants:
            inputs: dict[str, Any] = {**self.start, **dict(zip(MOTIONS, motion, strict=True)), "travel_at": travel_at}
            now = corner.solve(**inputs)
            wants = (*wants, Want("toe", now.toe, *motion))
        if self.tie_rod == "puts_toe_back":
            wants = tuple(
                replace(one, accuracy=_TOE_ACCURACY) if one.reading == "toe" and one.accuracy is None else one
                for one in wants
            )
        self.wants = wants
        self.free = list(given)
        self.limits: dict[str, tuple[float, float]] = {}
        self.limits_from: dict[str, str] = {}
        for name, span in given.items():
            known = limits.get(name)
            if span is not None:
                self.limits[name], self.limits_from[name] = _span(name, span), "given"
            elif known is not None:
                self.limits[name], self.limits_from[name] = _span(name, known), source
            else:
                self.limits[name], self.limits_from[name] = (-math.inf, math.inf), "none stated"
        self.efforts = dict(efforts or {})
        for name in self.efforts:
            if name not in SETTINGS:
                raise _unknown("efforts", name, SETTINGS)

    def solve(self, values: npt.NDArray[np.float64], threads: int) -> dict[str, npt.NDArray[Any]]:
        """A plan for each row of values."""
        return plan_grid(
            self.corner,
            list(self.start.values()),
            self.travel_at,
            [(want.reading, want.motion, want.accuracy) for want in self.wants],
            [(name, *self.limits[name], self.efforts.get(name)) for name in self.free],
            values,
            threads,
        )


def _wants(want: Any, motion: tuple[float, ...]) -> tuple[Want, ...]:
    if isinstance(want, Mapping):
        wants = [Want(str(name), value, *motion) for name, value in want.items()]
    else:
        wants = list(want)
        for one in wants:
            if not isinstance(one, Want):
                raise TypeError(f"want takes a mapping of readings or a sequence of Want, not {type(one).__name__}")
    for one in wants:
        if one.reading not in READINGS:
            raise _unknown("want", one.reading, READINGS)
        for name, value in zip(MOTIONS, one.motion, strict=True):
            number = _labelled(name, value)
            if number.ndim:
                raise InputError(f"want: {name} is not one number", name=name, value=number.shape)
    return tuple(wants)


def _spans(free: Any) -> dict[str, Any]:
    if isinstance(free, str):
        free = [free]
    spans = dict(free) if isinstance(free, Mapping) else None
    if spans is None:
        names = list(free)
        if len(set(names)) != len(names):
            twice = next(name for name in names if names.count(name) > 1)
            raise InputError(f"{twice} is free twice", name="free", value=twice)
        spans = dict.fromkeys(names)
    for name in spans:
        if name not in SETTINGS:
            raise _unknown("free", name, SETTINGS)
    return spans


def _span(name: str, span: Any) -> tuple[float, float]:
    """Least and most of a limit."""
    try:
        pair = [float(part) for part in span] if np.ndim(span) else [-float(span), float(span)]
    except (TypeError, ValueError):
        pair = []
    if len(pair) != 2 or any(math.isnan(part) for part in pair):
        message = f"the limit of {name} is {span!r}: give a number, a pair (least, most) or None"
        raise InputError(message, name=name, value=span)
    return pair[0], pair[1]


def plan_map(
    corner: Corner,
    want: Wanted,
    free: Free,
    *,
    start: Mapping[str, float] | None = None,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
    tie_rod: TieRod | None = None,
    limits: Mapping[str, float | None] | None = None,
    efforts: Mapping[str, float] | None = None,
    readings: Iterable[str] | str | None = None,
    threads: int | None = None,
) -> xr.Dataset:
    """Settings over any grid of wanted readings, in parallel, and which of them can be reached.

    As `plan`, with arrays among the wanted values: a one-dimensional array becomes a dimension ``wanted_`` and the
    reading's name, a `DataArray` keeps its own dimensions.

    Parameters
    ----------
    corner : Corner
        ``car.left`` or ``car.right``.
    want : mapping of str to number or array, or sequence of Want
        Readings and their values, in mm and deg.
    free, start, travel, rack, roll, travel_at, tie_rod
        As in `plan`.
    limits : mapping of str to float or None, optional
        How far adjusters go either way where `free` does not say, such as ``car.limits``.
    efforts
        As in `plan`.
    readings : str or iterable of str, optional
        What the settings read besides what is wanted; angles of the wheel and the steering axis unless given.
    threads : int, optional
        All of the machine's unless given.

    Returns
    -------
    xarray.Dataset
        Per free adjuster its value; per reading what a forward sweep of the settings reads; ``residual`` along the
        dimension ``want``, and ``before``, what is read at the start; ``outcome`` with
        ``flag_values`` and ``flag_meanings``, 0 where everything is met; ``at_limit`` along ``adjuster``, -1 at its
        least and +1 at its greatest value. Where not everything can be met the
        setting is the nearest one: mask with ``ds.outcome == 0``.

    Raises
    ------
    InputError, ReachError
        As `plan`.

    Notes
    -----
    Each plan starts from the present setting by itself: the same bits come out for any number of threads.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> wanted = {"camber": np.linspace(-2.5, 0.5, 7), "caster": np.linspace(2.0, 4.0, 5)}
    >>> ds = ss.plan_map(car.left, wanted, ["mount_in", "mount_back"], limits=car.limits)
    >>> ds.mount_in.dims, int((ds.outcome == 0).sum())
    (('wanted_camber', 'wanted_caster'), 19)
    """
    _check_corner("plan_map", corner)
    problem = _Problem(
        corner, want, free, start, (travel, rack, roll), travel_at, tie_rod, limits or {}, efforts, "given"
    )
    values: dict[str, xr.DataArray] = {}
    for number, wanted in enumerate(problem.wants):
        name = f"wanted_{wanted.reading}"
        labelled = _labelled(name, wanted.value)
        array = xr.DataArray(labelled, coords=labelled.coords if isinstance(labelled, xr.DataArray) else None)
        if array.dims == (name,) and name not in array.coords:
            # A plain array labels its own dimension.
            array = array.assign_coords({name: array.values})
        if name in array.dims and name in values:
            message = f"{wanted.reading} is wanted as plain arrays in two motions: give DataArrays with dimensions"
            raise InputError(message, name=wanted.reading, value=array.shape)
        values[name if name not in values else f"{name}_{number}"] = array
    sizes = _grid(values)
    taken = {*SETTINGS, *READINGS, "outcome", "at_limit", "residual", "want", "adjuster", "status"}
    for dim in sizes:
        if dim in taken:
            raise InputError(f"a dimension is named {dim!r}, which is the name of a result", name="want", value=dim)
    shape = tuple(sizes.values())
    columns = [np.broadcast_to(_spread(array, sizes), shape).ravel() for array in values.values()]
    table = np.column_stack(columns) if columns else np.empty((1, 0))
    found = problem.solve(np.ascontiguousarray(table), 0 if threads is None else _count("threads", threads))
    return _map_dataset(problem, (travel, rack, roll), values, sizes, found, readings, threads)


_MAP_READINGS = ("camber", "toe", "caster", "kingpin_inclination", "scrub_radius", "mechanical_trail", "half_track")


def _map_dataset(
    problem: _Problem,
    motion: tuple[float, ...],
    values: Mapping[str, xr.DataArray],
    sizes: Mapping[str, int],
    found: Mapping[str, npt.NDArray[Any]],
    readings: Iterable[str] | str | None,
    threads: int | None,
) -> xr.Dataset:
    dims = tuple(sizes)
    shape = tuple(sizes.values())
    coords: dict[str, Any] = {}
    for array in values.values():
        for key, coord in array.coords.items():
            coords.setdefault(str(key), coord.drop_vars([other for other in coord.coords if other != key]))
    settings = {
        name: xr.DataArray(column.reshape(shape), dims=dims, coords={dim: coords[dim] for dim in dims if dim in coords})
        for name, column in zip(SETTINGS, found["setting"].T, strict=True)
    }
    wanted = list(dict.fromkeys(want.reading for want in problem.wants))
    names = list(dict.fromkeys([*wanted, *_MAP_READINGS])) if readings is None else readings
    given: dict[str, Any] = {name: settings[name] if name in problem.free else problem.start[name] for name in SETTINGS}
    given.update(zip(MOTIONS, motion, strict=True))
    swept = sweep(
        problem.corner,
        travel_at=problem.travel_at,
        readings=names,
        threads=threads,
        progress=False,
        **given,
    )
    variables: dict[str, Any] = {name: settings[name].assign_attrs(attributes(name)) for name in problem.free}
    for name in swept.data_vars:
        variables[str(name)] = swept[name].drop_vars([other for other in SETTINGS if other in swept[name].coords])
    labels = [want.label for want in problem.wants]
    variables["residual"] = (
        ("want", *dims),
        found["residual"].T.reshape(len(labels), *shape),
        {"long_name": "what is read less what is wanted", "units": "unit of the reading"},
    )
    variables["before"] = (
        "want",
        found["before"],
        {"long_name": "what is read at the start", "units": "unit of the reading"},
    )
    variables["outcome"] = (
        dims,
        found["outcome"].reshape(shape),
        {
            "long_name": "how the plan ended",
            "units": "1",
            "flag_values": np.array([words["code"] for words in OUTCOMES.values()], dtype=np.int8),
            "flag_meanings": " ".join(OUTCOMES),
            "comment": "; ".join(f"{name}: {words['reason']}" for name, words in OUTCOMES.items()),
        },
    )
    variables["at_limit"] = (
        ("adjuster", *dims),
        found["at_limit"].T.reshape(len(problem.free), *shape),
        {
            "long_name": "limit at which an adjuster stands",
            "units": "1",
            "flag_values": np.array([-1, 0, 1], dtype=np.int8),
            "flag_meanings": "least between most",
        },
    )
    coords["want"] = ("want", labels, {"long_name": "wanted reading"})
    coords["adjuster"] = ("adjuster", problem.free, {"long_name": "free adjuster"})
    for name, array in values.items():
        if not array.ndim:
            words = attributes(name.removeprefix("wanted_")) if name.removeprefix("wanted_") in READINGS else {}
            coords[name] = xr.Variable((), array.values, words)
    for dim in dims:
        reading = dim.removeprefix("wanted_")
        if reading in READINGS and dim in coords:
            words = {**attributes(reading), "long_name": f"wanted {READINGS[reading]['long_name']}"}
            coords[dim] = xr.Variable((dim,), coords[dim].values, words)
    result = xr.Dataset(variables, coords, attrs=dict(swept.attrs))
    for name in (*MOTIONS, *SETTINGS):
        if name in swept.coords and swept[name].ndim == 0:
            result = result.assign_coords({name: swept[name]})
    return result.assign_attrs(
        title=f"{problem.corner.name}, {problem.corner.side} corner: planned settings",
        tie_rod=problem.tie_rod,
        limits="; ".join(
            f"{name} {least:+g} to {most:+g} {SETTINGS[name]['units']} ({problem.limits_from[name]})"
            for name, (least, most) in problem.limits.items()
        ),
    )
