"""The work order of a car: from a measured sheet and wanted readings to positions, turns, steps and the next sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from os import PathLike
from typing import Any, Final

from strutsweep._core import Axle, Corner
from strutsweep.errors import InputError, ReachError
from strutsweep.heights import Heights, heights
from strutsweep.setting_up._kinds import SIDES, Side, TravelAt
from strutsweep.setting_up._poses import pose_of
from strutsweep.setting_up._seeking import Found, seek
from strutsweep.setting_up.anchoring import Anchored, anchor
from strutsweep.setting_up.margins import Margin, margins
from strutsweep.setting_up.quantities import AngleForm, angle_text
from strutsweep.setting_up.sequence import Disturbance, best_order
from strutsweep.setting_up.sheet import Sheet, WheelReadings
from strutsweep.setting_up.tie_rods import SEEN, SteeringWheel, TieRodTurns, steering_wheel, turn_tie_rod
from strutsweep.words import SETTINGS, TRAVEL_AT

__all__ = ["Line", "Step", "WorkOrder", "order_for", "part_name", "set_car", "way_text"]

USUAL_FREE: Final = ("mount_in", "mount_back", "tie_rod")
_ANGLES: Final = ("camber", "caster", "kingpin_inclination", "toe")
_OTHERWISE_REACH: Final = {
    "mount_in": 25.0,
    "mount_back": 20.0,
    "mount_up": 20.0,
    "tie_rod": 15.0,
    "arm": 15.0,
    "clamp": 3.0,
}
_OTHERWISE: Final = 15.0
_MET_DEG: Final = 1e-6
_MOVES_DEG: Final = 1e-3
"""An adjuster that moves every wanted reading by less than this a mm or a degree is no adjuster of them."""


@dataclass(frozen=True)
class Line:
    """One line of the sheet before and after: a reading of one wheel, or of both.

    Attributes
    ----------
    reading : str
        The reading's name.
    which : {"left", "right", "cross", "total"}
        One wheel, left minus right, or both together.
    before, wanted, after : float or None
        deg; None where it is not known or nothing is wanted.
    """

    reading: str
    which: str
    before: float | None
    wanted: float | None
    after: float | None


@dataclass(frozen=True)
class Step:
    """One step of the work.

    Attributes
    ----------
    title : str
        What to do, in a few words.
    text : str
        How, in sentences.
    reads : dict
        By side what the gauges should show once it is done, by reading, deg; empty where that plays no part.
    """

    title: str
    text: str
    reads: Mapping[Side, Mapping[str, float]]


@dataclass(frozen=True, repr=False)
class WorkOrder:
    """How to bring a car from its sheet to what is wanted. Made by `set_car`.

    Attributes
    ----------
    anchored : Anchored
        The model, bent to the sheet.
    wanted : dict
        By side the readings aimed at, deg.
    changes : dict
        By side what to change from where the adjusters stand, mm and deg.
    standing : dict
        By side where the adjusters stood, where that was told.
    after : Sheet
        What the next sheet should read.
    misses : dict
        By side what stays between the next sheet and what is wanted, deg, where something stays.
    stopped_by : dict
        By side the limits that stand in the way: adjuster and value, mm or deg.
    tie_rods : dict
        By side how to turn the tie rod.
    collars : dict
        By side what ride height asks of the collar.
    margins : tuple of Margin
        What room is left to each limit.
    steps : tuple of Step
        The work, in order.
    order : Disturbance
        Why in that order.
    steering_before, steering_after : SteeringWheel
        Where the steering wheel stands as the car runs straight.
    held : str
        What is held, in words.
    response : dict
        By side and reading how much of the model's change this car makes, where a second sheet told it.
    """

    anchored: Anchored
    wanted: Mapping[Side, Mapping[str, float]]
    changes: Mapping[Side, Mapping[str, float]]
    standing: Mapping[Side, Mapping[str, float]]
    after: Sheet
    misses: Mapping[Side, Mapping[str, float]]
    stopped_by: Mapping[Side, Mapping[str, float]]
    tie_rods: Mapping[Side, TieRodTurns]
    collars: Mapping[Side, Heights]
    margins: tuple[Margin, ...]
    steps: tuple[Step, ...]
    order: Disturbance
    steering_before: SteeringWheel
    steering_after: SteeringWheel
    held: str
    travel_at: TravelAt
    response: Mapping[Side, Mapping[str, float]]

    @property
    def before(self) -> Sheet:
        """The sheet that the car came with."""
        return self.anchored.sheet

    @property
    def met(self) -> bool:
        """Whether everything wanted is met."""
        return not any(self.misses.values())

    @property
    def car(self) -> str:
        """The car's name."""
        return self.anchored.car.name

    def lines(self) -> Iterator[Line]:
        """The sheet, before, wanted and after: left, right, cross (left minus right), and toe in total; deg."""
        sheets = (self.before, _wanted_sheet(self.wanted), self.after)
        for reading in ("camber", "caster", "toe", "kingpin_inclination", "included_angle"):
            pairs = [(getattr(sheet.left, reading), getattr(sheet.right, reading)) for sheet in sheets]
            yield Line(reading, "left", *(left for left, _ in pairs))
            yield Line(reading, "right", *(right for _, right in pairs))
            yield Line(
                reading,
                "cross",
                *(None if left is None or right is None else left - right for left, right in pairs),
            )
            if reading == "toe":
                yield Line(
                    reading,
                    "total",
                    *(None if left is None or right is None else left + right for left, right in pairs),
                )

    def words(self) -> list[str]:
        """What a reader must know beside the table: what is held, what is in the way, what does not fit together."""
        words = [self.held]
        words += [
            f"Not met on the {side}: {', '.join(_miss(name, miss) for name, miss in self.misses[side].items())}."
            for side in SIDES
            if self.misses[side]
        ]
        for side in SIDES:
            if self.stopped_by[side]:
                stops = ", ".join(_stop(name, value) for name, value in self.stopped_by[side].items())
                words.append(f"What stops the {side} side: {stops}.")
        words += [f"Beyond a limit: {margin}." for margin in self.margins if not margin.kept]
        words += [*self.anchored.remarks, *self.anchored.assumptions]
        for side in SIDES:
            captive = self.collars[side].captive
            if captive is False:
                words.append(
                    f"The {side} spring lies loose at full droop: off its seats it can jump aside as the car"
                    " comes down."
                )
        return words

    def to_html(self, *, angles: AngleForm = "degrees", toe_diameter: float | None = None) -> str:
        """The work order as one HTML page that needs no other file, laid out to be printed.

        Parameters
        ----------
        angles : {"degrees", "minutes"}
            How angles are shown.
        toe_diameter : float, optional
            mm: show toe as a length at this diameter too.
        """
        from strutsweep.setting_up.printed import html_page

        return html_page(self, angles=angles, toe_diameter=toe_diameter)

    def save_pdf(
        self, path: str | PathLike[str], *, angles: AngleForm = "degrees", toe_diameter: float | None = None
    ) -> None:
        """Write the work order as a PDF to print, A4.

        Parameters
        ----------
        path : str or path
            The file; one that is there already is written over.
        angles : {"degrees", "minutes"}
            How angles are shown.
        toe_diameter : float, optional
            mm: show toe as a length at this diameter too.

        Raises
        ------
        FileError
            The file cannot be written.
        """
        from strutsweep.setting_up.printed import write_pdf

        write_pdf(self, path, angles=angles, toe_diameter=toe_diameter)

    def __repr__(self) -> str:
        moves = ", ".join(
            f"{side} {way_text(name, amount)}"
            for side in SIDES
            for name, amount in self.changes[side].items()
            if name != "tie_rod"
        )
        return f"WorkOrder({self.car!r}, {'met' if self.met else 'not met'}: {moves})"

    def _repr_html_(self) -> str:
        from strutsweep.setting_up.printed import html_fragment

        return html_fragment(self)

    def __str__(self) -> str:
        from strutsweep.setting_up.printed import terminal_text

        return terminal_text(self, width=100)


