"""What a type checker must see of the package; checked by ``mypy --strict`` and run once, both in `test_stubs`.

Every `assert_type` fails the check if a type is lost or grown wider. Every ``type: ignore`` stands where a mistake must
be found: a stub that lets the mistake through makes the comment needless, and that is an error too.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal, assert_type

import numpy as np
import numpy.typing as npt
import xarray as xr

import strutsweep as ss
from strutsweep import words
from strutsweep._core import sweep_grid, vocabulary

Floats = npt.NDArray[np.float64]


def cars(folder: Path) -> ss.Corner:
    """Cars and corners."""
    car = ss.demo()
    assert_type(ss.demo("hillclimb_saloon"), ss.Axle)
    assert_type(ss.demos(), list[str])
    assert_type(ss.__version__, str)
    car.save(folder / "car.toml")
    car.save(str(folder / "same_car.toml"))
    assert_type(ss.load(folder / "car.toml"), ss.Axle)
    assert_type(ss.load(str(folder / "same_car.toml")), ss.Axle)
    assert_type(car.to_toml(), str)
    assert_type(ss.Axle.from_toml(car.to_toml()), ss.Axle)
    assert_type(car.to_dict(), dict[str, Any])
    assert_type(ss.Axle.from_dict(car.to_dict()), ss.Axle)
    assert_type(ss.Axle.from_corners(car.left), ss.Axle)
    assert_type(ss.Axle.from_corners(car.left, right=car.right), ss.Axle)
    assert_type(car.left, ss.Corner)
    assert_type(car.right, ss.Corner)
    assert_type(car.name, str)
    assert_type(car.note, str | None)
    assert_type(car.rack["stroke"], float | None)
    assert_type(car.dimensions["wheelbase"], float | None)
    assert_type(car.limits["mount_in"], float | None)
    assert_type(car.spring["upper_seat"], list[float] | None)
    assert_type(car.damper["body_thread_pitch"], float | None)
    assert_type(car.tie_rods["left"]["outer_thread_hand"], Literal["left", "right"] | None)
    assert_type(car.with_corners(car.left), ss.Axle)
    assert_type(hash(car), int)
    assert_type(car == car.left, bool)
    return car.left


def corners(corner: ss.Corner) -> None:
    """A corner's own."""
    assert_type(ss.Corner.from_dict(corner.to_dict()), ss.Corner)
    assert_type(corner.to_dict(), dict[str, Any])
    assert_type(corner.mirror(), ss.Corner)
    assert_type(corner.side, Literal["left", "right"])
    assert_type(corner.name, str)
    assert_type(corner.point("ball_joint"), Floats)
    assert_type(corner.points, dict[str, Floats])
    assert_type(corner.wheel_radius, float)
    assert_type(corner.camber, float)
    assert_type(corner.toe, float)
    assert_type(corner.replace(camber=-2, name="lower"), ss.Corner)
    assert_type(corner.replace(ball_joint=[-2.0, 708.0, 180.0], strut_top=(-35, 548, 840)), ss.Corner)
    assert_type(corner.replace(ball_joint=corner.point("ball_joint"), rack_direction=np.array([0, 1, 0])), ss.Corner)
    assert_type(hash(corner), int)
    assert_type(corner != 3, bool)
    assert_type({corner: 1.0}, dict[ss.Corner, float])


def poses(corner: ss.Corner) -> None:
    """One pose."""
    pose = corner.solve(travel=20, rack=-5.0, mount_in=np.float64(3.0), travel_at="hub")
    assert_type(pose, ss.Pose)
    assert_type(ss.solve(corner, travel=20.0), ss.Pose)
    assert_type(pose.camber, float)
    assert_type(pose.anti_dive_angle, float)
    assert_type(pose.readings, dict[str, float])
    assert_type(pose.inputs, dict[str, float])
    assert_type(pose.travel_at, Literal["ground", "hub", "strut"])
    assert_type(pose.point("contact_centre"), Floats)
    assert_type(pose.points, dict[str, Floats])
    assert_type(pose == corner, bool)


