"""What the top plate clears: nut, insert and rod in the tower's opening, the bearing's lean, the strut's stops."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner, TopPlate
from strutsweep._inputs import TravelAt
from strutsweep.errors import InputError
from strutsweep.sweeping import sweep
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
    line,
)
from strutsweep.words import attributes

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry as Geometry

__all__ = ["PARTS", "Clearances", "clearances", "plate_map"]

PARTS: Final = ("nut", "insert", "rod")
"""What passes the tower's opening."""

_KNOTS: Final = 17
"""Along each slot: at some 2 mm apart a spline of fifth order gives a tie rod to far better than a nanometre."""
_BLOCK: Final = 1 << 19
"""Poses worked on at once: some hundred bytes each."""


@dataclass(frozen=True)
class Clearances:
    """What the plate clears over the whole of its reach.

    Attributes
    ----------
    corner : Corner
    top_plate : TopPlate
    least : xarray.Dataset
        For each ``part`` its smallest ``gap`` to the opening's edge in mm, negative where it does not pass, and where
        that is: ``plate``, ``insert``, ``position``, ``travel`` and ``rack``. NaN for what the plate does not tell.
    bearing : xarray.Dataset
        The largest ``bearing_angle`` in deg and where that is, in the same way.
    strut : xarray.Dataset
        Strut travel left at full bump and full droop, ``bump_left`` and ``droop_left`` in mm, against what the strut
        gives there with the top as measured: by so much earlier the stops are met where it is negative.
    centres : dict of str to array
        Per part, shape (2, n): where it passes the face, inboard and rearward in mm.
    most_bearing_angle : float or None
        How far the bearing may lean, in deg; None where nobody told.
    """

    corner: Corner
    top_plate: TopPlate
    least: xr.Dataset
    bearing: xr.Dataset
    strut: xr.Dataset
    centres: dict[str, Floats]
    most_bearing_angle: float | None = None

    def swept(self, part: str) -> Geometry:
        """The area of the face that a part passes through, convex, grown by its radius.

        Parameters
        ----------
        part : str
            One of `PARTS`.

        Returns
        -------
        shapely.Geometry
            Inboard across, rearward up, in mm; empty for a part whose radius the plate does not tell.
        """
        import shapely

        if part not in PARTS:
            raise InputError(f"part = {part!r} is not one of {', '.join(PARTS)}", name="part", value=part)
        radius: Any = dict(self.top_plate.clearing)[part]
        if radius is None:
            return shapely.Polygon()
        hull = shapely.MultiPoint(self.centres[part].T).convex_hull
        return hull.buffer(float(radius), quad_segs=32)

    def trim(self) -> Geometry:
        """What would have to be cut from the tower's face for everything to pass.

        Convex outlines around all that each part passes, less the opening. Whether the tower may be cut at all is for a
        licensed engineer to say.

        Returns
        -------
        shapely.Geometry
            Inboard across, rearward up, in mm; empty if everything passes or the plate tells of no opening.
        """
        import shapely

        opening = opening_area(self.top_plate)
        if opening is None:
            return shapely.Polygon()
        return shapely.union_all([self.swept(part) for part in PARTS]).difference(opening)

    @property
    def clears(self) -> bool:
        """Whether every part passes, and the bearing leans no farther than it may."""
        most = self.most_bearing_angle
        leans = most is not None and float(self.bearing.bearing_angle) > most
        return not leans and not bool((self.least.gap < 0.0).any())

    def __str__(self) -> str:
        lines = [
            f"{self.corner.name}, {self.corner.side} corner: what the top plate clears ({self.least.attrs['held']})"
        ]
        for part in PARTS:
            at = self.least.sel(part=part)
            gap = float(at.gap)
            if np.isnan(gap):
                lines.append(f"  {part}: not told by the car file")
                continue
            verdict = "" if gap >= 0.0 else "  DOES NOT PASS"
            lines.append(f"  {part}: smallest gap {gap:+.2f} mm at {_where(at)}{verdict}")
        most = self.most_bearing_angle
        angle = float(self.bearing.bearing_angle)
        limit = "" if most is None else f" of {most:g} allowed" + ("  TOO FAR" if angle > most else "")
        lines.append(f"  bearing: leans {angle:.2f} deg{limit} at {_where(self.bearing)}")
        shorter, longer = (-float(self.strut[name]) for name in ("bump_left", "droop_left"))
        lines.append(
            f"  strut, against the top as measured: at full bump up to {shorter:+.2f} mm shorter, at full droop up to"
            f" {longer:+.2f} mm longer; stops are met that much earlier"
        )
        return "\n".join(lines)

    def __repr__(self) -> str:
        return f"<Clearances>\n{self}"