def _wanted_sheet(wanted: Mapping[Side, Mapping[str, float]]) -> Sheet:
    left, right = (WheelReadings(**dict(wanted[side])) for side in SIDES)
    return Sheet(left, right)


def _miss(name: str, miss: float) -> str:
    return f"{name.replace('_', ' ')} ends {angle_text(miss)} off"


def _stop(name: str, value: float) -> str:
    return f"{part_name(name)} is at its end ({way_text(name, value)} from here)"


def set_car(
    car: Axle,
    sheet: Sheet,
    wanted: Mapping[str, float],
    *,
    left: Mapping[str, float] | None = None,
    right: Mapping[str, float] | None = None,
    free: Sequence[str] = USUAL_FREE,
    standing: Mapping[Side, Mapping[str, float]] | None = None,
    travel_at: TravelAt = "ground",
) -> WorkOrder:
    """How to bring a car from a measured sheet to wanted readings.

    Parameters
    ----------
    car : Axle
        The car as its file has it. ``[limits]`` say how far adjusters go, ``[tie_rod]`` and ``[spring]`` their threads.
    sheet : Sheet
        What gauges showed.
    wanted : mapping of str to float
        ``camber``, ``caster``, ``toe`` (per wheel), ``kingpin_inclination``, deg, of either wheel. Toe, caster and
        camber stay as the sheet reads them where they are not wanted otherwise and an adjuster is free to see to it.
    left, right : mapping, optional
        What is wanted otherwise on one side.
    free : sequence of str
        Adjusters that may be moved; all others stay.
    standing : mapping, optional
        By side where the adjusters stood as the sheet was read, from the middle of their reach, mm and deg.
    travel_at : {"ground", "hub", "strut"}
        What is held while adjusters move: ride height (the collar sees to that), hub height, or the spring's length.

    Returns
    -------
    WorkOrder
        Met or, where limits stand in the way, as near as the gauges can tell, with the limits that stop it.

    Raises
    ------
    InputError
        Nothing wanted, a reading that cannot be aimed at, an unknown or useless adjuster, a sheet of another car.
    FileError
        A wanted angle that no gauge shows.

    Examples
    --------
    >>> import strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> order = ss.set_car(car, ss.Sheet.of(car), {"camber": -1.5, "caster": 3.2})
    >>> order.met, {name: round(value, 1) for name, value in order.changes["left"].items()}
    (True, {'mount_in': 12.2, 'mount_back': 3.8, 'tie_rod': -0.8})
    """
    stand: dict[Side, dict[str, float]] = {side: dict((standing or {}).get(side, {})) for side in SIDES}
    anchored = anchor(car, sheet, stand)
    aims = {"left": {**wanted, **(left or {})}, "right": {**wanted, **(right or {})}}
    return order_for(anchored, aims, free=free, standing=stand, travel_at=travel_at)


