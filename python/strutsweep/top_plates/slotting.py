"""From a target box of camber and caster to slots: where, how long, how wide."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner, TopPlate
from strutsweep._inputs import TravelAt
from strutsweep.errors import InputError, ReachError
from strutsweep.top_plates.hardware import (
    RIDE_HEIGHT,
    SLIDES,
    Floats,
    Problem,
    Toe,
    Whole,
    check_toe,
    corners_of,
    held,
    letter,
    slack,
    solve_box,
)
from strutsweep.top_plates.reaching import offsets
from strutsweep.words import attributes

__all__ = ["FITS", "Fit", "Slot", "SlotPlan", "slot_width", "slots"]

Fit: TypeAlias = Literal["fine", "medium", "coarse"]

FITS: Final[dict[float, dict[str, float]]] = {
    5.0: {"fine": 5.3, "medium": 5.5, "coarse": 5.8},
    6.0: {"fine": 6.4, "medium": 6.6, "coarse": 7.0},
    8.0: {"fine": 8.4, "medium": 9.0, "coarse": 10.0},
    10.0: {"fine": 10.5, "medium": 11.0, "coarse": 12.0},
    12.0: {"fine": 13.0, "medium": 13.5, "coarse": 14.5},
    14.0: {"fine": 15.0, "medium": 15.5, "coarse": 16.5},
    16.0: {"fine": 17.0, "medium": 17.5, "coarse": 18.5},
}
"""Diameters of clearance holes in mm, by the bolt's diameter and the fit (ISO 273, from memory)."""

_SAMPLES: Final = 97
"""Points along each edge of the box; between them a parabola is laid through the outermost three."""
_HEIGHTS: Final = 5
"""Ride heights looked at between the ends of a band, ends included."""
_MOST_POSITIONS: Final = 8
"""All choices of so many insert positions are tried."""
_TIE_MM: Final = 1e-6

Pair: TypeAlias = Sequence[float]


def slot_width(bolt: float, fit: Fit = "medium") -> float:
    """Width of a slot for a bolt: its diameter and the clearance of a fit.

    Parameters
    ----------
    bolt : float
        Diameter of the bolt in mm, one of `FITS`.
    fit : {"fine", "medium", "coarse"}
        Series of clearance holes.

    Returns
    -------
    float
        In mm.

    Raises
    ------
    InputError
        A bolt or a fit that the table has not.

    Examples
    --------
    >>> from strutsweep.top_plates import slot_width
    >>> [slot_width(8, fit) for fit in ("fine", "medium", "coarse")]
    [8.4, 9.0, 10.0]
    """
    if bolt not in FITS:
        sizes = ", ".join(f"{size:g}" for size in FITS)
        raise InputError(f"bolt = {bolt} mm is none of the sizes {sizes}: give a width", name="bolt", value=bolt)
    if fit not in FITS[bolt]:
        raise InputError(f"fit = {fit!r} is not one of fine, medium, coarse", name="fit", value=fit)
    return FITS[bolt][fit]


@dataclass(frozen=True)
class Slot:
    """A slot as it is to be cut.

    Attributes
    ----------
    name : str
        ``"plate"`` or ``"insert"``: what slides by it.
    direction : float
        In the plate, in deg: 0 inboard, 90 rearward.
    centre : float
        Slide of its middle from the hardware's middle, in mm.
    needed : float
        Half of the travel that the box needs, in mm.
    half_travel : float
        Half of the bolts' travel, tolerance and seating margin included, in mm.
    width : float
        In mm.
    """

    name: str
    direction: float
    centre: float
    needed: float
    half_travel: float
    width: float

    @property
    def length(self) -> float:
        """Length over the full-radius ends, in mm."""
        return 2.0 * self.half_travel + self.width

    @property
    def reach(self) -> tuple[float, float]:
        """Least and greatest slide, in mm."""
        return self.centre - self.half_travel, self.centre + self.half_travel


