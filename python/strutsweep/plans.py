"""What `plan` gives: a setting, what it reads, and what stands in its way."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from strutsweep._core import Corner, Pose
from strutsweep._inputs import TravelAt
from strutsweep._tables import Table, amount, html_of, text_of
from strutsweep._wanting import Along, Want, along_text, by_itself, going_along
from strutsweep.words import OUTCOMES, READINGS, SETTINGS, STATUSES, TRAVEL_AT

__all__ = ["AxlePlan", "Plan"]

_TELLING = 1e-6
"""A miss of less than this, in a reading's unit, is none to speak of."""
_DECIMALS = {"deg": 3, "mm": 2, "deg/mm": 6, "1": 4}

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
        Least and greatest value of each free adjuster; infinite where none was stated. Of one that goes along with
        others too, of what it goes by itself: shims, and not the height of the strut top.
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
    along : dict of str to dict
        Settings that go along with free adjusters, and how far per unit of each; of a setting that is free itself,
        whatever it goes along with.
    stops : str
        The adjusters that stand at a limit, and where, in words.
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
    along: Along = field(default_factory=dict)
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
        """Per free adjuster how far it moves by itself from where it stood, in its unit: without what goes along."""
        start, setting = self._by_itself()
        return {name: setting[name] - start[name] for name in self.free}

    def _by_itself(self) -> tuple[dict[str, float], dict[str, float]]:
        """The setting before and after without what goes along: where each adjuster stands by itself."""
        return by_itself(self.start, self.along), by_itself(self.setting, self.along)

    def _going(self) -> Along:
        return going_along(self.along, self.free)

    def _name(self, adjuster: str) -> str:
        return f"{adjuster} by itself" if adjuster in self.along else adjuster

    @property
    def stops(self) -> str:
        """The adjusters that stand at a limit, and where, in words."""
        _, own = self._by_itself()
        places = (f"{self._name(name)} at {own[name]:+g} {SETTINGS[name]['units']}" for name in self.active_limits)
        return ", ".join(places)

    def tables(self) -> list[Table]:
        """The plan as tables: adjusters, wanted readings, other readings."""
        title = f"{self.corner.name}, {self.corner.side} corner"
        adjusters = []
        own_start, own_setting = self._by_itself()
        for name in self.free:
            least, most = self.limits[name]
            limits = "none" if math.isinf(least) and math.isinf(most) else f"{least:+g} to {most:+g}"
            mark = f" at its {self.active_limits[name]}" if name in self.active_limits else ""
            places = [amount(value, 3) for value in (own_start[name], own_setting[name])]
            moved = amount(self.moves[name], 3, signed=True)
            words = SETTINGS[name]
            cells = [
                self._name(name),
                *places,
                moved,
                words["units"],
                words["positive"],
                f"{limits} ({self.limits_from[name]}){mark}",
            ]
            adjusters.append(cells)
        for name, rates in self._going().items():
            words = SETTINGS[name]
            places = [amount(value, 3) for value in (self.start[name], self.setting[name])]
            moved = amount(self.setting[name] - self.start[name], 3, signed=True)
            why = f"goes along ({', '.join(rates)}){', and by itself' * (name in self.free)}"
            adjusters.append([name, *places, moved, words["units"], words["positive"], why])
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
        if going := self._going():
            notes.append(f"Goes along: {along_text(going)} (the top slides in its tower's face).")
        notes.append(f"{self.reason[0].upper()}{self.reason[1:]}.")
        missed = [label for label, miss in self.residuals.items() if abs(miss) > _TELLING]
        if self.outcome == "nearest" and len(missed) > 1:
            notes.append(f"What is free moves {' and '.join(missed)} together: it cannot give each of them.")
        if self.active_limits and not self.reached:
            notes.append(f"Stopped by {self.stops}.")
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