def order_for(
    anchored: Anchored,
    wanted: Mapping[Any, Mapping[str, float]],
    *,
    free: Sequence[str] = USUAL_FREE,
    standing: Mapping[Side, Mapping[str, float]] | None = None,
    travel_at: TravelAt = "ground",
    response: Mapping[Side, Mapping[str, float]] | None = None,
) -> WorkOrder:
    """As `set_car`, for a model that was anchored before; ``response`` as `correct` finds it."""
    _check_wanted(wanted)
    _check_free(free)
    if travel_at not in TRAVEL_AT:
        raise InputError(
            f"travel_at = {travel_at!r} is not one of {', '.join(TRAVEL_AT)}", name="travel_at", value=travel_at
        )
    stand: Mapping[Side, Mapping[str, float]] = standing or {"left": {}, "right": {}}
    answers = response or {"left": {}, "right": {}}
    aims: dict[Side, dict[str, float]] = {}
    found: dict[Side, Found] = {}
    for side in SIDES:
        corner = anchored.corner(side)
        aims[side] = {**_kept(corner, wanted[side], free), **wanted[side]}
        # A car that makes only part of the model's change is asked for more of it.
        asked = {
            name: _at_rest(corner, name) + (value - _at_rest(corner, name)) / answers[side].get(name, 1.0)
            for name, value in aims[side].items()
        }
        bounds = {name: _bounds(anchored.car, name, stand.get(side, {}).get(name, 0.0)) for name in free}
        _check_moving(corner, list(free), list(asked), travel_at)
        found[side] = seek(corner, asked, bounds, accuracy=anchored.sheet.accuracy, travel_at=travel_at)
    changes: dict[Side, dict[str, float]] = {
        side: {name: 0.0 if abs(value) < 1e-9 else value for name, value in found[side].setting.items()}
        for side in SIDES
    }
    after = _next_sheet(anchored, changes, travel_at, answers)
    misses: dict[Side, dict[str, float]] = {
        side: {
            name: miss
            for name, value in aims[side].items()
            if abs(miss := _reading(after.wheel(side), name) - value) > _MET_DEG
        }
        for side in SIDES
    }
    order = best_order(
        [anchored.corner(side) for side in SIDES],
        [changes[side] for side in SIDES],
        anchored.sheet.accuracy,
        sorted({name for side in SIDES for name in aims[side]}),
    )
    tie_rods = {side: turn_tie_rod(anchored.car, side, changes[side].get("tie_rod", 0.0)) for side in SIDES}
    collars = {side: _collar(anchored.car, side, changes[side]) for side in SIDES}
    return WorkOrder(
        anchored=anchored,
        wanted=aims,
        changes=changes,
        standing=stand,
        after=after,
        misses=misses,
        stopped_by={side: found[side].at_limit if misses[side] else {} for side in SIDES},
        tie_rods=tie_rods,
        collars=collars,
        margins=margins(anchored.car, changes["left"], changes["right"], standing=stand),
        steps=tuple(_steps(anchored, changes, order, tie_rods, collars, travel_at, answers)),
        order=order,
        steering_before=steering_wheel(anchored.car),
        steering_after=steering_wheel(anchored.car, changes["left"], changes["right"]),
        held=_held(travel_at, free, wanted, aims),
        travel_at=travel_at,
        response=answers,
    )