@dataclass(frozen=True)
class SlotPlan:
    """Slots that reach a box of camber and caster, and the proof.

    Attributes
    ----------
    top_plate : TopPlate
        The plate with these slots.
    slots : tuple of Slot
        The plate's and the insert's.
    positions : tuple of int
        The insert's positions that the slots count on.
    corners : xarray.Dataset
        For each corner of the box, each side, ride height and position: where the hardware stands (``plate``,
        ``insert``, ``tie_rod`` in mm), whether that is ``inside`` the slots, and ``camber`` and ``caster`` solved
        forward from there.
    ends : xarray.Dataset
        ``camber`` and ``caster`` at the ends of the slots, solved forward, by side, ride height, position, end of the
        plate slot and end of the insert slot.
    camber, caster : pair of float
        The box, in deg.
    ride_heights : pair of float
        The band, in mm of travel.
    tolerance, seating : float
        Added to each half, in mm.
    """

    corners_of: tuple[Corner, ...]
    top_plate: TopPlate
    slots: tuple[Slot, Slot]
    positions: tuple[int, ...]
    corners: xr.Dataset
    ends: xr.Dataset
    camber: tuple[float, float]
    caster: tuple[float, float]
    ride_heights: tuple[float, float]
    tolerance: float
    seating: float
    toe: Toe
    travel_at: TravelAt

    @property
    def held(self) -> str:
        """What is held while the hardware moves, in words."""
        return held(self.toe, self.travel_at)

    @property
    def largest_error(self) -> float:
        """Largest miss of a box corner by the pose solved forward from where the hardware stands, in deg."""
        return max(
            float(abs(self.corners[name] - self.corners[f"wanted_{name}"]).max()) for name in ("camber", "caster")
        )

    def check(self, count: int = 101) -> xr.Dataset:
        """Whether every point of a grid over the box is within the slots, at both ends of the ride-height band.

        Parameters
        ----------
        count : int
            Points along camber and along caster.

        Returns
        -------
        xarray.Dataset
            ``slack`` in mm by side, ride height, camber and caster: how far the hardware stays from the nearer slot
            end, in the better of the positions; negative is out of reach.

        Examples
        --------
        >>> import strutsweep as ss
        >>> car = ss.demo("gravel_hatch")
        >>> plan = ss.slots(car.left, car.top_plate, camber=(-2, -0.5), caster=(2.5, 3.2))
        >>> bool((plan.check(21).slack >= plan.tolerance + plan.seating - 1e-6).all())
        True
        """
        camber, caster = (np.linspace(*pair, count) for pair in (self.camber, self.caster))
        heights = np.unique(self.ride_heights)
        left = np.full((len(self.corners_of), heights.size, count, count), -np.inf)
        grid = [axis.ravel() for axis in np.meshgrid(heights, camber, caster, indexing="ij")]
        for row, corner in enumerate(self.corners_of):
            for position in self.positions:
                whole = np.full(grid[0].size, position)
                problem = Problem(corner, self.top_plate, whole, grid[0], self.travel_at)
                at = solve_box(problem, grid[1], grid[2], self.toe)
                left[row] = np.maximum(left[row], slack(self.top_plate, at).reshape(left[row].shape))
        words = {"units": "mm", "long_name": "distance of the bolts from the nearer slot end", "positive": "inside"}
        return xr.Dataset(
            {"slack": (("side", "ride_height", "camber", "caster"), left, words)},
            coords={
                "side": [corner.side for corner in self.corners_of],
                "ride_height": ("ride_height", heights, RIDE_HEIGHT),
                "camber": ("camber", camber, attributes("camber")),
                "caster": ("caster", caster, attributes("caster")),
            },
            attrs={"held": self.held},
        )

    def __str__(self) -> str:
        names = " and ".join(corner.side for corner in self.corners_of)
        lines = [
            f"{self.corners_of[0].name}, {names}: slots for camber {self.camber[0]:+.2f} to {self.camber[1]:+.2f} deg"
            f" and caster {self.caster[0]:+.2f} to {self.caster[1]:+.2f} deg",
            f"  ride height {self.ride_heights[0]:+g} to {self.ride_heights[1]:+g} mm; {self.held}",
        ]
        for slot in self.slots:
            least, most = slot.reach
            lines.append(
                f"  {slot.name} slot: direction {slot.direction:g} deg, slides {least:+.2f} to {most:+.2f} mm (needed"
                f" +-{slot.needed:.2f} about {slot.centre:+.2f}), width {slot.width:g} mm, length {slot.length:.2f} mm"
            )
        used = ", ".join(letter(position) for position in self.positions)
        lines.append(
            f"  insert offset {self.top_plate.insert['offset']:g} mm, position{'s' if len(self.positions) > 1 else ''}"
            f" {used}; each half includes {self.tolerance:g} mm tolerance and {self.seating:g} mm seating margin"
        )
        lines.append(f"  solved forward, the box's corners are met within {self.largest_error:.1e} deg")
        return "\n".join(lines)

    def __repr__(self) -> str:
        return f"<SlotPlan>\n{self}"