def _where(at: xr.Dataset) -> str:
    return (
        f"plate {float(at.plate):+.1f}, insert {float(at['insert']):+.1f} mm, position {letter(int(at.position))},"
        f" travel {float(at.travel):+.0f}, rack {float(at.rack):+.0f} mm"
    )


def opening_area(top_plate: TopPlate) -> Geometry | None:
    """The tower's opening, inboard across and rearward up, in mm."""
    import shapely

    opening = top_plate.opening
    if opening is None:
        return None
    inboard, rearward = opening["centre"]
    if "corners" in opening:
        return shapely.affinity.translate(shapely.Polygon(opening["corners"]), inboard, rearward)
    half_axes = opening.get("half_axes", [opening.get("radius")] * 2)
    disc = shapely.affinity.scale(shapely.Point(0.0, 0.0).buffer(1.0, quad_segs=64), *half_axes)
    turned = shapely.affinity.rotate(disc, opening.get("turned", 0.0), origin=(0.0, 0.0))
    return shapely.affinity.translate(turned, inboard, rearward)


def clearances(
    corner: Corner,
    top_plate: TopPlate,
    *,
    travel: Sequence[float] = (-80.0, 80.0),
    rack: Sequence[float] = (0.0, 0.0),
    ride_height: float = 0.0,
    toe: Toe = "put_back",
    travel_at: TravelAt = "ground",
    most_bearing_angle: float | None = None,
    count: int = 13,
) -> Clearances:
    """Smallest gaps of nut, insert and rod to the tower's opening, largest lean of the bearing, strut travel left.

    Over a grid of slides between the slots' ends, every position of the insert, travel and rack between their ends.

    Parameters
    ----------
    corner : Corner
    top_plate : TopPlate
    travel : pair of float
        Full droop and full bump, in mm.
    rack : pair of float
        Its stops, in mm.
    ride_height : float
        Travel at which the car is set, in mm.
    toe : {"put_back", "as_it_comes"}
        Whether the tie rod puts toe back to what it is at design when the car is set, or keeps its length.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured.
    most_bearing_angle : float, optional
        How far the bearing may lean, in deg: ``car.limits["bearing_angle"]``. Not judged unless given.
    count : int
        Slides along each slot; travels and racks are about half as many.

    Returns
    -------
    Clearances

    Raises
    ------
    InputError
        A count below 2, a number that is not finite, an unknown word.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.top_plates import clearances
    >>> car = ss.demo("gravel_hatch")
    >>> found = clearances(car.left, car.top_plate, travel=(-90, 80), rack=(-65, 65))
    >>> found.clears
    False
    >>> round(float(found.least.gap.sel(part="insert")), 1)
    -5.4
    """
    check_toe(toe)
    if count < 2:
        raise InputError(f"count = {count} is less than 2", name="count", value=count, limit=2, unit="1")
    check_travels(ride_height=ride_height, travel=travel, rack=rack)
    (p0, p1), (q0, q1) = top_plate.plate_slot["reach"], top_plate.insert_slot["reach"]
    few = max(3, (count + 1) // 2)
    axes = [np.arange(top_plate.positions), np.linspace(p0, p1, count), np.linspace(q0, q1, count)]
    position, plate, insert = (np.ascontiguousarray(axis.ravel()) for axis in np.meshgrid(*axes, indexing="ij"))
    places = _Places(corner, top_plate, position.astype(np.int64), plate, insert, ride_height, toe, travel_at)
    travels = np.unique(np.append(np.linspace(float(travel[0]), float(travel[-1]), few), ride_height))
    racks = np.unique(np.linspace(float(rack[0]), float(rack[-1]), few))
    poses = places.poses(travels, racks)
    all_centres = places.centres(poses.top, poses.low)
    shape = (position.size, racks.size, travels.size)
    least = {"gap": np.full(len(PARTS), np.nan)}
    names = ("position", "plate", "insert", "travel", "rack")
    least |= {name: np.full(len(PARTS), np.nan) for name in names}
    centres: dict[str, Floats] = {}

    def where(index: int) -> dict[str, float]:
        place, at_rack, at_travel = np.unravel_index(index, shape)
        found = (position[place], plate[place], insert[place], travels[at_travel], racks[at_rack])
        return {name: float(value) for name, value in zip(names, found, strict=True)}

    for row, part in enumerate(PARTS):
        gap = poses.gaps[row]
        centres[part] = all_centres[row][:, np.isfinite(all_centres[row]).all(axis=0)]
        if np.isnan(gap).all():
            continue
        index = int(np.nanargmin(gap))
        least["gap"][row] = gap[index]
        for name, value in where(index).items():
            least[name][row] = value
    lean = int(np.nanargmax(poses.bearing_angle))
    words = {
        "gap": {"units": "mm", "long_name": "smallest gap to the opening's edge", "positive": "it passes"},
        "travel": attributes("travel"),
        "rack": attributes("rack"),
        **SLIDES,
    }
    attrs = {"title": corner.name, "side": corner.side, "ride_height": ride_height, "held": held(toe, travel_at)}
    bearing = {"bearing_angle": float(poses.bearing_angle[lean]), **where(lean)}
    words["bearing_angle"] = attributes("bearing_angle")
    return Clearances(
        corner,
        top_plate,
        xr.Dataset(
            {name: ("part", values, words[name]) for name, values in least.items()},
            coords={"part": list(PARTS)},
            attrs=attrs,
        ),
        xr.Dataset({name: ((), value, words[name]) for name, value in bearing.items()}, attrs=attrs),
        _strut_left(places, travel, travel_at, attrs),
        centres,
        most_bearing_angle,
    )


def _strut_left(places: _Places, travel: Sequence[float], travel_at: TravelAt, attrs: dict[str, Any]) -> xr.Dataset:
    """Strut travel left at the ends of travel, against what the strut gives at the ends of travel at design."""
    ends = np.asarray(travel, dtype=np.float64)
    design = sweep(places.corner, travel=ends, travel_at=travel_at, readings="strut_compression", progress=False)
    now = places.sweep(ends, np.zeros(1), ["strut_compression"], []).strut_compression.values.reshape(-1, 2)
    droop, bump = design.strut_compression.values
    words = {"units": "mm", "positive": "the strut's own travel is not used up"}
    return xr.Dataset(
        {
            "bump_left": ((), float(np.nanmin(bump - now[:, 1])), {**words, "long_name": "strut travel left in bump"}),
            "droop_left": (
                (),
                float(np.nanmin(now[:, 0] - droop)),
                {**words, "long_name": "strut travel left in droop"},
            ),
        },
        attrs=attrs,
    )


class _Poses:
    """Poses of places of the hardware, flat: place outermost, then rack, then travel."""

    def __init__(self, gaps: Floats, top: Floats, low: Floats, bearing_angle: Floats) -> None:
        self.gaps = gaps
        self.top = top
        self.low = low
        self.bearing_angle = bearing_angle


class _Places:
    """Places of the hardware with the tie rod that goes with each, moved by road and driver."""

    def __init__(
        self,
        corner: Corner,
        plate: TopPlate,
        position: npt.NDArray[np.int64],
        plate_slide: Floats,
        insert_slide: Floats,
        ride_height: float,
        toe: Toe,
        travel_at: TravelAt,
        tie_rod: Floats | None = None,
    ) -> None:
        self.corner = corner
        self.plate = plate
        self.travel_at = travel_at
        self.problem = Problem(corner, plate, position, np.full(position.size, float(ride_height)), travel_at)
        at = np.stack([plate_slide, insert_slide, np.zeros(position.size) if tie_rod is None else tie_rod])
        if toe == "put_back":
            put_back = self.problem.put_toe_back if tie_rod is None else self.problem.keep_toe_put_back
            at = put_back(at, corner.toe)
            self.angles = self.problem.met_angles
        else:
            self.angles = self.problem.angles(at)
        self.lost = ~np.isfinite(at).all(axis=0)
        self.tie_rod = np.where(self.lost, 0.0, at[2])
        self.shift = plate.mounts(plate_slide, insert_slide, position)

    def sweep(self, travels: Floats, racks: Floats, readings: Sequence[str], points: Sequence[str]) -> xr.Dataset:
        """Readings and points of every place at every travel and rack, place outermost."""
        return sweep(
            self.corner,
            travel=xr.DataArray(travels, dims="travel"),
            rack=xr.DataArray(racks, dims="rack") if racks.size > 1 else float(racks[0]),
            mount_in=line(self.shift[0]),
            mount_back=line(self.shift[1]),
            mount_up=line(self.shift[2]),
            tie_rod=line(self.tie_rod),
            travel_at=self.travel_at,
            readings=readings,
            places=points,
            progress=False,
        ).transpose("xyz", "place", "rack", "travel", missing_dims="ignore")

    def poses(self, travels: Floats, racks: Floats) -> _Poses:
        """Gaps and lean in every pose."""
        found = self.sweep(travels, racks, ["bearing_angle"], ["strut_top", "strut_low"])
        top, low = (np.ascontiguousarray(found[name].values.reshape(3, -1)) for name in ("strut_top", "strut_low"))
        gaps = self.plate.gaps(self.corner, top, low)
        lean = found.bearing_angle.values.reshape(-1)
        if self.lost.any():
            lost = np.repeat(self.lost, travels.size * racks.size)
            gaps[:, lost] = np.nan
            lean = np.where(lost, np.nan, lean)
        return _Poses(gaps, top, low, lean)

    def centres(self, top: Floats, low: Floats) -> Floats:
        """Where nut, insert and rod pass the face, shape (3 parts, 2, n), inboard and rearward."""
        axes = self.plate.axes(self.corner.side)
        shift = axes @ (top - self.corner.point("strut_top")[:, None])
        rod = axes @ (top - low)
        height = shift[2] + self.plate.bearing_height
        levels = (self.plate.clearing["nut_height"] - height, np.zeros_like(height), -height)
        return np.stack([shift[:2] + rod[:2] / rod[2] * level for level in levels])


def plate_map(
    corner: Corner,
    top_plate: TopPlate,
    *,
    position: int = 0,
    counts: tuple[int, int] = (200, 200),
    travel: npt.ArrayLike = (-80.0, 0.0, 80.0),
    ride_height: float = 0.0,
    rack: float = 0.0,
    toe: Toe = "put_back",
    travel_at: TravelAt = "ground",
    progress: bool | None = None,
) -> xr.Dataset:
    """Maps over the plate: what each place of the hardware sets, clears and asks of the bearing.

    Worked through in blocks, reduced over travel as they come: memory holds the maps and one block.

    Parameters
    ----------
    corner : Corner
    top_plate : TopPlate
    position : int
        The insert's position.
    counts : pair of int
        Slides of plate and insert between the slots' ends.
    travel : array
        Travels over which gaps and lean are taken, in mm.
    ride_height : float
        Travel at which the car is set, and camber and caster are read, in mm.
    rack : float
        Rack displacement in mm.
    toe : {"put_back", "as_it_comes"}
        Whether the tie rod puts toe back to what it is at design when the car is set, or keeps its length.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured.
    progress : bool, optional
        A progress bar on standard error, now or never; unless given, one for maps that take a while.

    Returns
    -------
    xarray.Dataset
        Over ``plate`` and ``insert``: ``camber`` and ``caster`` in deg and ``tie_rod`` in mm at the ride height,
        ``nut_gap``, ``insert_gap`` and ``rod_gap`` in mm (the smallest over travel) and ``bearing_angle`` in deg (the
        largest). NaN where a pose is out of reach.

    Raises
    ------
    InputError
        A count below 2, no travel, no such position, an unknown word.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.top_plates import plate_map
    >>> car = ss.demo("gravel_hatch")
    >>> maps = plate_map(car.left, car.top_plate, counts=(9, 11), travel=[-60, 0, 60])
    >>> maps.rod_gap.dims, bool((maps.rod_gap > 0).all())
    (('plate', 'insert'), True)
    """
    check_toe(toe)
    if min(counts) < 2:
        raise InputError(f"counts = {counts} must be 2 or more each", name="counts", value=counts, limit=2, unit="1")
    if not 0 <= position < top_plate.positions:
        message = f"position = {position} is none of the insert's {top_plate.positions}, counted from 0"
        raise InputError(message, name="position", value=position)
    check_travels(ride_height=ride_height, travel=travel, rack=rack)
    travels = np.unique(np.asarray(travel, dtype=np.float64))
    if not travels.size:
        raise InputError("travel is empty", name="travel", value=travel)
    axes = [
        np.linspace(slot["reach"][0], slot["reach"][1], n) for slot, n in zip(_slots(top_plate), counts, strict=True)
    ]
    names = ("camber", "caster", "tie_rod", "nut_gap", "insert_gap", "rod_gap", "bearing_angle")
    maps = {name: np.full(counts, np.nan) for name in names}
    racks = np.array([float(rack)])
    rod = _smooth_rod(corner, top_plate, position, axes, ride_height, travel_at) if toe == "put_back" else None
    rows = max(1, _BLOCK // (counts[1] * travels.size))
    with _bar(counts[0] * counts[1] * travels.size, progress) as bar:
        for start in range(0, counts[0], rows):
            plates, inserts = np.meshgrid(axes[0][start : start + rows], axes[1], indexing="ij")
            p, q = np.ascontiguousarray(plates.ravel()), np.ascontiguousarray(inserts.ravel())
            guess = rod.ev(p, q) if rod is not None else None
            places = _Places(corner, top_plate, np.full(p.size, position), p, q, ride_height, toe, travel_at, guess)
            poses = places.poses(travels, racks)
            block = (
                np.where(places.lost, np.nan, places.angles[0]),
                np.where(places.lost, np.nan, places.angles[1]),
                np.where(places.lost, np.nan, places.tie_rod),
                *(gap.reshape(p.size, -1).min(axis=1) for gap in poses.gaps),
                poses.bearing_angle.reshape(p.size, -1).max(axis=1),
            )
            for name, values in zip(names, block, strict=True):
                maps[name][start : start + rows] = values.reshape(plates.shape)
            bar.update(p.size * travels.size)
    words: dict[str, Any] = {
        f"{part}_gap": {
            "units": "mm",
            "long_name": f"smallest gap of the {part} to the opening's edge over travel",
            "positive": "it passes",
        }
        for part in PARTS
    }
    lean = {**attributes("bearing_angle"), "long_name": "largest angle of the bearing over travel"}
    return xr.Dataset(
        {
            name: (
                ("plate", "insert"),
                values,
                words.get(name) or (lean if name == "bearing_angle" else attributes(name)),
            )
            for name, values in maps.items()
        },
        coords={
            "plate": ("plate", axes[0], SLIDES["plate"]),
            "insert": ("insert", axes[1], SLIDES["insert"]),
            "position": ((), position, SLIDES["position"]),
            "ride_height": ((), float(ride_height), RIDE_HEIGHT),
            "rack": ((), float(rack), attributes("rack")),
        },
        attrs={
            "title": corner.name,
            "side": corner.side,
            "travel_at": travel_at,
            "held": held(toe, travel_at),
            "travels": travels.tolist(),
        },
    )


def _smooth_rod(
    corner: Corner, plate: TopPlate, position: int, axes: Sequence[Floats], ride_height: float, travel_at: TravelAt
) -> Any:
    """The tie rod that puts toe back, as a smooth surface over the slides: a guess so good that it needs no step.

    None where some of it is out of reach, or a slot has no length.
    """
    from scipy.interpolate import RectBivariateSpline

    few = [np.linspace(axis[0], axis[-1], _KNOTS) for axis in axes]
    if any(axis[0] == axis[-1] for axis in axes):
        return None
    p, q = (np.ascontiguousarray(grid.ravel()) for grid in np.meshgrid(*few, indexing="ij"))
    places = _Places(corner, plate, np.full(p.size, position), p, q, ride_height, "put_back", travel_at)
    if places.lost.any():
        return None
    return RectBivariateSpline(*few, places.tie_rod.reshape(_KNOTS, _KNOTS), kx=5, ky=5)


def _slots(plate: TopPlate) -> tuple[Any, Any]:
    return plate.plate_slot, plate.insert_slot


def _bar(poses: int, wanted: bool | None) -> Any:
    """A progress bar for maps of more than a few blocks, or as wanted."""
    if not (poses > 4 * _BLOCK if wanted is None else wanted):
        return _NoBar()
    from tqdm.auto import tqdm  # type: ignore[import-untyped]

    return tqdm(total=poses, unit="pose", unit_scale=True, desc="plate", leave=False, ncols=100)


class _NoBar(contextlib.nullcontext[Any]):
    """What stands for a bar that nobody wants."""

    def __enter__(self) -> _NoBar:
        return self

    def update(self, poses: int) -> None:
        """Show nothing."""