# What stays as the sheet reads it, where nobody wants it otherwise and an adjuster is free to see to it; in this order.
_KEPT: Final = {"toe": ("tie_rod",), "caster": ("mount_back",), "camber": ("mount_in", "clamp")}


def _kept(corner: Corner, wanted: Mapping[str, float], free: Sequence[str]) -> dict[str, float]:
    """Readings that are kept: what a fitter expects of the ones that nobody spoke of."""
    kept: dict[str, float] = {}
    for name, adjusters in _KEPT.items():
        if name in wanted or not set(adjusters) & set(free):
            continue
        if len(wanted) + len(kept) < len(free):
            kept[name] = _at_rest(corner, name)
    return kept


def _check_wanted(wanted: Mapping[Any, Mapping[str, float]]) -> None:
    if not any(wanted[side] for side in SIDES):
        raise InputError(
            "nothing is wanted: give at least one of camber, caster, toe, kingpin_inclination", name="wanted"
        )
    for side in SIDES:
        for name in wanted[side]:
            if name not in _ANGLES:
                raise InputError(
                    f"wanted {name!r} cannot be aimed at: there are {', '.join(_ANGLES)}", name="wanted", value=name
                )
    # The ranges of a sheet, with its hints at other units, hold for what is wanted too.
    _wanted_sheet({side: wanted[side] for side in SIDES})


def _check_free(free: Sequence[str]) -> None:
    if not free:
        raise InputError("no adjuster is free: give at least one", name="free")
    for name in free:
        if name not in SETTINGS:
            raise InputError(f"free {name!r} is no adjuster: there are {', '.join(SETTINGS)}", name="free", value=name)


