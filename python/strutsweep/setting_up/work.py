"""The work order of a car: from a measured sheet and wanted readings to positions, turns, steps and the next sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from os import PathLike

from strutsweep._wanting import Along, by_itself
from strutsweep.heights import Heights
from strutsweep.setting_up._kinds import SIDES, Side, TravelAt
from strutsweep.setting_up.adjusters import part_name, slides_of, way_text
from strutsweep.setting_up.anchoring import Anchored
from strutsweep.setting_up.margins import Margin
from strutsweep.setting_up.quantities import AngleForm, angle_text, miss_text
from strutsweep.setting_up.sequence import Disturbance
from strutsweep.setting_up.sheet import Sheet, WheelReadings
from strutsweep.setting_up.steps import Step
from strutsweep.setting_up.tie_rods import SteeringWheel, TieRodTurns

__all__ = ["Line", "WorkOrder"]


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
        By side what to change from where the adjusters stand, mm and deg; what goes along with them among it.
    standing : dict
        By side where the adjusters stood, where that was told.
    after : Sheet
        What the next sheet should read.
    misses : dict
        By side what stays between the next sheet and what is wanted, deg, where something stays.
    stopped_by : dict
        By side the limits that stand in the way: adjuster and value, mm or deg.
    reasons : dict
        By side how the search for the setting ended, in a sentence.
    tie_rods : dict
        By side how to turn the tie rod.
    collars : dict
        By side what ride height asks of the collar.
    springs : dict
        By side how the spring is held at full droop and what travel is left, before and after the work.
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
    assumed : tuple of str
        Reaches of adjusters that the car file does not tell, and what was taken.
    free : tuple of str
        Adjusters that were free to move.
    along : dict
        Settings that go along with adjusters, and how far: a strut top on its tilted tower. Where the setting is free
        itself, what goes along comes on top of what it is moved: of the face on top of shims.
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
    reasons: Mapping[Side, str]
    tie_rods: Mapping[Side, TieRodTurns]
    collars: Mapping[Side, Heights]
    springs: Mapping[Side, tuple[Heights, Heights]]
    margins: tuple[Margin, ...]
    steps: tuple[Step, ...]
    order: Disturbance
    steering_before: SteeringWheel
    steering_after: SteeringWheel
    held: str
    assumed: tuple[str, ...]
    free: tuple[str, ...]
    along: Along
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

    @property
    def moves(self) -> dict[Side, dict[str, float]]:
        """By side what is moved by hand, mm and deg: ``changes`` without what goes along by itself."""
        return {
            side: {name: by_itself(self.changes[side], self.along)[name] for name in self.free} for side in SIDES
        }

    @property
    def slides(self) -> dict[Side, dict[str, float]]:
        """By side how far plate and insert slide along their slots, mm; empty where the car file has no top plate."""
        return {side: slides_of(self.anchored.car, self.changes[side]) for side in SIDES}

    def lines(self) -> Iterator[Line]:
        """The sheet, before, wanted and after: left, right, cross (left minus right), and toe in total; deg."""
        wanted = Sheet(WheelReadings(**dict(self.wanted["left"])), WheelReadings(**dict(self.wanted["right"])))
        sheets = (self.before, wanted, self.after)
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
        words += [
            f"The {side} collar's thread does not go to where ride height asks for it."
            for side in SIDES
            if self.travel_at == "ground" and self.collars[side].collar_within_reach is False
        ]
        words += [near for side in SIDES for near in self._near(side)]
        words += [*self.anchored.remarks, *self.anchored.assumptions, *self.assumed]
        words += [loose for side in SIDES if (loose := self._loose(side))]
        return words

    def _near(self, side: Side) -> Iterator[str]:
        """What reads as wanted already, as far as its gauge can tell, and is moved all the same."""
        for adjuster, reading in self.order.sets.items():
            before, wanted = getattr(self.before.wheel(side), reading), self.wanted[side].get(reading)
            if reading == "toe" or before is None or wanted is None or not self.changes[side].get(adjuster):
                continue
            if abs(before - wanted) <= self.before.accuracy[reading]:
                yield (
                    f"{reading.replace('_', ' ').capitalize()} on the {side} reads what is wanted already, to"
                    f" {angle_text(self.before.accuracy[reading], sign=False)} that its gauge is good for: its step can"
                    " be left out there."
                )

    def _loose(self, side: Side) -> str:
        """What is to be said of a spring that lies loose at full droop."""
        before, after = self.springs[side]
        if after.captive is not False or after.preload_length is None:
            return ""
        was = "as it did before the work" if before.captive is False else "which it did not before the work"
        return (
            f"The {side} spring lies loose at full droop by {-after.preload_length:.1f} mm, {was}: off its seats it can"
            " jump aside as the car comes down."
        )

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
            for name, amount in self.moves[side].items()
            if name != "tie_rod"
        )
        return f"WorkOrder({self.car!r}, {'met' if self.met else 'not met'}: {moves})"

    def _repr_html_(self) -> str:
        from strutsweep.setting_up.printed import html_fragment

        return html_fragment(self)

    def __str__(self) -> str:
        from strutsweep.setting_up.printed import terminal_text

        return terminal_text(self, width=100)


def _miss(name: str, miss: float) -> str:
    return f"{name.replace('_', ' ')} ends {miss_text(miss)} off"


def _stop(name: str, value: float) -> str:
    return f"{part_name(name)} is at its end ({way_text(name, value)} from here)"