def slots(
    corners: Corner | Sequence[Corner],
    top_plate: TopPlate,
    *,
    camber: Pair,
    caster: Pair,
    ride_heights: Pair = (0.0, 0.0),
    tolerance: float = 1.0,
    seating: float = 0.5,
    fit: Fit = "medium",
    toe: Toe = "put_back",
    travel_at: TravelAt = "ground",
) -> SlotPlan:
    """The smallest slots with which an adjustable strut top reaches a box of camber and caster.

    Directions, insert offset, insert positions and bolts are those of the plate; where its slots end is not looked at.
    Of the insert's positions those are used with which the slots come out shortest. Half a slot is half the travel that
    the box needs at the extreme ride heights, plus tolerance, plus seating margin.

    Parameters
    ----------
    corners : Corner or sequence of Corner
        One corner, or several that the plate has to serve alike: ``(car.left, car.right)``.
    top_plate : TopPlate
        ``car.top_plate``, or one to try.
    camber, caster : pair of float
        Least and greatest in deg, at every ride height of the band.
    ride_heights : pair of float
        Least and greatest travel at which the car is set, in mm, bump positive.
    tolerance : float
        How far towers and parts may be off, in mm, added to each half.
    seating : float
        How far a bolt must stay from the end of its slot, in mm, added to each half.
    fit : {"fine", "medium", "coarse"}
        Clearance of the bolts, for slots of no stated width.
    toe : {"put_back", "as_it_comes"}
        Whether the tie rod puts toe back to what it is at design, or keeps its length.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held.

    Returns
    -------
    SlotPlan

    Raises
    ------
    InputError
        A box or band the wrong way round, a negative margin, a bolt of unknown size.
    ReachError
        Part of the box is out of the linkage's reach, however long the slots.

    Examples
    --------
    >>> import strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> plan = ss.slots(car.left, car.top_plate, camber=(-2.0, -0.5), caster=(2.5, 3.2))
    >>> [round(slot.half_travel, 1) for slot in plan.slots]
    [5.5, 7.5]
    >>> plan.largest_error < 1e-6
    True
    """
    check_toe(toe)
    several = corners_of(corners)
    box = {name: _pair(name, pair) for name, pair in (("camber", camber), ("caster", caster))}
    band = _pair("ride_heights", ride_heights)
    for name, value in (("tolerance", tolerance), ("seating", seating)):
        if not 0.0 <= value < np.inf:
            raise InputError(f"{name} = {value} mm must be 0 or more", name=name, value=value, limit=0.0, unit="mm")
    if top_plate.positions > _MOST_POSITIONS:
        raise InputError(
            f"top_plate.insert.angles: {top_plate.positions} positions are more than {_MOST_POSITIONS}, of which the"
            " best can be found",
            name="top_plate",
            value=top_plate.positions,
            limit=_MOST_POSITIONS,
        )
    widths = [cut_width(top_plate, name, fit) for name, _ in _slots_of(top_plate)]
    plate, insert = _images(several, top_plate, box["camber"], box["caster"], band, toe, travel_at)
    chosen, spans = _smallest(top_plate, plate, insert)
    margin = tolerance + seating
    found = []
    for (name, slot), (least, most), width in zip(_slots_of(top_plate), spans, widths, strict=True):
        needed = 0.5 * (most - least)
        found.append(Slot(name, float(slot["direction"]), 0.5 * (least + most), needed, needed + margin, width))
    with_slots = top_plate.replace(
        **{f"{slot.name}_slot": {"reach": list(slot.reach), "width": slot.width} for slot in found}
    )
    told = dict(camber=box["camber"], caster=box["caster"], band=band, toe=toe, travel_at=travel_at)
    return SlotPlan(
        corners_of=several,
        top_plate=with_slots,
        slots=(found[0], found[1]),
        positions=chosen,
        corners=_corners(several, with_slots, chosen, **told),  # type: ignore[arg-type]
        ends=_ends(several, with_slots, chosen, band, toe, travel_at),
        camber=box["camber"],
        caster=box["caster"],
        ride_heights=band,
        tolerance=float(tolerance),
        seating=float(seating),
        toe=toe,
        travel_at=travel_at,
    )