def _check_moving(corner: Corner, free: list[str], readings: list[str], travel_at: TravelAt) -> None:
    """Refuse an adjuster that moves none of the wanted readings."""
    design = corner.solve(travel_at=travel_at)
    for name in free:
        pose = pose_of(corner, {name: 1.0}, travel_at=travel_at)
        if all(abs(getattr(pose, reading) - getattr(design, reading)) < _MOVES_DEG for reading in readings):
            raise InputError(
                f"free {name!r} moves nothing of what is wanted ({', '.join(readings)}): leave it out",
                name="free",
                value=name,
            )


def _bounds(car: Axle, name: str, stands: float) -> tuple[float, float]:
    limits: Mapping[str, Any] = car.limits
    reach = limits.get(name)
    if reach is None:
        reach = _OTHERWISE_REACH.get(name, _OTHERWISE)
    if abs(stands) > reach:
        raise InputError(
            f"standing {name} = {stands:g} {SETTINGS[name]['units']} is beyond limits.{name} = {reach:g}",
            name=name,
            value=stands,
            limit=reach,
        )
    return -reach - stands, reach - stands


def _at_rest(corner: Corner, name: str) -> float:
    value: float = getattr(corner.solve(), name)
    return value


def _reading(wheel: WheelReadings, name: str) -> float:
    value: float = getattr(wheel, name)
    return value


def _next_sheet(
    anchored: Anchored,
    changes: Mapping[Side, Mapping[str, float]],
    travel_at: TravelAt,
    response: Mapping[Side, Mapping[str, float]],
) -> Sheet:
    wheels = []
    for side in SIDES:
        corner = anchored.corner(side)
        rest, pose = corner.solve(), pose_of(corner, changes[side], travel_at=travel_at)
        wheels.append(
            WheelReadings(
                **{
                    name: getattr(rest, name)
                    + response[side].get(name, 1.0) * (getattr(pose, name) - getattr(rest, name))
                    for name in _ANGLES
                }
            )
        )
    left, right = wheels
    return Sheet(left, right, car=anchored.car.name, note="as computed", accuracy=anchored.sheet.accuracy)


def _collar(car: Axle, side: Side, change: Mapping[str, float]) -> Heights:
    """Ride height with the collar as it stands, and the collar that puts it back."""
    try:
        return heights(car, side, **dict(change))
    except ReachError:
        # A stop that the linkage cannot reach is none: ride height can be told all the same.
        tables = car.to_dict()
        tables["limits"] = {key: value for key, value in tables["limits"].items() if key not in ("bump", "droop")}
        return heights(Axle.from_dict(tables), side, **dict(change))


def _held(
    travel_at: TravelAt,
    free: Sequence[str],
    wanted: Mapping[Any, Mapping[str, float]],
    aims: Mapping[Side, Mapping[str, float]],
) -> str:
    toe = (
        "The tie rods are not touched, and toe goes where it goes"
        if "tie_rod" not in free
        else "Toe is brought to what is wanted by the tie rods"
        if any("toe" in wanted[side] for side in SIDES)
        else "Toe is put back to what the sheet reads by the tie rods"
    )
    kept = sorted({name for side in SIDES for name in aims[side] if name not in wanted[side] and name != "toe"})
    if kept:
        toe += f"; {' and '.join(kept)} stay{'s' if len(kept) == 1 else ''} as read"
    collar = "; where the plates change it, the collars put it back" if travel_at == "ground" else ""
    return f"Held: {TRAVEL_AT[travel_at]}{collar}. {toe}. Free to move: {', '.join(map(part_name, free))}."


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


_STAYS: Final = "as it is"
"""What is said of a move too small to be shown."""


def part_name(adjuster: str) -> str:
    """An adjuster as a fitter would call it."""
    return _WAYS[adjuster][1]


def way_text(adjuster: str, amount: float) -> str:
    """The move of an adjuster, its direction in words.

    Examples
    --------
    >>> from strutsweep.setting_up.work import way_text
    >>> way_text("mount_in", -3.2), way_text("tie_rod", 1.25)
    ('3.2 mm outboard', '1.25 mm longer')
    """
    _, _, positive, negative, decimals = _WAYS[adjuster]
    body = f"{abs(amount):.{decimals}f}"
    if float(body) == 0.0:
        return _STAYS
    return f"{body} {SETTINGS[adjuster]['units']} {positive if amount > 0.0 else negative}"


