"""From hardware to readings and back: slides of plate and insert, the insert's position, the tie rod that follows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, Literal, TypeAlias, get_args

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner, TopPlate, settle_top
from strutsweep._inputs import TravelAt, Values
from strutsweep.errors import InputError
from strutsweep.sweeping import sweep
from strutsweep.words import TRAVEL_AT, attributes

__all__ = ["Toe", "readings_at", "settle"]

Floats: TypeAlias = npt.NDArray[np.float64]
Whole: TypeAlias = npt.NDArray[np.int64]

Toe: TypeAlias = Literal["put_back", "as_it_comes"]
"""What becomes of toe when the top moves: the tie rod puts it back to what it is at design, or keeps its length."""

SLIDES: Final = {
    "plate": {
        "units": "mm",
        "long_name": "plate slid along its slots",
        "positive": "the way its direction points: rearward at 90 deg",
    },
    "insert": {
        "units": "mm",
        "long_name": "insert slid along its slots",
        "positive": "the way its direction points: inboard at 0 deg",
    },
    "position": {"units": "1", "long_name": "position of the insert, counted from 0: A is 0 in words"},
}
"""Words for where the hardware stands."""

RIDE_HEIGHT: Final = {
    "units": "mm",
    "long_name": "travel at which the car stands when it is set",
    "positive": "bump: the body stands lower",
}

MET_DEG: Final = 1e-10
"""A wanted angle counts as met within this: far finer than any gauge, and far above round-off."""

_ANGLES: Final = ("camber", "caster", "toe")
_UNKNOWNS: Final = ("plate", "insert", "tie_rod")


def letter(position: int) -> str:
    """What a position of the insert is called on parts and in words: A for 0, B for 1."""
    return chr(ord("A") + position)


def check_toe(toe: str) -> None:
    """Refuse what is no way to treat toe."""
    if toe not in get_args(Toe):
        raise InputError(f"toe = {toe!r} is not one of {', '.join(get_args(Toe))}", name="toe", value=toe)


MOST_TRAVEL_MM: Final = 1000.0
"""No strut, rack or ride height goes so far: such a number is a slip or another unit."""


def check_travels(**values: npt.ArrayLike) -> None:
    """Refuse travels, ride heights and rack positions that are none, by the name that they were given under."""
    for name, value in values.items():
        for number in np.asarray(value, dtype=np.float64).ravel().tolist():
            # Not `> most`: what is no number is not within the limit either.
            if not abs(number) <= MOST_TRAVEL_MM:
                fault = f"is more than {MOST_TRAVEL_MM:g} mm from zero" if np.isfinite(number) else "mm is not finite"
                message = f"{name} = {number:g} {fault}"
                raise InputError(message, name=name, value=number, limit=MOST_TRAVEL_MM, unit="mm")


def toe_held(toe: Toe) -> str:
    """What becomes of toe, in words."""
    return "toe put back to design by the tie rod" if toe == "put_back" else "tie rod kept: toe as it comes"


def held(toe: Toe, travel_at: TravelAt) -> str:
    """What is held while the hardware moves, in words."""
    return f"{TRAVEL_AT[travel_at]} held; {toe_held(toe)}"


def corners_of(corners: Corner | Sequence[Corner]) -> tuple[Corner, ...]:
    """One corner or several, as several."""
    several = (corners,) if isinstance(corners, Corner) else tuple(corners)
    for corner in several:
        if not isinstance(corner, Corner):
            raise TypeError(f"a Corner is wanted, such as car.left, not {type(corner).__name__}")
    if not several:
        raise InputError("corners is empty: give at least one corner", name="corners", value=())
    return several


def line(values: npt.ArrayLike) -> xr.DataArray:
    """Values along the dimension on which places of the hardware are paired."""
    return xr.DataArray(np.asarray(values, dtype=np.float64), dims="place")


class Problem:
    """Places of the hardware of one corner, flat: what the gauges show there, and which place shows what is wanted."""

    def __init__(
        self,
        corner: Corner,
        plate: TopPlate,
        position: Whole,
        ride_height: Floats,
        travel_at: TravelAt,
        points: dict[str, xr.DataArray] | None = None,
        shift: Floats | None = None,
        met_deg: float = MET_DEG,
    ) -> None:
        self.corner = corner
        self.plate = plate
        self.position = position
        self.ride_height = ride_height
        self.travel_at = travel_at
        self.points = points
        self.shift = shift
        """Further in, back and up than the hardware puts the mount, in mm: a tower that is not where it should be."""
        self.met_deg = met_deg
        self.met_angles = np.full((3, position.size), np.nan)
        """Camber, caster and toe where the last `solve` met what was wanted."""

    def angles(self, at: Floats, which: npt.NDArray[np.intp] | None = None) -> Floats:
        """Camber, caster and toe, shape (3, n), for slides of plate and insert and tie rod of that shape."""
        pick = np.arange(at.shape[1]) if which is None else which
        shift = self.plate.mounts(
            np.ascontiguousarray(at[0]), np.ascontiguousarray(at[1]), np.ascontiguousarray(self.position[pick])
        )
        if self.shift is not None:
            shift = shift + self.shift[:, pick]
        points = {name: value.isel(place=pick) for name, value in (self.points or {}).items()}
        dataset = sweep(
            self.corner,
            travel=line(self.ride_height[pick]),
            mount_in=line(shift[0]),
            mount_back=line(shift[1]),
            mount_up=line(shift[2]),
            tie_rod=line(at[2]),
            points=points,
            travel_at=self.travel_at,
            readings=_ANGLES,
            progress=False,
        )
        return np.stack([dataset[name].values for name in _ANGLES])

    def solve(self, start: Floats, wanted: Floats, unknowns: Sequence[str], angles: Sequence[str]) -> Floats:
        """Where the wanted angles are met, shape (3, n); NaN where they cannot be.

        Newton's method on as many unknowns as angles with exact slopes, each place by itself, in the engine.
        """
        at, self.met_angles = settle_top(
            self.corner,
            self.plate,
            self.position,
            self.ride_height,
            np.zeros_like(start) if self.shift is None else self.shift,
            {name: np.ascontiguousarray(value.values) for name, value in (self.points or {}).items()},
            start,
            wanted,
            unknowns,
            angles,
            self.travel_at,
            self.met_deg,
            0,
        )
        return at

    def put_toe_back(self, at: Floats, toe_deg: float) -> Floats:
        """The same slides with the tie rod that gives this toe."""
        wanted = np.full(at.shape, np.nan)
        wanted[2] = toe_deg
        return self.solve(at, wanted, ["tie_rod"], ["toe"])

    def keep_toe_put_back(self, at: Floats, toe_deg: float) -> Floats:
        """As `put_toe_back`, for tie rods that are so good a guess that most need no step: a look at all first."""
        angles = self.angles(at)
        off = np.flatnonzero(~(np.abs(angles[2] - toe_deg) < self.met_deg))
        found = at.copy()
        if off.size:
            shift = None if self.shift is None else self.shift[:, off]
            few = Problem(
                self.corner,
                self.plate,
                self.position[off],
                self.ride_height[off],
                self.travel_at,
                None,
                shift,
                self.met_deg,
            )
            found[:, off] = few.put_toe_back(np.ascontiguousarray(at[:, off]), toe_deg)
            angles[:, off] = few.met_angles
        self.met_angles = angles
        return found


def solve_box(problem: Problem, camber: Floats, caster: Floats, toe: Toe, start: Floats | None = None) -> Floats:
    """Slides and tie rod, shape (3, n), where camber and caster are these."""
    count = camber.size
    if start is None:
        zero = np.zeros(count)
        start = np.zeros((3, count))
        start[:2] = problem.plate.slides(zero, zero, problem.position)
    wanted = np.stack([camber, caster, np.full(count, problem.corner.toe)])
    if toe == "put_back":
        return problem.solve(start, wanted, _UNKNOWNS, _ANGLES)
    return problem.solve(start, wanted, _UNKNOWNS[:2], _ANGLES[:2])


def _flat(**inputs: Values) -> tuple[dict[str, Floats], xr.DataArray]:
    """Inputs broadcast against each other and flattened, and an array of the shape that they had."""
    arrays = []
    for name, value in inputs.items():
        if isinstance(value, xr.DataArray):
            arrays.append(value.astype(np.float64))
            continue
        array = np.asarray(value, dtype=np.float64)
        if array.ndim > 1:
            raise InputError(
                f"{name} has {array.ndim} dimensions and no names for them: give an xarray.DataArray",
                name=name,
                value=array.shape,
            )
        coords = {name: (name, array, _words(name))} if array.ndim else None
        arrays.append(xr.DataArray(array, dims=(name,) if array.ndim else (), coords=coords))
    spread = xr.broadcast(*arrays)
    for name, full in zip(inputs, spread, strict=True):
        if not np.isfinite(full.values).all():
            raise InputError(f"{name} holds a number that is not finite", name=name, value=float("nan"))
    flat = {name: np.ascontiguousarray(full.values.ravel()) for name, full in zip(inputs, spread, strict=True)}
    return flat, xr.zeros_like(spread[0])


def _words(name: str) -> dict[str, str]:
    if name == "ride_height":
        return dict(RIDE_HEIGHT)
    return dict(SLIDES[name]) if name in SLIDES else attributes(name)


def _positions(plate: TopPlate, values: Floats) -> Whole:
    whole = values.astype(np.int64)
    if (whole != values).any() or (whole < 0).any() or (whole >= plate.positions).any():
        raise InputError(
            f"position must be whole numbers from 0 to {plate.positions - 1}, one for each of the insert's positions",
            name="position",
            value=values.tolist(),
        )
    return whole


def readings_at(
    corner: Corner,
    top_plate: TopPlate,
    *,
    plate: Values = 0.0,
    insert: Values = 0.0,
    position: Values = 0,
    ride_height: Values = 0.0,
    toe: Toe = "put_back",
    travel_at: TravelAt = "ground",
    readings: Iterable[str] | str | None = None,
) -> xr.Dataset:
    """What the gauges show where the hardware stands.

    Parameters
    ----------
    corner : Corner
        ``car.left`` or ``car.right``.
    top_plate : TopPlate
        The adjustable strut top: ``car.top_plate``.
    plate, insert : number or array
        Slides of plate and insert along their slots from the middle, in mm. Slots' ends are not looked at.
    position : number or array of whole numbers
        Positions of the insert, counted from 0.
    ride_height : number or array
        Travel at which the car stands and is set, in mm, bump positive, measured as `travel_at` says.
    toe : {"put_back", "as_it_comes"}
        Whether the tie rod puts toe back to what it is at design, or keeps its length.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held: ride height, hub height or spring length.
    readings : str or iterable of str, optional
        Only these; all of them unless given.

    Returns
    -------
    xarray.Dataset
        The readings with the inputs' dimensions, ``status``, and ``mount_in``, ``mount_back``, ``mount_up`` and
        ``tie_rod`` in mm as what the hardware makes of the setting. NaN where the pose or the toe is out of reach.

    Raises
    ------
    InputError
        A number that is not finite, a position that the insert has not, an unknown word.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.top_plates import readings_at
    >>> car = ss.demo("gravel_hatch")
    >>> at = readings_at(car.left, car.top_plate, plate=[-5, 0, 5], position=[0, 1], readings="caster")
    >>> at.caster.dims
    ('plate', 'position')
    """
    check_toe(toe)
    flat, like = _flat(plate=plate, insert=insert, position=position, ride_height=ride_height)
    whole = _positions(top_plate, flat["position"])
    problem = Problem(corner, top_plate, whole, flat["ride_height"], travel_at)
    at = np.stack([flat["plate"], flat["insert"], np.zeros(whole.size)])
    if toe == "put_back":
        at = problem.put_toe_back(at, corner.toe)
    lost = ~np.isfinite(at[2])
    at[2, lost] = 0.0
    shift = top_plate.mounts(flat["plate"], flat["insert"], whole)
    setting = dict(zip(("mount_in", "mount_back", "mount_up"), shift, strict=True)) | {"tie_rod": at[2]}
    found = sweep(
        corner,
        travel=line(flat["ride_height"]),
        **{name: line(values) for name, values in setting.items()},  # type: ignore[arg-type]
        travel_at=travel_at,
        readings=readings,
        progress=False,
    )
    # A dimension of wanted cambers must not be taken for the camber that is read.
    taken = {*found.data_vars, *setting}
    like = like.rename({name: f"wanted_{name}" for name in like.dims if name in taken})
    like = like.drop_vars([name for name in like.coords if name in taken])
    result = xr.Dataset(attrs={**found.attrs, "toe": toe, "held": held(toe, travel_at)})
    for name, array in found.data_vars.items():
        values = array.values.copy()
        if name != "status":
            values[lost] = np.nan
        result[name] = like.copy(data=values.reshape(like.shape)).assign_attrs(array.attrs)
    for name, values in setting.items():
        values = np.where(lost, np.nan, values)
        result[name] = like.copy(data=values.reshape(like.shape)).assign_attrs(attributes(name))
    return result


def settle(
    corner: Corner,
    top_plate: TopPlate,
    *,
    camber: Values,
    caster: Values,
    position: Values = 0,
    ride_height: Values = 0.0,
    toe: Toe = "put_back",
    travel_at: TravelAt = "ground",
) -> xr.Dataset:
    """Where the hardware must stand for a wanted camber and caster: the inverse of `readings_at`.

    Parameters
    ----------
    corner, top_plate
        As `readings_at` takes them.
    camber, caster : number or array
        Wanted angles in deg, at the ride height.
    position, ride_height, toe, travel_at
        As `readings_at` takes them.

    Returns
    -------
    xarray.Dataset
        ``plate`` and ``insert`` (slides in mm, whether or not the slots are as long), ``tie_rod`` in mm, and
        ``inside``: whether both slides lie within the plate's slots. NaN, and not inside, where no slide gives these
        angles. Met within 1e-10 deg.

    Raises
    ------
    InputError
        As `readings_at`.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.top_plates import settle
    >>> car = ss.demo("gravel_hatch")
    >>> where = settle(car.left, car.top_plate, camber=-1.5, caster=3.0)
    >>> print(f"plate {float(where.plate):+.1f} mm, insert {float(where.insert):+.1f} mm")
    plate +1.5 mm, insert +6.0 mm
    """
    check_toe(toe)
    flat, like = _flat(camber=camber, caster=caster, position=position, ride_height=ride_height)
    whole = _positions(top_plate, flat["position"])
    problem = Problem(corner, top_plate, whole, flat["ride_height"], travel_at)
    at = solve_box(problem, flat["camber"], flat["caster"], toe)
    result = xr.Dataset(attrs={"title": corner.name, "side": corner.side, "toe": toe, "held": held(toe, travel_at)})
    for name, values in zip(_UNKNOWNS, at, strict=True):
        result[name] = like.copy(data=values.reshape(like.shape)).assign_attrs(_words(name))
    inside = slack(top_plate, at) >= 0.0
    result["inside"] = like.copy(data=inside.reshape(like.shape)).astype(bool)
    return result


def slack(plate: TopPlate, at: Floats) -> Floats:
    """How far slides, shape (2 or more, n), are from the nearer slot end, in mm: negative beyond it."""
    left = np.full(at.shape[1], np.inf)
    for values, slot in zip(at[:2], (plate.plate_slot, plate.insert_slot), strict=True):
        least, most = slot["reach"]
        left = np.minimum(left, np.minimum(values - least, most - values))
    return np.where(np.isfinite(at[:2]).all(axis=0), left, -np.inf)