def _pair(name: str, pair: Pair) -> tuple[float, float]:
    try:
        least, most = (float(value) for value in pair)
    except (TypeError, ValueError):
        raise InputError(f"{name} = {pair!r} is not two numbers, least and greatest", name=name, value=pair) from None
    if not (np.isfinite(least) and np.isfinite(most) and least <= most):
        raise InputError(f"{name} = {pair!r} must be two finite numbers, the lesser first", name=name, value=pair)
    return least, most


def _slots_of(plate: TopPlate) -> tuple[tuple[str, dict[str, Any]], ...]:
    return ("plate", dict(plate.plate_slot)), ("insert", dict(plate.insert_slot))


def cut_width(top_plate: TopPlate, of: str, fit: Fit = "medium") -> float:
    """Width of the slots of plate or insert: as stated, or by their bolts."""
    slot = dict(_slots_of(top_plate))[of]
    if slot["width"] is not None:
        return float(slot["width"])
    if slot["bolt"] is None:
        raise InputError(
            f"top_plate.{of}_slot has neither bolt nor width: give one of them", name="top_plate", value=None
        )
    return slot_width(float(slot["bolt"]), fit)


def _outline(camber: tuple[float, float], caster: tuple[float, float]) -> npt.NDArray[np.float64]:
    """The four edges of the box, shape (4, 2, samples)."""
    along = [np.linspace(*pair, _SAMPLES) for pair in (camber, caster)]
    edges = [np.stack([along[0], np.full(_SAMPLES, end)]) for end in caster]
    edges += [np.stack([np.full(_SAMPLES, end), along[1]]) for end in camber]
    return np.stack(edges)