def _steps(
    anchored: Anchored,
    changes: Mapping[Side, Mapping[str, float]],
    order: Disturbance,
    tie_rods: Mapping[Side, TieRodTurns],
    collars: Mapping[Side, Heights],
    travel_at: TravelAt,
    response: Mapping[Side, Mapping[str, float]],
) -> Iterator[Step]:
    yield Step(
        "Before anything is moved",
        "Tyre pressures and the usual load, car level, suspension settled by rolling and bouncing, steering"
        " wheel straight"
        " and locked there. Mark where every plate and thread stands.",
        {},
    )
    done: dict[Side, dict[str, float]] = {"left": {}, "right": {}}
    for name in order.order:
        if name == "tie_rod":
            continue
        moves = [
            f"{side} {_WAYS[name][0]} {way_text(name, changes[side][name])}"
            for side in SIDES
            if name in changes[side] and way_text(name, changes[side][name]) != _STAYS
        ]
        for side in SIDES:
            if name in changes[side]:
                done[side][name] = changes[side][name]
        if not moves:
            continue
        aim = order.sets.get(name)
        loose = " The spring must be captive in a compressor or proven loose before a top nut is opened." * (
            name in ("mount_up",)
        )
        yield Step(
            f"Set {aim.replace('_', ' ')}: {part_name(name)}" if aim else f"Set the {part_name(name)}",
            f"Move the {'; the '.join(moves)}. Toe is not yet right, and need not be.{loose}",
            _reads(anchored, done, travel_at, response),
        )
    moved = any(changes[side].get(name) for side in SIDES for name in changes[side] if name != "tie_rod")
    if travel_at == "ground" and moved:
        texts = [text for side in SIDES if (text := _collar_text(side, collars[side]))]
        if texts:
            yield Step(
                "Put ride height back",
                f"{' '.join(texts)} Every reading here is told at the ride height of before.",
                {},
            )
    if any(abs(tie_rods[side].longer) >= 0.005 for side in SIDES):
        for side in SIDES:
            if "tie_rod" in changes[side]:
                done[side]["tie_rod"] = changes[side]["tie_rod"]
        rods = ". ".join(tie_rods[side].in_short().capitalize() for side in SIDES)
        seen = f" Turns are {SEEN}." if any(tie_rods[side].turns is not None for side in SIDES) else ""
        yield Step(
            "Set toe, last",
            f"Steering wheel straight and locked. {rods}.{seen} Bring each wheel to its own toe: the right"
            " total by one rod"
            " alone would leave the steering wheel off straight.",
            _reads(anchored, done, travel_at, response),
        )
    yield Step(
        "Tighten, settle, read again",
        "Torques are those of the parts' makers. Roll and bounce the car, read a second sheet, and have it"
        " compared with"
        " this one. Look at clearance at full lock in bump and in droop.",
        {},
    )


def _collar_text(side: Side, collar: Heights) -> str:
    if abs(collar.ride_height) < 0.25:
        return ""
    higher = "higher" if collar.ride_height > 0.0 else "lower"
    text = f"The {side} side would stand {abs(collar.ride_height):.1f} mm {higher}: collar"
    text += f" {abs(collar.collar_for_ride_height):.1f} mm {'up' if collar.collar_for_ride_height > 0.0 else 'down'}"
    if collar.collar_turns is not None:
        text += f", {abs(collar.collar_turns):.1f} turns"
    if collar.collar_within_reach is False:
        text += ", which its thread does not allow"
    return text + "."


def _reads(
    anchored: Anchored,
    done: Mapping[Side, Mapping[str, float]],
    travel_at: TravelAt,
    response: Mapping[Side, Mapping[str, float]],
) -> dict[Side, dict[str, float]]:
    try:
        sheet = _next_sheet(anchored, done, travel_at, response)
    except (ReachError, ValueError):
        # On the way toe may stand beyond any gauge; the end of the work was checked.
        return {}
    return {side: dict(sheet.wheel(side).angles()) for side in SIDES}
