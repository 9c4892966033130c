"""From a measured sheet and wanted readings to a work order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from strutsweep._core import Axle, Corner
from strutsweep._wanting import Along, Free, Span, along_of, by_itself, span_of, spans_of, with_face
from strutsweep.errors import FileError, InputError, ReachError
from strutsweep.heights import Heights, heights
from strutsweep.setting_up._kinds import SIDES, Side, TravelAt
from strutsweep.setting_up._poses import pose_of
from strutsweep.setting_up._seeking import Found, seek
from strutsweep.setting_up.adjusters import added, followed, part_name
from strutsweep.setting_up.anchoring import Anchored, anchor
from strutsweep.setting_up.margins import margins
from strutsweep.setting_up.sequence import best_order
from strutsweep.setting_up.sheet import ANGLES, Sheet, WheelReadings
from strutsweep.setting_up.steps import Plot, next_sheet, steps_of
from strutsweep.setting_up.tie_rods import steering_wheel, turn_tie_rod
from strutsweep.setting_up.work import WorkOrder
from strutsweep.words import SETTINGS, TRAVEL_AT

__all__ = ["USUAL_FREE", "order_for", "set_car"]

USUAL_FREE: Final = ("mount_in", "mount_back", "tie_rod")
"""What a fitter turns who has adjustable tops."""

_ROUND_OFF: Final = 1e-9
"""How far beyond its limit an adjuster may stand, in its unit: what a height loses where the face's fall is taken off."""
_OTHERWISE_REACH: Final = {
    "mount_in": 25.0,
    "mount_back": 20.0,
    "mount_up": 20.0,
    "tie_rod": 15.0,
    "arm": 15.0,
    "clamp": 3.0,
}
"""How far adjusters are taken to go, mm and deg, where the car file does not say."""
_OTHERWISE: Final = 15.0
_MET_DEG: Final = 1e-6
_MOVES_DEG: Final = 1e-3
"""An adjuster that moves every wanted reading by less than this a mm or a degree is no adjuster of them."""

# What stays as the sheet reads it, where nobody wants it otherwise and an adjuster is free to see to it; in this order.
_KEPT: Final = {"toe": ("tie_rod",), "caster": ("mount_back",), "camber": ("mount_in", "clamp")}


def set_car(
    car: Axle,
    sheet: Sheet,
    wanted: Mapping[str, float],
    *,
    left: Mapping[str, float] | None = None,
    right: Mapping[str, float] | None = None,
    free: Free = USUAL_FREE,
    standing: Mapping[Side, Mapping[str, float]] | None = None,
    travel_at: TravelAt = "ground",
    along: Along | None = None,
) -> WorkOrder:
    """How to bring a car from a measured sheet to wanted readings.

    Parameters
    ----------
    car : Axle
        The car as its file has it. ``[limits]`` say how far adjusters go, ``[tie_rod]`` and ``[spring]`` their threads.
    sheet : Sheet
        What gauges showed.
    wanted : mapping of str to float
        ``camber``, ``caster``, ``toe`` (per wheel), ``kingpin_inclination``, deg, of either wheel. Toe stays as the
        sheet reads it where it is not wanted otherwise and a tie rod is free to see to it; caster and camber stay too,
        by an adjuster of theirs only where the others would move them by more than a gauge can tell.
    left, right : mapping, optional
        What is wanted otherwise on one side.
    free : sequence of str, or mapping of str to limits
        Adjusters that may be moved; all others stay. How far they go ``[limits]`` of the car file tells, unless a limit
        is given, as `plan` takes it.
    standing : mapping, optional
        By side where the adjusters stood as the sheet was read, from the middle of their reach, mm and deg.
    travel_at : {"ground", "hub", "strut"}
        What is held while adjusters move: ride height (the collar sees to that), hub height, or the spring's length.

    along : mapping, optional
        Settings that go along with an adjuster, as `plan` takes it: the height of a strut top on its tilted tower as
        the car file's ``[top_plate]`` has it, unless given.

    Returns
    -------
    WorkOrder
        Met or, where limits stand in the way, as near as the gauges can tell, with the limits that stop it.

    Raises
    ------
    InputError
        Nothing wanted, a reading that cannot be aimed at, an angle that no gauge shows, an unknown or useless
        adjuster, a sheet of another car.

    Examples
    --------
    >>> import strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> order = ss.set_car(car, ss.Sheet.of(car), {"camber": -1.5, "caster": 3.2})
    >>> order.met, {name: round(value, 1) for name, value in order.changes["left"].items()}
    (True, {'mount_in': 12.0, 'mount_back': 3.8, 'tie_rod': -0.8, 'mount_up': -1.2})
    """
    follow = along_of(car) if along is None else along
    stand: dict[Side, dict[str, float]] = {side: followed((standing or {}).get(side, {}), follow) for side in SIDES}
    anchored = anchor(car, sheet, stand)
    aims = {"left": {**wanted, **(left or {})}, "right": {**wanted, **(right or {})}}
    return order_for(anchored, aims, free=free, standing=stand, travel_at=travel_at, along=follow)


