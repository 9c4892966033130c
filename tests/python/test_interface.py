"""How corners, cars and poses behave as Python objects: immutable, comparable, sent to other processes and back."""

from __future__ import annotations

import copy
import multiprocessing
import pickle
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import strutsweep as ss
from strutsweep.words import HARD_POINTS, MOTIONS, PLACES, READINGS, SETTINGS, TRAVEL_AT

INPUTS = {name: 0.5 + 0.25 * i for i, name in enumerate((*MOTIONS, *SETTINGS))}

COPIES: dict[str, Callable[[Any], Any]] = {
    "copy": copy.copy,
    "deepcopy": copy.deepcopy,
    **{
        f"pickle-{protocol}": lambda thing, protocol=protocol: pickle.loads(pickle.dumps(thing, protocol))
        for protocol in range(2, pickle.HIGHEST_PROTOCOL + 1)
    },
}
each_copy = pytest.mark.parametrize("make", COPIES.values(), ids=COPIES)


def other_axle() -> ss.Axle:
    """A car with two unlike corners and everything optional, different from the demonstration cars."""
    left = ss.demo("hillclimb_saloon").left.replace(
        strut_clamp=[-10.0, 600.0, 390.0], bearing_axis=[-0.1, -0.2, 1.0], rack_direction=[0.0, 1.0, 0.02], name="Two"
    )
    tables = ss.Axle.from_corners(left).to_dict()
    tables |= {"note": "no real car", "right": {"wheel": {"camber": -0.75}}, "axle": {"wheelbase": 2500.0}}
    tables["rack"] |= {"mm_per_turn": 50.0}
    return ss.Axle.from_dict(tables)


# Immutable.


def everything(car: ss.Axle) -> list[Any]:
    """One of each native class."""
    return [car, car.left, car.left.solve()]


def test_attributes_cannot_be_set_or_deleted(car: ss.Axle) -> None:
    for thing in everything(car):
        names = [name for name in dir(thing) if not name.startswith("_")]
        assert names
        for name in (*names, "a_new_one"):
            with pytest.raises(AttributeError):
                setattr(thing, name, 1.0)
            with pytest.raises(AttributeError):
                delattr(thing, name)


def test_classes_are_final_and_made_by_their_makers_alone(car: ss.Axle) -> None:
    for thing in everything(car):
        with pytest.raises(TypeError, match="not an acceptable base type"):
            type("Derived", (type(thing),), {})
        with pytest.raises(TypeError, match="cannot create"):
            type(thing)()


def test_arrays_given_out_are_copies(corner: ss.Corner) -> None:
    pose = corner.solve(travel=20.0)
    for thing, name in ((corner, "ball_joint"), (pose, "contact_centre")):
        before = thing.point(name).copy()
        thing.point(name)[:] = 0.0
        thing.points[name][:] = 0.0
        assert np.array_equal(thing.point(name), before)
    pose.readings["camber"] = 99.0
    pose.inputs["travel"] = 99.0
    assert pose.readings["camber"] == pose.camber != 99.0
    assert pose.inputs["travel"] == 20.0


# Equal and hashable.


def test_corners_are_equal_when_their_numbers_and_names_are(corner: ss.Corner) -> None:
    same = ss.Corner.from_dict(corner.to_dict())
    assert same is not corner
    assert same == corner
    assert not same != corner
    assert hash(same) == hash(corner)
    assert corner.mirror() != corner
    assert corner.mirror().mirror() == corner
    assert corner.replace(name="Other") != corner


@pytest.mark.parametrize("name", HARD_POINTS)
@pytest.mark.parametrize("axis", range(3))
def test_the_last_bit_of_any_coordinate_makes_another_corner(corner: ss.Corner, name: str, axis: int) -> None:
    at = corner.point(name)
    at[axis] = np.nextafter(at[axis], np.inf)
    other = corner.replace(**{name: at})
    assert other != corner
    assert hash(other) != hash(corner)


OTHER_CHANGES: list[dict[str, Any]] = [
    {"camber": -0.25},
    {"toe": 0.25},
    {"wheel_radius": 309.0},
    {"bearing_axis": [0, 0, 1]},
    {"rack_direction": [0, 1, 0.25]},
    {"name": "Other"},
]


@pytest.mark.parametrize("changes", OTHER_CHANGES, ids=repr)
def test_any_other_number_makes_another_corner(corner: ss.Corner, changes: dict[str, Any]) -> None:
    assert corner.replace(**changes) != corner
    assert corner.replace(**changes) == corner.replace(**changes)


def test_zeros_of_either_sign_are_one_number(corner: ss.Corner) -> None:
    # The contract of a hash: what is equal hashes alike.
    positive, negative = (corner.replace(toe=zero, arm_front=[zero, 360, 195]) for zero in (0.0, -0.0))
    assert positive == negative
    assert hash(positive) == hash(negative)