def sweeps(corner: ss.Corner) -> None:
    """Grids of poses."""
    samples = xr.DataArray([1.0, 2.0], dims="sample")
    assert_type(ss.sweep(corner), xr.Dataset)
    assert_type(ss.sweep(corner, travel=[0, 10], mount_in=samples, rack=np.arange(3), travel_at="strut"), xr.Dataset)
    assert_type(ss.sweep(corner, points={"ball_joint": [0.0, 700.0, 180.0]}, readings="camber", threads=1), xr.Dataset)
    assert_type(ss.sweep(corner, readings=("camber", "toe"), places=["wheel_centre"], progress=False), xr.Dataset)
    progress: Callable[[int], object] | None = None
    arrays, status, effort, _ = sweep_grid(corner, (), {}, {}, ["camber"], [], "ground", 1, progress)
    assert_type(arrays, dict[str, Floats])
    assert_type(status, npt.NDArray[np.int8])
    assert_type(effort, dict[str, int])
    *_, name = sweep_grid(corner, (), {}, {}, ["camber"], [], "ground", 1, progress, lambda arrays, _: next(iter(arrays)))
    assert_type(name, str)


def vocabularies() -> None:
    """Words."""
    assert_type(vocabulary()["hard_points"], list[str])
    assert_type(vocabulary()["settings"], dict[str, dict[str, str]])
    assert_type(words.READINGS, dict[str, dict[str, Any]])
    assert_type(words.TRAVEL_AT, dict[str, str])
    assert_type(words.attributes("camber"), dict[str, str])


def errors(error: ss.StrutsweepError) -> None:
    """What handlers of exceptions may ask."""
    value_error: ValueError = error
    assert str(value_error) == str(error)
    if isinstance(error, ss.GeometryError):
        assert_type(error.field, str)
        assert_type(error.limit, float | None)
        assert_type(error.line, int | None)
    elif isinstance(error, ss.FileError):
        assert_type(error.table, str | None)
        assert_type(error.nearest, str | None)
    elif isinstance(error, ss.ReachError):
        assert_type(error.part, str)
        assert_type(error.status, int)
    elif isinstance(error, ss.InputError):
        assert_type(error.name, str | None)
        assert_type(error.index, int | None)


def mistakes(corner: ss.Corner, car: ss.Axle, pose: ss.Pose) -> None:
    """Never run: what a type checker must refuse."""
    corner.solve(20.0)  # type: ignore[call-arg]
    corner.solve(travl=20.0)  # type: ignore[call-arg]
    corner.solve(travel="20")  # type: ignore[arg-type]
    corner.solve(travel_at="wheel")  # type: ignore[arg-type]
    corner.solve(travel=np.arange(3.0))  # type: ignore[arg-type]
    corner.replace(ball_jiont=[0.0, 0.0, 0.0])  # type: ignore[call-arg]
    corner.replace(ball_joint=3.0)  # type: ignore[arg-type]
    corner.replace(camber="-2")  # type: ignore[arg-type]
    corner.camber = -2.0  # type: ignore[misc]
    pose.camber = -2.0  # type: ignore[misc]
    car.left = corner  # type: ignore[misc]
    pose.cambre  # type: ignore[attr-defined]
    pose.point(3)  # type: ignore[arg-type]
    car.rack["strok"]  # type: ignore[typeddict-item]
    ss.sweep(car.name)  # type: ignore[arg-type]
    ss.sweep(corner, travl=[0.0])  # type: ignore[call-arg]
    ss.sweep(corner, travel_at="wheel")  # type: ignore[arg-type]
    ss.load(3)  # type: ignore[arg-type]
    corner < corner  # type: ignore[operator]

    class Derived(ss.Corner):  # type: ignore[misc]
        """The native classes are final."""


def run(folder: Path) -> None:
    """Everything but the mistakes."""
    corner = cars(folder)
    corners(corner)
    poses(corner)
    sweeps(corner)
    vocabularies()
    errors(ss.ReachError("out of reach", part="strut", status=2, reason="it runs out"))