def order_for(
    anchored: Anchored,
    wanted: Mapping[Any, Mapping[str, float]],
    *,
    free: Free = USUAL_FREE,
    standing: Mapping[Side, Mapping[str, float]] | None = None,
    travel_at: TravelAt = "ground",
    response: Mapping[Side, Mapping[str, float]] | None = None,
    along: Along | None = None,
) -> WorkOrder:
    """As `set_car`, for a model that was anchored before; ``response`` as `correct` finds it."""
    _check_wanted(wanted)
    spans = _checked_free(free)
    if travel_at not in TRAVEL_AT:
        raise InputError(
            f"travel_at = {travel_at!r} is not one of {', '.join(TRAVEL_AT)}", name="travel_at", value=travel_at
        )
    car = anchored.car
    follow = along_of(car) if along is None else along
    stand: Mapping[Side, Mapping[str, float]] = standing or {"left": {}, "right": {}}
    answers = response or {"left": {}, "right": {}}
    aims: dict[Side, dict[str, float]] = {}
    found: dict[Side, Found] = {}
    for side in SIDES:
        stands = by_itself(stand[side], follow)
        bounds = {name: _bounds(car, name, span, stands.get(name, 0.0)) for name, span in spans.items()}
        search = _Search(anchored, side, bounds, travel_at, answers[side], follow)
        aims[side], found[side] = search.aims_and_setting(wanted[side])
    changes: dict[Side, dict[str, float]] = {side: found[side].setting for side in SIDES}
    after = next_sheet(anchored, changes, travel_at, answers)
    misses: dict[Side, dict[str, float]] = {
        side: {
            name: miss
            for name, value in aims[side].items()
            if abs(miss := _reading(after.wheel(side), name) - value) > _MET_DEG
        }
        for side in SIDES
    }
    own: dict[Side, dict[str, float]] = {
        side: {name: by_itself(changes[side], follow)[name] for name in spans} for side in SIDES
    }
    order = best_order(
        [anchored.corner(side) for side in SIDES],
        [own[side] for side in SIDES],
        anchored.sheet.accuracy,
        sorted({name for side in SIDES for name in aims[side]}),
        follow,
    )
    plot = Plot(
        anchored=anchored,
        moves=own,
        along=follow,
        order=order,
        tie_rods={
            side: turn_tie_rod(
                car, side, changes[side].get("tie_rod", 0.0), standing=stand.get(side, {}).get("tie_rod", 0.0)
            )
            for side in SIDES
        },
        collars={side: _collars(anchored.measured, side, changes[side], stand[side]) for side in SIDES},
        travel_at=travel_at,
        response=answers,
    )
    return WorkOrder(
        anchored=anchored,
        wanted=aims,
        changes=changes,
        standing=stand,
        after=after,
        misses=misses,
        stopped_by={side: found[side].at_limit if misses[side] else {} for side in SIDES},
        reasons={side: found[side].reason for side in SIDES},
        tie_rods=plot.tie_rods,
        collars=plot.collars,
        springs={side: _springs(anchored.measured, side, changes[side], stand[side], plot) for side in SIDES},
        margins=margins(car, changes["left"], changes["right"], standing=stand, measured=anchored.measured),
        steps=tuple(steps_of(plot)),
        order=order,
        steering_before=steering_wheel(car),
        steering_after=steering_wheel(car, changes["left"], changes["right"]),
        held=_held(travel_at, spans, wanted, aims, follow),
        assumed=tuple(_assumed(car, spans)),
        free=tuple(spans),
        along=follow,
        travel_at=travel_at,
        response=answers,
    )