def test_axles_are_compared_by_all_that_they_hold(car: ss.Axle) -> None:
    assert ss.Axle.from_toml(car.to_toml()) == car
    assert hash(ss.Axle.from_toml(car.to_toml())) == hash(car)
    for changes in ({"note": "other"}, {"name": "other"}, {"limits": {"bump": 1.0}}, {"rack": {"stroke": 1.0}}):
        assert ss.Axle.from_dict({**car.to_dict(), **changes}) != car
    assert len({car, ss.demo("gravel_hatch"), ss.demo("hillclimb_saloon"), other_axle()}) == 3


def test_poses_are_equal_when_all_that_they_show_is(corner: ss.Corner) -> None:
    assert corner.solve(**INPUTS) == corner.solve(**INPUTS)
    assert corner.solve(travel=1.0) != corner.solve(travel=2.0)
    assert corner.solve(travel_at="hub") != corner.solve(travel_at="ground")


def test_things_of_other_kinds_are_unequal_and_nothing_is_ordered(car: ss.Axle) -> None:
    things = everything(car)
    for thing in things:
        assert thing != 3
        assert thing != "Corner"
        assert (thing == None) is False  # noqa: E711
        with pytest.raises(TypeError):
            assert thing < thing
    assert things[0] != things[1] != things[2]


# Copies.


@each_copy
def test_corners_and_cars_can_be_copied_and_pickled(make: Callable[[Any], Any]) -> None:
    for axle in (*map(ss.demo, ss.demos()), other_axle()):
        for thing in (axle, axle.left, axle.right):
            assert make(thing) == thing
            assert hash(make(thing)) == hash(thing)
        assert make(axle).left.solve(**INPUTS) == axle.left.solve(**INPUTS)
        assert make(axle).right.solve(**INPUTS) == axle.right.solve(**INPUTS)
        assert make(axle).limits == axle.limits


@each_copy
def test_a_car_of_two_named_corners_can_be_copied_and_pickled(car: ss.Axle, make: Callable[[Any], Any]) -> None:
    axle = ss.Axle.from_corners(car.left, car.right.replace(name="Spare"))
    assert make(axle) == axle


@each_copy
def test_a_car_whose_left_corner_alone_has_a_clamp_can_be_copied_and_pickled(
    car: ss.Axle, make: Callable[[Any], Any]
) -> None:
    left = car.left.replace(strut_clamp=[-13.0, 618.0, 396.0], bearing_axis=[-0.05, -0.15, 1.0])
    axle = ss.Axle.from_corners(left, car.right)
    assert make(axle) == axle


@each_copy
def test_poses_can_be_copied_and_pickled(corner: ss.Corner, make: Callable[[Any], Any]) -> None:
    pose = corner.solve(**INPUTS, travel_at="hub")
    assert make(pose) == pose


def test_equal_corners_hash_alike_in_another_process(corner: ss.Corner, run_program: Any) -> None:
    done = run_program("import strutsweep as ss\nprint(hash(ss.demo('gravel_hatch').left))\n")
    assert int(done.stdout) == hash(corner)


# Shown.


def test_representations_say_what_it_is(car: ss.Axle) -> None:
    assert repr(car) == "Axle('Gravel hatch')"
    assert repr(car.left) == "Corner('Gravel hatch', left)"
    assert repr(car.right) == "Corner('Gravel hatch', right)"
    pose = car.left.solve(travel=20.0, rack=-3.5, travel_at="hub")
    shown = repr(pose)
    assert shown.startswith("Pose(travel=20, rack=-3.5, travel_at='hub': ")
    assert f"camber={pose.camber:.4f}" in shown
    assert f"kingpin_inclination={pose.kingpin_inclination:.4f}" in shown
    assert str(pose) == shown


@pytest.mark.parametrize("name", ["it's", 'the "old" one', "Zürich", "漢字"])
def test_names_are_shown_as_python_shows_text(car: ss.Axle, name: str) -> None:
    axle = ss.Axle.from_dict({**car.to_dict(), "name": name})
    assert repr(axle) == f"Axle({name!r})"
    assert repr(axle.left) == f"Corner({name!r}, left)"


# Solve.


def test_a_pose_holds_every_reading_point_and_input(each_corner: ss.Corner) -> None:
    pose = each_corner.solve(**INPUTS, travel_at="hub")
    assert list(pose.readings) == list(READINGS)
    assert all(getattr(pose, name) == value for name, value in pose.readings.items())
    assert all(type(value) is float for value in pose.readings.values())
    assert list(pose.points) == list(PLACES)
    for name, point in pose.points.items():
        assert (point.dtype, point.shape) == (np.float64, (3,))
        assert np.array_equal(pose.point(name), point)
    assert pose.inputs == INPUTS
    assert pose.travel_at == "hub"


def test_solve_as_a_function_is_the_method(each_corner: ss.Corner) -> None:
    for travel_at in TRAVEL_AT:
        assert ss.solve(each_corner, **INPUTS, travel_at=travel_at) == each_corner.solve(**INPUTS, travel_at=travel_at)
    assert ss.solve(each_corner) == each_corner.solve()
    with pytest.raises(TypeError, match="travl"):
        ss.solve(each_corner, travl=3.0)


