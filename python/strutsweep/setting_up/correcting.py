"""After the second sheet: how much this car really moves against its model, and what is left to do."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from strutsweep._wanting import Free, with_face
from strutsweep.errors import InputError
from strutsweep.setting_up._kinds import SIDES, Side
from strutsweep.setting_up._poses import pose_of
from strutsweep.setting_up.anchoring import anchor
from strutsweep.setting_up.ordering import USUAL_FREE, order_for
from strutsweep.setting_up.quantities import angle_text
from strutsweep.setting_up.sheet import Sheet
from strutsweep.setting_up.work import WorkOrder

__all__ = ["Correction", "Response", "correct"]

_TOLD: Final = 3.0
"""A response is believed where the change is this many times what the two gauge readings leave open."""

_PLAUSIBLE: Final = (0.6, 1.5)
"""Rubber and measured points explain a response between these; what lies beyond has another cause."""


@dataclass(frozen=True)
class Response:
    """How much one reading of one side moved, against the model.

    Attributes
    ----------
    side : {"left", "right"}
        The side.
    reading : str
        The reading.
    foreseen, found : float
        Change by the model and change between the two sheets, deg.
    open : float
        What the gauges leave open of the found change, deg: twice read, each to its accuracy.
    """

    side: Side
    reading: str
    foreseen: float
    found: float
    open: float

    @property
    def share(self) -> float | None:
        """Found over foreseen; None where the change is too small for the gauges to tell."""
        return self.found / self.foreseen if abs(self.foreseen) >= _TOLD * self.open else None

    @property
    def believed(self) -> float:
        """The share that the next plan uses: 1 where it cannot be told or has another cause than the car's give."""
        share = self.share
        return share if share is not None and _PLAUSIBLE[0] <= share <= _PLAUSIBLE[1] else 1.0

    def __str__(self) -> str:
        words = (
            f"{self.side} {self.reading.replace('_', ' ')}: moved {angle_text(self.found)}, foreseen"
            f" {angle_text(self.foreseen)}"
        )
        if self.share is None:
            return f"{words}: too little for the gauges to tell the car from the model"
        words += f": {self.share + 0.0:.2f} ± {self.open / abs(self.foreseen):.2f} of the model"
        if self.believed != self.share:
            words += "; more than rubber explains: see that everything was moved as planned and sits, and read again"
        return words


@dataclass(frozen=True, repr=False)
class Correction:
    """What a second sheet tells. Made by `correct`.

    Attributes
    ----------
    responses : tuple of Response
        By side and reading, how much this car moves against its model.
    done : dict
        By side what was moved since the first sheet, mm and deg.
    next : WorkOrder
        What is left to do, with this car's own response.
    """

    responses: tuple[Response, ...]
    done: Mapping[Side, Mapping[str, float]]
    next: WorkOrder

    def __str__(self) -> str:
        return "\n".join([*map(str, self.responses), "", str(self.next)])

    def __repr__(self) -> str:
        return f"Correction({len(self.responses)} readings compared, next: {self.next!r})"


def correct(
    order: WorkOrder,
    sheet: Sheet,
    *,
    done: Mapping[Side, Mapping[str, float]] | None = None,
    free: Free = USUAL_FREE,
) -> Correction:
    """Compare a second sheet with what was foreseen, and plan what is left with this car's own response.

    A car is not its model: rubber gives, and points were measured by tape. Where a change was large enough for the
    gauges to tell, its share of the model's change is taken over into the next plan.

    Parameters
    ----------
    order : WorkOrder
        The work that was done.
    sheet : Sheet
        The sheet read after it.
    done : mapping, optional
        By side what was really moved, mm and deg, where it differs from the order.
    free : sequence of str, or mapping of str to limits
        Adjusters that may be moved now, as `set_car` takes them.

    Returns
    -------
    Correction

    Raises
    ------
    InputError
        The two sheets have no reading in common, or the second cannot be this car's.

    Examples
    --------
    >>> import strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> order = ss.set_car(car, ss.Sheet.of(car), {"camber": -1.5, "toe": 0.0}, free=["mount_in", "tie_rod"])
    >>> softer = {
    ...     side: {**change, "mount_in": 0.9 * change["mount_in"]} for side, change in order.changes.items()
    ... }
    >>> second = ss.Sheet.of(car, **softer)                       # a car that makes nine tenths of the camber
    >>> correction = ss.correct(order, second, free=["mount_in", "tie_rod"])
    >>> print(correction.responses[0])
    left camber: moved −0.90°, foreseen −1.00°: 0.90 ± 0.07 of the model
    """
    moved: dict[Side, dict[str, float]] = {}
    for side in SIDES:
        told = dict((done or {}).get(side, {}))
        # A strut top's height that is told is told as it stands; else it is that of its shims and of the face.
        moved[side] = {**with_face({**order.moves[side], **told}, order.along), **told}
    responses = []
    for side in SIDES:
        corner = order.anchored.corner(side)
        rest, pose = corner.solve(), pose_of(corner, moved[side], travel_at=order.travel_at)
        first = dict(order.before.wheel(side).angles())
        for name, value in sheet.wheel(side).angles():
            if name in first:
                both = math.hypot(order.before.accuracy[name], sheet.accuracy[name])
                foreseen = getattr(pose, name) - getattr(rest, name)
                responses.append(Response(side, name, foreseen, value - first[name], both))
    if not responses:
        raise InputError("the two sheets have no reading of one side in common", name="sheet", value=None)
    response: dict[Side, dict[str, float]] = {
        side: {item.reading: item.believed for item in responses if item.side == side and item.believed != 1.0}
        for side in SIDES
    }
    # Toe is read to its target at the rod, turn by turn: its own error is no response of the car's.
    for side in SIDES:
        response[side].pop("toe", None)
    standing: dict[Side, dict[str, float]] = {
        side: {
            name: order.standing.get(side, {}).get(name, 0.0) + moved[side].get(name, 0.0)
            for name in {**order.standing.get(side, {}), **moved[side]}
        }
        for side in SIDES
    }
    anchored = anchor(order.anchored.measured, sheet, standing)
    following = order_for(
        anchored,
        order.wanted,
        free=free,
        standing=standing,
        travel_at=order.travel_at,
        response=response,
        along=order.along,
    )
    return Correction(responses=tuple(responses), done=moved, next=following)