class _Search:
    """The search for the setting of one side."""

    def __init__(
        self,
        anchored: Anchored,
        side: Side,
        bounds: Mapping[str, tuple[float, float]],
        travel_at: TravelAt,
        response: Mapping[str, float],
        along: Along,
    ) -> None:
        self.corner = anchored.corner(side)
        self.accuracy = anchored.sheet.accuracy
        self.bounds = bounds
        self.travel_at = travel_at
        self.response = response
        self.along = along

    def aims_and_setting(self, wanted: Mapping[str, float]) -> tuple[dict[str, float], Found]:
        """What is aimed at, what stays as read among it, and the setting that brings it.

        A reading that is only to stay as it was gets an adjuster of its own only where the others would move it by more
        than its gauge can tell: nobody opens a slot for a hundredth of a degree.
        """
        kept = self._kept(wanted)
        self._check_moving([*kept, *wanted])
        aside = [name for name in kept if name != "toe"]
        spared = {adjuster for name in aside for adjuster in _KEPT[name]}
        fewer = {name: bounds for name, bounds in self.bounds.items() if name not in spared}
        if aside and any(least < most for least, most in fewer.values()):
            aims = {**{name: value for name, value in kept.items() if name not in aside}, **wanted}
            found = self._seek(aims, fewer)
            pose = pose_of(self.corner, found.setting, travel_at=self.travel_at)
            if all(abs(getattr(pose, name) - kept[name]) <= self.accuracy[name] for name in aside):
                return aims, found
        aims = {**kept, **wanted}
        return aims, self._seek(aims, self.bounds)

    def _kept(self, wanted: Mapping[str, float]) -> dict[str, float]:
        """Readings that are kept: what a fitter expects of the ones that nobody spoke of."""
        kept: dict[str, float] = {}
        for name, adjusters in _KEPT.items():
            if name in wanted or not set(adjusters) & set(self.bounds):
                continue
            if len(wanted) + len(kept) < len(self.bounds):
                kept[name] = _at_rest(self.corner, name)
        return kept

    def _seek(self, aims: Mapping[str, float], bounds: Mapping[str, tuple[float, float]]) -> Found:
        # A car that makes only part of the model's change is asked for more of it.
        asked = {
            name: _at_rest(self.corner, name) + (value - _at_rest(self.corner, name)) / self.response.get(name, 1.0)
            for name, value in aims.items()
        }
        return seek(
            self.corner,
            asked,
            bounds,
            accuracy=self.accuracy,
            travel_at=self.travel_at,
            along=self.along,
            others=[name for name in self.bounds if name not in bounds],
        )

    def _check_moving(self, readings: list[str]) -> None:
        """Refuse an adjuster that moves none of the wanted readings."""
        design = self.corner.solve(travel_at=self.travel_at)
        for name in self.bounds:
            pose = pose_of(self.corner, with_face({name: 1.0}, self.along), travel_at=self.travel_at)
            if all(abs(getattr(pose, reading) - getattr(design, reading)) < _MOVES_DEG for reading in readings):
                raise InputError(
                    f"free {name!r} moves nothing of what is wanted ({', '.join(readings)}): leave it out",
                    name="free",
                    value=name,
                )


def _check_wanted(wanted: Mapping[Any, Mapping[str, float]]) -> None:
    if not any(wanted[side] for side in SIDES):
        raise InputError(f"nothing is wanted: give at least one of {', '.join(ANGLES)}", name="wanted")
    for side in SIDES:
        for name in wanted[side]:
            if name not in ANGLES:
                raise InputError(
                    f"wanted {name!r} cannot be aimed at: there are {', '.join(ANGLES)}", name="wanted", value=name
                )
    # The ranges of a sheet, with its hints at other units, hold for what is wanted too.
    for side in SIDES:
        for name, value in wanted[side].items():
            try:
                Sheet(WheelReadings(**{name: value}), WheelReadings())
            except FileError as error:
                raise InputError(
                    f"wanted {name} = {value:g} deg on the {side} {error.reason}", name=name, value=value, unit="deg"
                ) from None


def _checked_free(free: Free) -> dict[str, Span]:
    names = [free] if isinstance(free, str) else list(free)
    if not names:
        raise InputError("no adjuster is free: give at least one", name="free")
    for name in names:
        if name not in SETTINGS:
            raise InputError(f"free {name!r} is no adjuster: there are {', '.join(SETTINGS)}", name="free", value=name)
    return spans_of(free)


def _reach(car: Axle, name: str) -> float | None:
    """How far an adjuster goes either way, as far as the car file tells."""
    limits: Mapping[str, Any] = car.limits
    reach: float | None = limits.get(name)
    return reach


def _bounds(car: Axle, name: str, span: Span, stands: float) -> tuple[float, float]:
    """How far an adjuster goes from where it stands."""
    if span is not None:
        least, most = span_of(name, span)
        where = f"the limits given, {least:g} to {most:g}"
    else:
        reach = _reach(car, name)
        where = f"limits.{name} = {reach:g}" if reach is not None else "the reach that is taken"
        reach = _OTHERWISE_REACH.get(name, _OTHERWISE) if reach is None else reach
        least, most = -reach, reach
    if not least <= most:
        raise InputError(
            f"the limits of {name} leave nothing: from {least:g} to {most:g} {SETTINGS[name]['units']}",
            name=name,
            value=(least, most),
        )
    if not least - _ROUND_OFF <= stands <= most + _ROUND_OFF:
        raise InputError(
            f"standing {name} = {stands:g} {SETTINGS[name]['units']} is beyond {where}",
            name=name,
            value=stands,
            limit=most if stands > most else least,
        )
    return min(least - stands, 0.0), max(most - stands, 0.0)