def _images(
    corners: tuple[Corner, ...],
    plate: TopPlate,
    camber: tuple[float, float],
    caster: tuple[float, float],
    band: tuple[float, float],
    toe: Toe,
    travel_at: TravelAt,
) -> tuple[Floats, Floats]:
    """Slides of plate and insert on the edges of the box, shape (position, everything else, edge samples).

    Inside the box the slides lie between those on its edges: camber and caster grow steadily with the slides.
    """
    heights = np.unique(np.linspace(*band, _HEIGHTS))
    edges = _outline(camber, caster)
    shape = (plate.positions, heights.size, edges.shape[0], edges.shape[2])
    whole = np.ascontiguousarray(np.broadcast_to(np.arange(plate.positions)[:, None, None, None], shape).ravel())
    height = np.ascontiguousarray(np.broadcast_to(heights[:, None, None], shape).ravel())
    wanted = [np.ascontiguousarray(np.broadcast_to(edges[:, axis], shape).ravel()) for axis in (0, 1)]
    found = []
    for corner in corners:
        problem = Problem(corner, plate, whole, height, travel_at)
        at = solve_box(problem, wanted[0], wanted[1], toe)
        if not np.isfinite(at[:2]).all():
            lost = int(np.flatnonzero(~np.isfinite(at[:2]).all(axis=0))[0])
            reason = (
                f"camber {wanted[0][lost]:+.2f} deg with caster {wanted[1][lost]:+.2f} deg at a ride height of"
                f" {height[lost]:+g} mm is out of reach of the {corner.side} corner, however long the slots"
            )
            raise ReachError(reason, reason=reason)
        found.append(at[:2].reshape(2, *shape))
    together = np.stack(found, axis=2)
    return together[0], together[1]


def _span(values: Floats) -> tuple[float, float]:
    """Least and greatest along edges, a parabola laid through the outermost three samples of each."""
    rows = values.reshape(-1, values.shape[-1])
    return -_peak(-rows), _peak(rows)


def _peak(rows: Floats) -> float:
    top = np.argmax(rows, axis=1)
    best = float(rows.max())
    inner = np.flatnonzero((top > 0) & (top < rows.shape[1] - 1))
    before, at, after = (rows[inner, top[inner] + step] for step in (-1, 0, 1))
    bend = before - 2.0 * at + after
    bent = bend < 0.0
    peaks = at[bent] - (after[bent] - before[bent]) ** 2 / (8.0 * bend[bent])
    return max(best, float(peaks.max(initial=-np.inf)))


def _smallest(
    plate: TopPlate, plate_slides: Floats, insert_slides: Floats
) -> tuple[tuple[int, ...], tuple[tuple[float, float], tuple[float, float]]]:
    """The insert positions with which the slots come out shortest, and the slides that they need.

    In position i the insert must slide over [Q0 - o_i, Q1 - o_i] to do everything alone, o_i being the offset along the
    slot. Together positions do with the travel [c - h, c + h] if their ranges [c + o_i - h, c + o_i + h] cover [Q0, Q1]
    without a gap: h is half of what the outermost offsets leave of Q1 - Q0, or half the largest distance of neighbours.
    Where positions differ in height, one and the same box point asks for unlike Q of each: seams overlap by as much.
    """
    _, along = offsets(plate)
    # Ranges of the bearing along the slot; alike for all positions unless their heights differ.
    spans = [_span(insert_slides[i] + along[i]) for i in range(plate.positions)]
    plate_spans = [_span(plate_slides[i]) for i in range(plate.positions)]
    wanted = insert_slides + along.reshape(-1, *[1] * (insert_slides.ndim - 1))
    seam = float(np.ptp(wanted, axis=0).max())
    best: tuple[float, tuple[int, ...], tuple[tuple[float, float], tuple[float, float]]] | None = None
    for count in range(1, plate.positions + 1):
        for chosen in itertools.combinations(range(plate.positions), count):
            least, most = min(spans[i][0] for i in chosen), max(spans[i][1] for i in chosen)
            sorted_along = np.sort(along[list(chosen)])
            apart = np.diff(sorted_along)
            half = max(
                0.5 * (most - least - (sorted_along[-1] - sorted_along[0])),
                0.5 * (float(apart.max()) + seam) if apart.size else 0.0,
            )
            centre = 0.5 * (least + most) - 0.5 * (sorted_along[0] + sorted_along[-1])
            across = min(plate_spans[i][0] for i in chosen), max(plate_spans[i][1] for i in chosen)
            size = half + 0.5 * (across[1] - across[0])
            if best is None or size < best[0] - _TIE_MM:
                best = size, chosen, (across, (float(centre - half), float(centre + half)))
    assert best is not None  # every plate has a position
    return best[1], best[2]


