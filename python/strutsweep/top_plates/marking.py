"""Marks beside the slots: equal millimetres, or true degrees for one car at one ride height; and how far each errs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal, TypeAlias, get_args

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner, TopPlate
from strutsweep._inputs import TravelAt
from strutsweep.errors import InputError
from strutsweep.top_plates.hardware import (
    RIDE_HEIGHT,
    SLIDES,
    Floats,
    Problem,
    Toe,
    check_toe,
    check_travels,
    corners_of,
    held,
)
from strutsweep.words import attributes

__all__ = ["MarkKind", "Sliding", "marks"]

Sliding: TypeAlias = Literal["insert", "plate"]
"""Which slide the marks are for: the insert's, for camber, or the plate's, for caster."""

MarkKind: TypeAlias = Literal["degrees", "millimetres"]

_ANGLE: Final[dict[str, str]] = {"insert": "camber", "plate": "caster"}
_MOST_MARKS: Final = 400
_ON_THE_END_MM: Final = 1e-9


def marks(
    corners: Corner | Sequence[Corner],
    top_plate: TopPlate,
    *,
    of: Sliding = "insert",
    kind: MarkKind = "degrees",
    step: float | None = None,
    position: int = 0,
    ride_height: float = 0.0,
    also_at: npt.ArrayLike = (),
    toe: Toe = "put_back",
    travel_at: TravelAt = "ground",
) -> xr.Dataset:
    """Marks beside a slot, within its reach, and what each is worth elsewhere.

    The zero mark is where the strut top stands as it was measured: both slides there, camber and caster as at design.
    Marks count from it. Marks in degrees are true on the first corner at one ride height, with the other slide at its
    zero; each is solved for. Marks in millimetres are true everywhere.

    Parameters
    ----------
    corners : Corner or sequence of Corner
        The corner that the marks are true on, and others on which they are read: ``(car.left, car.right)``.
    top_plate : TopPlate
        ``car.top_plate``, or a plan's.
    of : {"insert", "plate"}
        Marks for the insert's slide, read as camber, or for the plate's, read as caster.
    kind : {"degrees", "millimetres"}
        What the marks count.
    step : float, optional
        From mark to mark: 0.5 deg or 2 mm unless given. A mark at each whole degree, or each 10 mm, is long.
    position : int
        The insert's position that the marks are for: each has marks of its own.
    ride_height : float
        Where degrees are true: travel in mm, bump positive.
    also_at : array
        Other ride heights at which the marks are read, in mm.
    toe : {"put_back", "as_it_comes"}
        Whether the tie rod puts toe back to what it is at design, or keeps its length.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held.

    Returns
    -------
    xarray.Dataset
        Along ``mark``: ``slide`` in mm from the hardware's middle, ``from_zero`` in mm, ``label`` (text), ``worth`` in
        deg of change on the first corner at the ride height, ``long``. By side and ride height: ``change`` in deg, the
        true change of camber or caster from the zero mark there, and ``error`` in deg, by how much the label's degrees
        (for millimetres: their worth) miss it. ``largest_error`` in the attributes.

    Raises
    ------
    InputError
        A step that is not positive or makes too many marks, an unknown word, no such position, a ride height that is
        none.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.top_plates import marks
    >>> car = ss.demo("gravel_hatch")
    >>> ladder = marks(car.left, car.top_plate, of="plate", also_at=[-20, 20])
    >>> ladder.label.values.tolist()
    ['-0.5', '0', '+0.5']
    >>> ladder.slide.values.round(2).tolist()
    [-5.75, 0.0, 5.75]
    """
    check_toe(toe)
    for name, value, allowed in (("of", of, get_args(Sliding)), ("kind", kind, get_args(MarkKind))):
        if value not in allowed:
            raise InputError(f"{name} = {value!r} is not one of {', '.join(allowed)}", name=name, value=value)
    if not 0 <= position < top_plate.positions:
        message = f"position = {position} is none of the insert's {top_plate.positions}, counted from 0"
        raise InputError(message, name="position", value=position)
    every = (0.5 if kind == "degrees" else 2.0) if step is None else float(step)
    if not 0.0 < every < np.inf:
        raise InputError(f"step = {step} must be positive", name="step", value=step, limit=0.0)
    check_travels(ride_height=ride_height, also_at=also_at)
    several = corners_of(corners)
    heights = np.unique([ride_height, *np.atleast_1d(np.asarray(also_at, dtype=np.float64))])
    row = 0 if of == "plate" else 1
    zero = top_plate.slides(np.zeros(1), np.zeros(1), np.array([position]))[:, 0]
    least, most = (top_plate.plate_slot if of == "plate" else top_plate.insert_slot)["reach"]
    reading = _Reading(several, top_plate, position, toe, travel_at, zero, row)
    if kind == "millimetres":
        counts = _counts(least - zero[row], most - zero[row], every)
        slides = zero[row] + every * counts
    else:
        slides, counts = reading.degrees(ride_height, least, most, every)
    change = np.stack(
        [[reading.change(corner, np.full(slides.size, height), slides) for height in heights] for corner in several]
    )
    worth = change[0, int(np.searchsorted(heights, ride_height))]
    labelled = every * counts if kind == "degrees" else worth
    long_every = 1.0 if kind == "degrees" else 10.0
    angle = _ANGLE[of]
    words = {"units": "deg", "positive": attributes(angle)["positive"]}
    error = labelled - change
    whole = np.round(every * counts / long_every)
    return xr.Dataset(
        {
            "slide": ("mark", slides, SLIDES[of]),
            "from_zero": ("mark", slides - zero[row], {"units": "mm", "long_name": "distance from the zero mark"}),
            "label": ("mark", [_label(every * count) for count in counts]),
            "worth": ("mark", worth, {**words, "long_name": f"change of {angle} from the zero mark"}),
            "long": ("mark", np.isclose(every * counts, long_every * whole, atol=1e-9)),
            "change": (
                ("side", "ride_height", "mark"),
                change,
                {**words, "long_name": f"true change of {angle} from the zero mark"},
            ),
            "error": (
                ("side", "ride_height", "mark"),
                error,
                {"units": "deg", "long_name": "label less the true change", "positive": "the label says too much"},
            ),
        },
        coords={
            "side": [corner.side for corner in several],
            "ride_height": ("ride_height", heights, RIDE_HEIGHT),
        },
        attrs={
            "title": several[0].name,
            "of": of,
            "angle": angle,
            "kind": kind,
            "position": position,
            "ride_height": float(ride_height),
            "largest_error": float(np.abs(error).max(initial=0.0)),
            "held": held(toe, travel_at),
        },
    )


class _Reading:
    """The change of an angle along one slide, the other at its zero."""

    def __init__(
        self,
        corners: tuple[Corner, ...],
        plate: TopPlate,
        position: int,
        toe: Toe,
        travel_at: TravelAt,
        zero: Floats,
        row: int,
    ) -> None:
        self.first = corners[0]
        self.plate = plate
        self.position = position
        self.toe = toe
        self.travel_at = travel_at
        self.zero = zero
        self.row = row

    def _problem(self, corner: Corner, heights: Floats) -> Problem:
        return Problem(corner, self.plate, np.full(heights.size, self.position), heights, self.travel_at)

    def _at(self, slides: Floats) -> Floats:
        at = np.zeros((3, slides.size))
        at[0], at[1] = self.zero[0], self.zero[1]
        at[self.row] = slides
        return at

    def change(self, corner: Corner, heights: Floats, slides: Floats) -> Floats:
        """Change from the zero mark at slides, each at a ride height."""
        heights, slides = np.append(heights, heights[:1]), np.append(slides, self.zero[self.row])
        problem = self._problem(corner, heights)
        at = self._at(slides)
        if self.toe == "put_back":
            at = problem.put_toe_back(at, corner.toe)
        found = np.full(slides.size, np.nan)
        reached = np.flatnonzero(np.isfinite(at).all(axis=0))
        found[reached] = problem.angles(at[:, reached], reached)[1 if self.row == 0 else 0]
        changes: Floats = found[:-1] - found[-1]
        return changes

    def degrees(self, ride_height: float, least: float, most: float, every: float) -> tuple[Floats, Floats]:
        """Slides of the marks at equal changes of the angle, and how many steps each is from zero."""
        ends = np.sort(self.change(self.first, np.full(2, ride_height), np.array([least, most])))
        counts = _counts(ends[0], ends[1], every)
        angle = 1 if self.row == 0 else 0
        heights = np.full(counts.size, ride_height)
        problem = self._problem(self.first, heights)
        start = self._at(np.full(counts.size, self.zero[self.row]))
        if self.toe == "put_back":
            start = problem.put_toe_back(start, self.first.toe)
        wanted = problem.angles(start)
        wanted[angle] += every * counts
        wanted[2] = self.first.toe
        unknowns, angles = ["plate" if self.row == 0 else "insert"], ["caster" if self.row == 0 else "camber"]
        if self.toe == "put_back":
            unknowns, angles = [*unknowns, "tie_rod"], [*angles, "toe"]
        slides = problem.solve(start, wanted, unknowns, angles)[self.row]
        slides[counts == 0.0] = self.zero[self.row]
        inside = (slides >= least - _ON_THE_END_MM) & (slides <= most + _ON_THE_END_MM)
        order = np.argsort(slides[inside])
        return slides[inside][order], counts[inside][order]


def _counts(least: float, most: float, every: float) -> Floats:
    """Whole numbers of steps between two ends, zero among them only if it lies there."""
    first, last = np.ceil(least / every - 1e-9), np.floor(most / every + 1e-9)
    if not last - first < _MOST_MARKS:
        raise InputError(
            f"step = {every:g} makes more than {_MOST_MARKS} marks", name="step", value=every, limit=_MOST_MARKS
        )
    return np.arange(first, last + 1.0)


def _label(value: float) -> str:
    rounded = round(value, 6)
    return "0" if rounded == 0.0 else f"{rounded:+g}"
