"""What an adjustable strut top reaches: camber and caster that can be set, by insert position and in all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

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
    check_toe,
    check_travels,
    held,
    letter,
)
from strutsweep.words import attributes

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry as Geometry

__all__ = ["Join", "Reach", "joins", "reach"]

_SAME_LINE_MM: Final = 1e-6
"""Positions whose bearing lies this near to one line along the insert slot lie on it."""
_NO_GAP_MM: Final = 1e-9
"""A gap this small is round-off: slots of just the right length join up."""


@dataclass(frozen=True)
class Join:
    """Two positions of the insert, neighbours along its slot, and whether their ranges join up.

    Attributes
    ----------
    first, second : int
        The positions, counted from 0; the second reaches farther along the slot's direction.
    gap : float
        Distance between the end of the first range and the start of the second, in mm; negative is an overlap.
    across : float
        How far the second's line lies beside the first's, square to it or as far as the plate slides to make up for it,
        in mm of plate slide.
    travel : float
        Travel of the insert in its slot, in mm.
    needed : float
        Least travel of the insert at which the two ranges join up, in mm: the distance of the two bearings along the
        slot, 2 e for an insert turned half round.
    """

    first: int
    second: int
    gap: float
    across: float
    travel: float
    needed: float

    @property
    def joined(self) -> bool:
        """Whether no gap is left."""
        return self.gap <= _NO_GAP_MM

    def __str__(self) -> str:
        pair = f"insert positions {letter(self.first)} and {letter(self.second)}"
        aside = f", {abs(self.across):.4g} mm of plate slide apart" if abs(self.across) > _SAME_LINE_MM else ""
        if self.joined:
            return f"{pair}{aside} join up with {abs(min(self.gap, 0.0)):.4g} mm to spare"
        offset = self.travel / self.needed
        return (
            f"{pair}{aside} leave a gap of {self.gap:.4g} mm along the slot; it is closed by {self.gap:.4g} mm more"
            f" insert travel ({self.needed:.4g} mm in all), or by an insert offset {offset:.3g} times this one"
        )


def joins(top_plate: TopPlate) -> tuple[Join, ...]:
    """Whether the insert's positions join up along its slot, neighbour by neighbour.

    Two positions whose bearings lie d apart along the slot leave no gap when the insert travels d or more: 2 e for an
    insert of offset e turned half round.

    Parameters
    ----------
    top_plate : TopPlate

    Returns
    -------
    tuple of Join
        One for each pair of neighbours, in the slot's direction; empty for an insert of one position.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.top_plates import joins
    >>> plate = ss.demo("gravel_hatch").top_plate
    >>> short = joins(plate.replace(insert_slot={"reach": [-5, 5]}))[0]
    >>> short.joined, short.gap, short.needed
    (False, 2.0, 12.0)
    >>> print(joins(plate.replace(insert_slot={"reach": [-6, 6]}))[0])
    insert positions B and A join up with 0 mm to spare
    """
    across, along = offsets(top_plate)
    least, most = top_plate.insert_slot["reach"]
    travel = most - least
    order = np.argsort(along, kind="stable")
    return tuple(
        Join(
            first=int(one),
            second=int(other),
            gap=float(along[other] - along[one] - travel),
            across=float(across[other] - across[one]),
            travel=float(travel),
            needed=float(along[other] - along[one]),
        )
        for one, other in zip(order, order[1:], strict=False)
    )


def offsets(top_plate: TopPlate) -> tuple[Floats, Floats]:
    """Where the bearing of each position is, as the slides of plate and insert that would do the same."""
    positions = np.arange(top_plate.positions)
    zero = np.zeros(positions.size)
    middle = np.array(top_plate.middle)
    # The slides that bring a position's bearing to the middle are the opposite of its offset.
    plate, insert = -top_plate.slides(zero + middle[0], zero + middle[1], positions)
    return plate, insert


@dataclass(frozen=True)
class Reach:
    """What a top plate reaches on one corner.

    Attributes
    ----------
    corner : Corner
    top_plate : TopPlate
    edges : xarray.Dataset
        Images of the slots' ends: ``camber`` and ``caster`` in deg, ``tie_rod`` in mm, over ``ride_height``,
        ``position`` and ``step``, once round the rectangle of slides ``plate`` and ``insert``; the last step is the
        first again.
    joins : tuple of Join
        Whether the insert's positions join up.
    """

    corner: Corner
    top_plate: TopPlate
    edges: xr.Dataset
    joins: tuple[Join, ...]

    @property
    def held(self) -> str:
        """What is held while the hardware moves, in words."""
        return str(self.edges.attrs["held"])

    @property
    def ride_heights(self) -> list[float]:
        """Travels at which the reach was computed, in mm."""
        return [float(height) for height in self.edges.ride_height.values]

    def area(self, position: int, ride_height: float | None = None) -> Polygon:
        """Camber and caster that one position of the insert reaches.

        Parameters
        ----------
        position : int
            Counted from 0.
        ride_height : float, optional
            One of `ride_heights`; the first unless given.

        Returns
        -------
        shapely.Polygon
            Camber across, caster up, in deg.
        """
        import shapely

        picked = self._at(ride_height).isel(position=position)
        return shapely.Polygon(np.stack([picked.camber.values, picked.caster.values], axis=1))

    def union(self, ride_height: float | None = None) -> Geometry:
        """Camber and caster that the insert reaches in one position or another.

        Parameters
        ----------
        ride_height : float, optional
            One of `ride_heights`; the first unless given.

        Returns
        -------
        shapely.Geometry
            A polygon, or several where positions do not join up; camber across, caster up, in deg.
        """
        import shapely

        return shapely.union_all([self.area(position, ride_height) for position in range(self.top_plate.positions)])

    def throughout(self) -> Geometry:
        """Camber and caster that can be set at every one of the ride heights.

        Returns
        -------
        shapely.Geometry
        """
        import shapely

        return shapely.intersection_all([self.union(height) for height in self.ride_heights])

    def missing(self, camber: Sequence[float], caster: Sequence[float], ride_height: float | None = None) -> Geometry:
        """What of a box of camber and caster is out of reach.

        Parameters
        ----------
        camber, caster : pair of float
            Least and greatest, in deg.
        ride_height : float, optional
            One of `ride_heights`; every one of them unless given.

        Returns
        -------
        shapely.Geometry
            Empty where the whole box is reached.
        """
        import shapely

        reached = self.throughout() if ride_height is None else self.union(ride_height)
        return shapely.box(camber[0], caster[0], camber[1], caster[1]).difference(reached)

    def _at(self, ride_height: float | None) -> xr.Dataset:
        if ride_height is None:
            return self.edges.isel(ride_height=0)
        if ride_height not in self.ride_heights:
            known = ", ".join(f"{height:g}" for height in self.ride_heights)
            raise InputError(
                f"ride_height = {ride_height:g} mm is not one of those computed: {known}",
                name="ride_height",
                value=ride_height,
            )
        return self.edges.sel(ride_height=ride_height)

    def __str__(self) -> str:
        return "\n".join(self._lines())

    def __repr__(self) -> str:
        return f"<Reach of {self.corner.name}, {self.corner.side} corner>\n{self}"

    def _lines(self) -> list[str]:
        lines = [f"{self.corner.name}, {self.corner.side} corner: camber and caster within reach ({self.held})"]
        for height in self.ride_heights:
            at = self._at(height)
            for position in range(self.top_plate.positions):
                one = at.isel(position=position)
                spans = ", ".join(
                    f"{name} {float(one[name].min()):+.2f} to {float(one[name].max()):+.2f} deg"
                    for name in ("camber", "caster")
                )
                lines.append(f"  ride height {height:+g} mm, insert position {letter(position)}: {spans}")
        return [*lines, *(f"  {join}" for join in self.joins)]


def reach(
    corner: Corner,
    top_plate: TopPlate,
    *,
    ride_height: float | npt.ArrayLike = 0.0,
    toe: Toe = "put_back",
    travel_at: TravelAt = "ground",
    steps: int = 32,
) -> Reach:
    """Camber and caster that an adjustable strut top can set.

    The edges of the reach are images of the slots' ends, each point of them a pose of its own.

    Parameters
    ----------
    corner : Corner
        ``car.left`` or ``car.right``.
    top_plate : TopPlate
        ``car.top_plate``.
    ride_height : number or array
        Travel at which the car stands and is set, in mm, bump positive; several make a band.
    toe : {"put_back", "as_it_comes"}
        Whether the tie rod puts toe back to what it is at design, as any fitter does after such a change, or keeps its
        length.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held.
    steps : int
        Points along each of the four edges.

    Returns
    -------
    Reach
        Its edges as arrays, its areas as polygons, and whether the insert's positions join up.

    Raises
    ------
    ReachError
        An end of the slots is out of the linkage's reach.
    InputError
        An unknown word, fewer than two steps, a ride height that is none.

    Examples
    --------
    >>> import strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> found = ss.reach(car.left, car.top_plate, ride_height=[-20, 20])
    >>> found.edges.camber.dims
    ('ride_height', 'position', 'step')
    >>> found.missing(camber=(-1.0, -0.2), caster=(2.6, 3.1)).is_empty
    True
    """
    check_toe(toe)
    if steps < 2:
        raise InputError(f"steps = {steps} is less than 2", name="steps", value=steps, limit=2, unit="1")
    check_travels(ride_height=ride_height)
    heights = np.atleast_1d(np.asarray(ride_height, dtype=np.float64))
    plate, insert = around(top_plate, steps)
    positions = np.arange(top_plate.positions)
    shape = (heights.size, positions.size, plate.size)
    height, slides_of_plate, slides = (
        np.ascontiguousarray(np.broadcast_to(values, shape).ravel())
        for values in (heights[:, None, None], plate, insert)
    )
    whole = np.ascontiguousarray(np.broadcast_to(positions[:, None], shape).ravel())
    problem = Problem(corner, top_plate, whole, height, travel_at)
    at = np.stack([slides_of_plate, slides, np.zeros(slides.size)])
    if toe == "put_back":
        at = problem.put_toe_back(at, corner.toe)
    if not np.isfinite(at).all():
        raise _out_of_reach()
    camber, caster, _ = problem.angles(at)
    if not (np.isfinite(camber) & np.isfinite(caster)).all():
        raise _out_of_reach()
    edges = xr.Dataset(
        coords={
            "ride_height": ("ride_height", heights, RIDE_HEIGHT),
            "position": ("position", positions, SLIDES["position"]),
            "plate": ("step", plate, SLIDES["plate"]),
            "insert": ("step", insert, SLIDES["insert"]),
        },
        attrs={"title": corner.name, "side": corner.side, "toe": toe, "held": held(toe, travel_at)},
    )
    for name, values in (("camber", camber), ("caster", caster), ("tie_rod", at[2])):
        edges[name] = (("ride_height", "position", "step"), values.reshape(shape), attributes(name))
    return Reach(corner, top_plate, edges, joins(top_plate))


def _out_of_reach() -> ReachError:
    reason = "the linkage, or toe by the tie rod, does not reach an end of the slots"
    return ReachError(f"{reason}: shorten top_plate.plate_slot.reach or top_plate.insert_slot.reach", reason=reason)


def around(top_plate: TopPlate, steps: int) -> tuple[Floats, Floats]:
    """Slides of plate and insert once round the rectangle of the slots' ends, back at the first."""
    (p0, p1), (q0, q1) = top_plate.plate_slot["reach"], top_plate.insert_slot["reach"]
    share = np.linspace(0.0, 1.0, steps, endpoint=False)
    still = np.zeros(steps)
    plate = np.concatenate([p0 + share * (p1 - p0), still + p1, p1 - share * (p1 - p0), still + p0, [p0]])
    insert = np.concatenate([still + q0, q0 + share * (q1 - q0), still + q1, q1 - share * (q1 - q0), [q0]])
    return plate, insert