def _corners(
    corners: tuple[Corner, ...],
    plate: TopPlate,
    positions: tuple[int, ...],
    camber: tuple[float, float],
    caster: tuple[float, float],
    band: tuple[float, float],
    toe: Toe,
    travel_at: TravelAt,
) -> xr.Dataset:
    """Where the hardware stands at the corners of the box, and what the gauges show there, solved forward."""
    heights = np.unique(band)
    dims = ("side", "ride_height", "position", "camber_end", "caster_end")
    shape = (len(corners), heights.size, len(positions), 2, 2)
    grid = [
        np.ascontiguousarray(axis.ravel()) for axis in np.meshgrid(heights, positions, camber, caster, indexing="ij")
    ]
    names = ("plate", "insert", "tie_rod", "camber", "caster", "slack")
    values = {name: np.empty(shape) for name in names}
    for row, corner in enumerate(corners):
        problem = Problem(corner, plate, grid[1].astype(np.int64), grid[0], travel_at)
        at = solve_box(problem, grid[2], grid[3], toe)
        for name, found in zip(names, (*at, *problem.angles(at)[:2], slack(plate, at)), strict=True):
            values[name][row] = found.reshape(shape[1:])
    result = xr.Dataset(
        coords={
            "side": [corner.side for corner in corners],
            "ride_height": ("ride_height", heights, RIDE_HEIGHT),
            "position": ("position", list(positions), SLIDES["position"]),
            "wanted_camber": ("camber_end", list(camber), attributes("camber")),
            "wanted_caster": ("caster_end", list(caster), attributes("caster")),
        },
        attrs={"held": held(toe, travel_at)},
    )
    for name in names[:-1]:
        result[name] = (dims, values[name], SLIDES[name] if name in SLIDES else attributes(name))
    result["inside"] = (dims, values["slack"] >= 0.0)
    return result


def _ends(
    corners: tuple[Corner, ...],
    plate: TopPlate,
    positions: tuple[int, ...],
    band: tuple[float, float],
    toe: Toe,
    travel_at: TravelAt,
) -> xr.Dataset:
    """What the gauges show at the ends of the slots."""
    heights = np.unique(band)
    reaches = [list(slot["reach"]) for slot in (plate.plate_slot, plate.insert_slot)]
    shape = (len(corners), heights.size, len(positions), 2, 2)
    grid = [np.ascontiguousarray(axis.ravel()) for axis in np.meshgrid(heights, positions, *reaches, indexing="ij")]
    values = np.empty((2, *shape))
    for row, corner in enumerate(corners):
        whole: Whole = grid[1].astype(np.int64)
        problem = Problem(corner, plate, whole, grid[0], travel_at)
        at = np.stack([grid[2], grid[3], np.zeros(grid[0].size)])
        if toe == "put_back":
            at = problem.put_toe_back(at, corner.toe)
        lost = ~np.isfinite(at[2])
        at[2, lost] = 0.0
        angles = np.where(lost, np.nan, problem.angles(at)[:2])
        values[:, row] = angles.reshape(2, *shape[1:])
    dims = ("side", "ride_height", "position", "plate", "insert")
    return xr.Dataset(
        {name: (dims, array, attributes(name)) for name, array in zip(("camber", "caster"), values, strict=True)},
        coords={
            "side": [corner.side for corner in corners],
            "ride_height": ("ride_height", heights, RIDE_HEIGHT),
            "position": ("position", list(positions), SLIDES["position"]),
            "plate": ("plate", reaches[0], SLIDES["plate"]),
            "insert": ("insert", reaches[1], SLIDES["insert"]),
        },
        attrs={"held": held(toe, travel_at)},
    )
