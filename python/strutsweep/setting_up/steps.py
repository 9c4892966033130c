"""The steps of a work order, in the order that this car's cross-effects ask for, toe last."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from strutsweep._wanting import Along, with_face
from strutsweep.errors import ReachError
from strutsweep.heights import Heights
from strutsweep.setting_up._kinds import SIDES, Side, TravelAt
from strutsweep.setting_up._poses import pose_of
from strutsweep.setting_up.adjusters import STAYS, part_name, slide_text, slides_of, thing_name, way_text
from strutsweep.setting_up.anchoring import Anchored
from strutsweep.setting_up.sequence import LAST, Disturbance
from strutsweep.setting_up.sheet import ANGLES, Sheet, WheelReadings
from strutsweep.setting_up.tie_rods import SEEN, TieRodTurns

__all__ = ["MOVED_MM", "Plot", "Step", "next_sheet", "steps_of"]

MOVED_MM = 0.25
"""Ride height that changes by less than this is let alone."""


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


@dataclass(frozen=True)
class Plot:
    """All that steps are told from."""

    anchored: Anchored
    moves: Mapping[Side, Mapping[str, float]]
    along: Along
    order: Disturbance
    tie_rods: Mapping[Side, TieRodTurns]
    collars: Mapping[Side, Heights]
    travel_at: TravelAt
    response: Mapping[Side, Mapping[str, float]]

    @property
    def turns_collars(self) -> bool:
        """Whether a collar has to put ride height back."""
        return self.travel_at == "ground" and any(abs(self.collars[side].ride_height) >= MOVED_MM for side in SIDES)


def steps_of(plot: Plot) -> Iterator[Step]:
    """The steps of the work."""
    yield Step(
        "Before anything is moved",
        "Tyre pressures and the usual load, car level, suspension settled by rolling and bouncing, steering wheel"
        " straight and locked there. Mark where every plate and thread stands."
        + " Until the collars are turned, the gauges below are told as the car then settles on its springs."
        * plot.turns_collars,
        {},
    )
    done: dict[Side, dict[str, float]] = {"left": {}, "right": {}}
    # A collar not yet turned leaves the spring its length, and the body lower or higher.
    meanwhile: TravelAt = "strut" if plot.turns_collars else plot.travel_at
    for name in plot.order.order:
        if name == LAST:
            continue
        for side in SIDES:
            if name in plot.moves[side]:
                done[side][name] = plot.moves[side][name]
        moves = [
            move for side in SIDES if name in plot.moves[side] and (move := _move(plot, side, name)) is not None
        ]
        if not moves:
            continue
        aim = plot.order.sets.get(name)
        loose = " The spring must be captive in a compressor or proven loose before a top nut is opened." * (
            name == "mount_up"
        )
        yield Step(
            f"Set {aim.replace('_', ' ')}: {part_name(name)}" if aim else f"Set the {part_name(name)}",
            f"Move the {'; the '.join(moves)}. Toe is not yet right, and need not be.{loose}",
            _reads(plot, done, meanwhile),
        )
    if plot.turns_collars:
        texts = [text for side in SIDES if (text := _collar_text(side, plot.collars[side]))]
        yield Step(
            "Put ride height back",
            f"{' '.join(texts)} Roll and bounce the car. From here on readings are told at the ride height of before.",
            _reads(plot, done, plot.travel_at),
        )
    if any(abs(plot.tie_rods[side].longer) >= 0.005 for side in SIDES):
        for side in SIDES:
            if LAST in plot.moves[side]:
                done[side][LAST] = plot.moves[side][LAST]
        rods = ". ".join(plot.tie_rods[side].in_short().capitalize() for side in SIDES)
        seen = f" Turns are {SEEN}." if any(plot.tie_rods[side].turns is not None for side in SIDES) else ""
        yield Step(
            "Set toe, last",
            f"Steering wheel straight and locked. {rods}.{seen} Bring each wheel to its own toe: the right total by one"
            " rod alone would leave the steering wheel off straight.",
            _reads(plot, done, plot.travel_at),
        )
    yield Step(
        "Tighten, settle, read again",
        "Torques are those of the parts' makers. Roll and bounce the car, read a second sheet, and have it compared"
        " with this one. Look at clearance at full lock in bump and in droop.",
        {},
    )


def _move(plot: Plot, side: Side, name: str) -> str | None:
    """What to do with one adjuster on one side; None where it is too little to be shown."""
    amount = plot.moves[side][name]
    way = way_text(name, amount)
    if way == STAYS:
        return None
    slides = slides_of(plot.anchored.car, with_face({name: amount}, plot.along)) if name.startswith("mount") else {}
    slots = [
        f"{part} {text} along its slot"
        for part, slide in slides.items()
        if (text := slide_text(plot.anchored.car, part, slide)) != STAYS
    ]
    return f"{side} {thing_name(name)} {way}" + (f" ({', '.join(slots)})" if slots else "")


def next_sheet(
    anchored: Anchored,
    changes: Mapping[Side, Mapping[str, float]],
    travel_at: TravelAt,
    response: Mapping[Side, Mapping[str, float]],
) -> Sheet:
    """What a sheet reads after changes, what goes along with them among them."""
    wheels = []
    for side in SIDES:
        corner = anchored.corner(side)
        rest, pose = corner.solve(), pose_of(corner, changes[side], travel_at=travel_at)
        wheels.append(
            WheelReadings(
                **{
                    name: getattr(rest, name)
                    + response[side].get(name, 1.0) * (getattr(pose, name) - getattr(rest, name))
                    for name in ANGLES
                }
            )
        )
    left, right = wheels
    return Sheet(left, right, car=anchored.car.name, note="as computed", accuracy=anchored.sheet.accuracy)


def _collar_text(side: Side, collar: Heights) -> str:
    if abs(collar.ride_height) < MOVED_MM:
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
    plot: Plot, done: Mapping[Side, Mapping[str, float]], travel_at: TravelAt
) -> dict[Side, dict[str, float]]:
    whole = {side: with_face(done[side], plot.along) for side in SIDES}
    try:
        sheet = next_sheet(plot.anchored, whole, travel_at, plot.response)
    except (ReachError, ValueError):
        # On the way toe may stand beyond any gauge; the end of the work was checked.
        return {}
    return {side: dict(sheet.wheel(side).angles()) for side in SIDES}