def _assumed(car: Axle, spans: Mapping[str, Span]) -> Iterable[str]:
    """Reaches that were taken because nobody told them."""
    for name, span in spans.items():
        if span is None and _reach(car, name) is None:
            reach = _OTHERWISE_REACH.get(name, _OTHERWISE)
            yield (
                f"The car file does not tell how far the {part_name(name)} goes (limits.{name}):"
                f" {reach:g} {SETTINGS[name]['units']} either way is taken."
            )


def _at_rest(corner: Corner, name: str) -> float:
    value: float = getattr(corner.solve(), name)
    return value


def _reading(wheel: WheelReadings, name: str) -> float:
    value: float = getattr(wheel, name)
    return value


def _heights(car: Axle, side: Side, setting: Mapping[str, float], collar: float = 0.0) -> Heights:
    """Ride height with the collar so far up, and the collar that puts it back."""
    try:
        return heights(car, side, collar=collar, **dict(setting))
    except ReachError:
        # A stop that the linkage cannot reach is none: ride height can be told all the same.
        tables = car.to_dict()
        tables["limits"] = {key: value for key, value in tables["limits"].items() if key not in ("bump", "droop")}
        return heights(Axle.from_dict(tables), side, collar=collar, **dict(setting))


def _collars(measured: Axle, side: Side, change: Mapping[str, float], stand: Mapping[str, float]) -> Heights:
    """What a change does to ride height, and the collar that puts it back, from where the car stands now.

    The car stands at its ride height: the collar was turned for what its adjusters were moved before.
    """
    before = _heights(measured, side, stand).collar_for_ride_height
    stood = _heights(measured, side, stand, before)
    after = _heights(measured, side, added(stand, change), before)
    turned = after.collar_for_ride_height - before
    pitch = measured.spring["collar_thread_pitch"]
    return replace(
        after,
        ride_height=after.ride_height - stood.ride_height,
        strut_compression=after.strut_compression - stood.strut_compression,
        collar_for_ride_height=turned,
        collar_turns=None if pitch is None else turned / pitch,
        at_the_wheel={name: value - stood.at_the_wheel[name] for name, value in after.at_the_wheel.items()},
    )


def _springs(
    measured: Axle, side: Side, change: Mapping[str, float], stand: Mapping[str, float], plot: Plot
) -> tuple[Heights, Heights]:
    """How the spring is held before the work and after it, the collar turned as the steps ask for."""
    before = _heights(measured, side, stand).collar_for_ride_height
    collar = before + (plot.collars[side].collar_for_ride_height if plot.turns_collars else 0.0)
    return _heights(measured, side, stand, before), _heights(measured, side, added(stand, change), collar)


def _held(
    travel_at: TravelAt,
    free: Iterable[str],
    wanted: Mapping[Any, Mapping[str, float]],
    aims: Mapping[Side, Mapping[str, float]],
    along: Along,
) -> str:
    names = list(free)
    toe = (
        "The tie rods are not touched, and toe goes where it goes"
        if "tie_rod" not in names
        else "Toe is brought to what is wanted by the tie rods"
        if any("toe" in wanted[side] for side in SIDES)
        else "Toe is put back to what the sheet reads by the tie rods"
    )
    kept = sorted({name for side in SIDES for name in aims[side] if name not in wanted[side] and name != "toe"})
    if kept:
        toe += f"; {' and '.join(kept)} stay{'s' if len(kept) == 1 else ''} as read"
    near = sorted(
        name
        for name, adjusters in _KEPT.items()
        if name != "toe"
        and set(adjusters) & set(names)
        and not any(name in aims[side] or name in wanted[side] for side in SIDES)
    )
    if near:
        toe += f"; {' and '.join(near)} stay{'s' if len(near) == 1 else ''} within what its gauge can tell"
    collar = "; where the plates change it, the collars put it back" if travel_at == "ground" else ""
    face = (
        " Strut tops slide along their towers' faces, and rise or fall with them."
        if any(by in names for rates in along.values() for by in rates)
        else ""
    )
    return f"Held: {TRAVEL_AT[travel_at]}{collar}. {toe}.{face} Free to move: {', '.join(map(part_name, names))}."