def test_solve_takes_keywords_and_any_real_number(corner: ss.Corner) -> None:
    pose = corner.solve(travel=20.0)
    for number in (20, np.float64(20.0), np.float32(20.0), np.int8(20), np.array(20.0)):
        assert corner.solve(travel=number) == pose
    with pytest.raises(TypeError, match="positional"):
        corner.solve(20.0)


def test_the_design_position_is_where_the_points_are(each_corner: ss.Corner) -> None:
    # IDENTITY: no setting and no motion; round-off of a few units in the last place of 1000 mm.
    tolerance_mm = 1e-11
    pose = each_corner.solve()
    for name in set(PLACES) & set(HARD_POINTS):
        np.testing.assert_allclose(pose.point(name), each_corner.point(name), rtol=0.0, atol=tolerance_mm, err_msg=name)
    assert pose.camber == pytest.approx(each_corner.camber, abs=1e-12)
    assert pose.toe == pytest.approx(each_corner.toe, abs=1e-12)


def test_replace_changes_what_it_is_told_and_nothing_else(each_corner: ss.Corner) -> None:
    assert each_corner.replace() == each_corner
    for i, name in enumerate(HARD_POINTS):
        at = each_corner.point(name) + [0.25, -0.5, 1.0 + i]
        other = each_corner.replace(**{name: at})
        assert np.array_equal(other.point(name), at)
        follows = {"strut_clamp"} if name == "strut_low" else set()
        for rest in set(HARD_POINTS) - {name} - follows:
            assert np.array_equal(other.point(rest), each_corner.point(rest))
    other = each_corner.replace(camber=-1.5, toe=0.25, wheel_radius=305.0, name="Other")
    assert (other.camber, other.toe, other.wheel_radius, other.name) == (-1.5, 0.25, 305.0, "Other")
    assert other.to_dict()["strut"] == each_corner.to_dict()["strut"]


def test_demonstration_cars_say_that_they_are_invented() -> None:
    assert ss.demos()
    for name in ss.demos():
        car = ss.demo(name)
        assert "no real car" in car.note
        assert (car.left.side, car.right.side) == ("left", "right")
    assert ss.demo() == ss.demo(ss.demos()[0])


# Other processes.

# A sweep of more poses than run without a thread of their own, and one cell of it as a check.
WORK = """
import multiprocessing, sys
import numpy as np
import strutsweep as ss

def work(corner):
    dataset = ss.sweep(corner, travel=np.linspace(-60.0, 60.0, 5000), mount_in=6.0)
    return float(dataset.camber[4321]), corner, corner.solve(travel=20.0).camber

if __name__ == "__main__":
    car = ss.demo("hillclimb_saloon")
    before = work(car.right)
    with multiprocessing.get_context(sys.argv[1]).Pool(2) as pool:
        for result in pool.map(work, [car.right] * 4):
            assert result == before, result
    assert work(car.right) == before
    print("done")
"""


@pytest.mark.parametrize("method", multiprocessing.get_all_start_methods())
def test_other_processes_sweep_after_this_one_did(run_program: Any, method: str) -> None:
    # A forked child has no threads but the one that forked: a pool of threads left over would hang its first sweep.
    done = run_program(f"import sys\nsys.argv.append({method!r})\n{WORK}")
    assert done.stdout == "done\n"


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no fork")
def test_a_child_forked_during_a_sweep_can_sweep(run_program: Any) -> None:
    done = run_program(
        "import os, threading, time\n"
        "import numpy as np\n"
        "import strutsweep as ss\n"
        "corner = ss.demo().left\n"
        "def sweep(poses):\n"
        "    return float(ss.sweep(corner, travel=np.linspace(-60, 60, poses), readings='camber').camber[-1])\n"
        "wanted = sweep(1000)\n"
        # One sweep after the other, so that there is one to fork during however fast the machine is.
        "stop = threading.Event()\n"
        "def sweep_on():\n"
        "    while not stop.is_set():\n"
        "        sweep(1_000_000)\n"
        "thread = threading.Thread(target=sweep_on)\n"
        "thread.start()\n"
        "try:\n"
        "    for _ in range(8):\n"
        "        time.sleep(0.03)\n"
        "        assert thread.is_alive()\n"
        "        child = os.fork()\n"
        "        if child == 0:\n"
        "            os._exit(0 if sweep(1000) == wanted else 1)\n"
        "        deadline = time.monotonic() + 20.0\n"
        "        while (ended := os.waitpid(child, os.WNOHANG)) == (0, 0) and time.monotonic() < deadline:\n"
        "            time.sleep(0.01)\n"
        "        if ended == (0, 0):\n"
        "            os.kill(child, 9)\n"
        "            raise SystemExit('the child hangs')\n"
        "        assert ended[1] == 0, ended\n"
        "finally:\n"
        "    stop.set()\n"
        "    thread.join()\n"
        "print('done')\n"
    )
    assert done.stdout == "done\n"
