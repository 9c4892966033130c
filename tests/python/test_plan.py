"""Plans: planted settings come back, limits hold, what cannot be met is told.

Sources: SECOND METHOD throughout for figures (constraint equations by SciPy for readings, SciPy's optimisers for what
is nearest or least); the rest are identities (a planted answer, the same question asked in two ways).
"""

from __future__ import annotations

import math
from typing import Any

import constraint_solver
import numpy as np
import pytest
import random_corners
import xarray as xr
from scipy.optimize import least_squares, minimize

import strutsweep as ss
from strutsweep.words import ACCURACIES, CLOSED, OUTCOMES, READINGS, SETTINGS, TRAVEL_AT

# A planted setting has to come back this well, mm or deg: readings are closed to 1e-8 and better, and the readings
# chosen move by 0.01 of their unit and more per unit of each setting.
PLANTED = 1e-7
# The forward solve of a plan that is met reads what was wanted, to this.
CLOSE = 1e-8
# The figures of the two invented cars, to the digits they are printed with.
PRINTED_DEG = 0.002
PRINTED_MM = 0.02


def car_a() -> ss.Axle:
    """The hill-climb saloon, rack ahead of the axle."""
    return ss.demo("hillclimb_saloon")


# Figures of the two cars.


FIGURES = {
    # car, what is held: changes at 10 mm inboard, tie rod untouched.
    ("hillclimb_saloon", "ground"): {
        "camber": -0.791,
        "kingpin_inclination": 0.791,
        "toe": -0.195,
        "scrub_radius": 0.13,
        "half_track": 2.41,
    },
    ("hillclimb_saloon", "strut"): {"camber": -0.840},
    ("gravel_hatch", "ground"): {"camber": -0.841, "toe": 0.339},
}


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(("name", "travel_at"), FIGURES)
def test_ten_millimetres_inboard_read_as_figured_and_are_planned_back(name: str, travel_at: Any, side: str) -> None:
    corner: ss.Corner = getattr(ss.demo(name), side)
    table = corner.to_dict()
    before, after = corner.solve(travel_at=travel_at), corner.solve(mount_in=10.0, travel_at=travel_at)
    # SECOND METHOD: constraint equations.
    other = {
        mount: constraint_solver.solve(table, travel_at=travel_at, mount_in=mount).readings for mount in (0.0, 10.0)
    }
    for reading, figure in FIGURES[name, travel_at].items():
        tolerance = PRINTED_DEG if READINGS[reading]["units"] == "deg" else PRINTED_MM
        assert after.readings[reading] - before.readings[reading] == pytest.approx(figure, abs=tolerance), reading
        assert other[10.0][reading] - other[0.0][reading] == pytest.approx(figure, abs=tolerance), reading
    planned = ss.plan(corner, {"camber": after.camber}, ["mount_in"], travel_at=travel_at, tie_rod="untouched")
    assert planned.setting["mount_in"] == pytest.approx(10.0, abs=PLANTED)
    assert planned.setting["tie_rod"] == 0.0
    # And from the printed figure: 0.002 deg of camber are 0.03 mm of mount.
    printed = ss.plan(corner, {"camber": -0.5 + FIGURES[name, travel_at]["camber"]}, ["mount_in"], travel_at=travel_at)
    assert printed.setting["mount_in"] == pytest.approx(10.0, abs=0.03)
    assert printed.held == TRAVEL_AT[travel_at]
    assert printed.tie_rod == "untouched"


def test_with_spring_length_held_the_body_sits_lower() -> None:
    # SECOND METHOD: the hub rises against the body by what the body sinks.
    corner = car_a().left
    table = corner.to_dict()
    heights = [
        constraint_solver.solve(table, travel_at="strut", mount_in=mount).points["contact_centre"][2]
        for mount in (0.0, 10.0)
    ]
    assert heights[1] - heights[0] == pytest.approx(3.3, abs=0.05)
    planned = ss.plan(corner, {"camber": corner.solve().camber - 0.840}, ["mount_in"], travel_at="strut")
    sunk = planned.pose.point("contact_centre")[2] - planned.before.point("contact_centre")[2]
    assert sunk == pytest.approx(3.3, abs=0.05)


# Planted answers.

PROBLEMS = (
    (("camber", "caster", "toe", "kingpin_inclination"), ("mount_in", "mount_back", "tie_rod", "clamp")),
    (
        ("camber", "caster", "toe", "kingpin_inclination", "half_track"),
        ("mount_in", "mount_back", "tie_rod", "clamp", "arm"),
    ),
    (("camber", "caster", "bump_steer"), ("mount_in", "mount_back", "tie_outer_up")),
    (("camber", "toe", "half_track", "wheelbase_shift"), ("mount_in", "tie_rod", "hub_spacer", "mount_back")),
)


def planted(seed: int) -> tuple[ss.Corner, tuple[str, ...], dict[str, float], dict[str, float], Any]:
    """A random corner, what is read, a setting planted in it, a motion, and what is held."""
    side = "left" if seed % 2 == 0 else "right"
    corner = ss.Corner.from_dict(random_corners.random_corner(seed, side))
    case = random_corners.random_case(seed, side)
    readings, adjusters = PROBLEMS[seed // 2 % len(PROBLEMS)]
    setting = {name: case[name] for name in adjusters}
    motion = {"travel": 0.5 * case["travel"], "rack": 0.3 * case["rack"]} if seed % 3 == 0 else {}
    return corner, readings, setting, motion, list(TRAVEL_AT)[seed // 7 % 3]


def test_planted_settings_come_back_on_a_thousand_corners() -> None:
    kinds = set()
    for seed in range(1000):
        corner, readings, setting, motion, travel_at = planted(seed)
        kinds.add((corner.side, travel_at, readings))
        pose = corner.solve(**setting, **motion, travel_at=travel_at)
        want = {name: pose.readings[name] for name in readings}
        found = ss.plan(corner, want, list(setting), **motion, travel_at=travel_at)
        assert found.outcome == "reached", (seed, found.outcome)
        assert not found.folded, seed
        for name in SETTINGS:
            assert found.setting[name] == pytest.approx(setting.get(name, 0.0), abs=PLANTED), (seed, name)
        assert all(abs(miss) <= CLOSE for miss in found.residuals.values()), seed
        assert found.pose == corner.solve(**found.setting, **motion, travel_at=travel_at)
    # Both sides, each hold, each problem: 2 x 3 x 4.
    assert len(kinds) == 24


def test_planted_settings_come_back_from_any_start(each_corner: ss.Corner) -> None:
    start = {"mount_in": 6.0, "mount_back": -4.0, "tie_rod": 1.5, "hub_spacer": 5.0}
    want = each_corner.solve(mount_in=-12.0, mount_back=5.0, tie_rod=-1.0, hub_spacer=5.0).readings
    found = ss.plan(
        each_corner, {name: want[name] for name in ("camber", "caster", "toe")}, ["mount_in", "mount_back"], start=start
    )
    assert found.setting["mount_in"] == pytest.approx(-12.0, abs=PLANTED)
    assert found.setting["tie_rod"] == pytest.approx(-1.0, abs=PLANTED)
    assert found.setting["hub_spacer"] == 5.0
    assert found.moves["mount_in"] == pytest.approx(-18.0, abs=PLANTED)
    assert found.start["mount_in"] == 6.0


def test_readings_wanted_at_several_motions(corner: ss.Corner) -> None:
    setting = {"mount_in": 4.0, "tie_rod": -0.8, "tie_outer_up": 3.0}
    wants = [
        ss.Want(name, corner.solve(**setting, travel=travel).readings[name], travel=travel)
        for name, travel in (("camber", 0.0), ("toe", 30.0), ("toe", -30.0))
    ]
    found = ss.plan(corner, wants, list(setting))
    for name, value in setting.items():
        assert found.setting[name] == pytest.approx(value, abs=PLANTED), name
    assert list(found.residuals) == ["camber", "toe at travel +30", "toe at travel -30"]


# More adjusters than readings, and the other way round.


def readings_at(corner: ss.Corner, names: tuple[str, ...], adjusters: tuple[str, ...], moves: Any) -> Any:
    """Readings of a setting, as an array."""
    pose = corner.solve(**dict(zip(adjusters, map(float, moves), strict=True)))
    return np.array([pose.readings[name] for name in names])


def test_more_adjusters_than_readings_take_the_least_move(corner: ss.Corner) -> None:
    names, adjusters = ("camber", "caster"), ("mount_in", "mount_back", "arm", "clamp")
    efforts = np.array([1.0, 1.0, 2.0, 0.1])
    target = readings_at(corner, names, adjusters, (0.0,) * 4) + [-0.6, 0.3]
    found = ss.plan(
        corner, dict(zip(names, target, strict=True)), adjusters, efforts=dict(zip(adjusters, efforts, strict=True))
    )
    assert found.reached
    # SECOND METHOD: sequential quadratic programming.
    other = minimize(
        lambda x: float(np.sum((x / efforts) ** 2)),
        np.zeros(4),
        constraints={"type": "eq", "fun": lambda x: readings_at(corner, names, adjusters, x) - target},
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 200},
    )
    moves = np.array([found.setting[name] for name in adjusters])
    np.testing.assert_allclose(moves / efforts, other.x / efforts, rtol=0.0, atol=2e-5)
    assert np.sum((moves / efforts) ** 2) <= other.fun * (1.0 + 1e-9)


@pytest.mark.parametrize("reach", [math.inf, 6.0])
def test_more_readings_than_adjusters_take_the_nearest(corner: ss.Corner, reach: float) -> None:
    names, adjusters = ("camber", "caster", "kingpin_inclination", "scrub_radius"), ("mount_in", "mount_back")
    target = readings_at(corner, names, adjusters, (0.0, 0.0)) + [-1.0, 0.5, 0.7, 0.4]
    scales = np.array([ACCURACIES[name] for name in names])
    found = ss.plan(corner, dict(zip(names, target, strict=True)), dict.fromkeys(adjusters, reach))
    # SECOND METHOD: SciPy's bounded least squares with differenced slopes.
    other = least_squares(
        lambda x: (readings_at(corner, names, adjusters, x) - target) / scales,
        np.zeros(2),
        bounds=(-reach, reach),
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-12,
    )
    moves = np.array([found.setting[name] for name in adjusters])
    np.testing.assert_allclose(moves, other.x, rtol=0.0, atol=1e-4)
    missed = np.array([found.residuals[name] for name in names]) / scales
    assert np.sum(missed**2) <= 2.0 * other.cost * (1.0 + 1e-9)
    assert found.outcome == ("nearest" if math.isinf(reach) else "limited")
    assert found.active_limits == ({} if math.isinf(reach) else {"mount_in": "most"})


def test_an_included_angle_that_is_no_sum_of_camber_and_kingpin_is_refused(corner: ss.Corner) -> None:
    # IDENTITY: included angle = camber + kingpin inclination, whatever is moved.
    pose = corner.solve(mount_in=5.0, clamp=0.5)
    want = {name: pose.readings[name] for name in ("camber", "kingpin_inclination")}
    fits = ss.plan(corner, {**want, "included_angle": pose.included_angle}, ["mount_in", "clamp"])
    assert fits.reached
    with pytest.raises(ss.InputError, match="leave one of the three out") as caught:
        ss.plan(corner, {**want, "included_angle": pose.included_angle + 0.3}, ["mount_in", "clamp"])
    assert caught.value.name == "included_angle"
    assert caught.value.limit == pytest.approx(pose.included_angle, abs=1e-9)
    # In different motions they may differ.
    apart = [ss.Want(name, value) for name, value in want.items()]
    assert ss.plan(corner, [*apart, ss.Want("included_angle", 12.0, travel=30.0)], ["mount_in", "clamp"])


def test_readings_that_one_adjuster_moves_together_are_named(corner: ss.Corner) -> None:
    # A top mount trades camber for kingpin inclination one for one: both more inboard lean and less is not to be had.
    found = ss.plan(corner, {"camber": -1.5, "kingpin_inclination": corner.solve().kingpin_inclination}, ["mount_in"])
    assert found.outcome == "nearest"
    assert "moves camber and kingpin_inclination together" in str(found)


def test_a_smaller_accuracy_weighs_more(corner: ss.Corner) -> None:
    pose = corner.solve()
    wants = [
        ss.Want("camber", pose.camber - 1.0, accuracy=1e-4),
        ss.Want("kingpin_inclination", pose.kingpin_inclination),
    ]
    found = ss.plan(corner, wants, ["mount_in"])
    assert abs(found.residuals["camber"]) < 1e-3
    assert found.residuals["kingpin_inclination"] == pytest.approx(1.0, abs=0.06)


# Limits.


def test_a_target_beyond_a_limit_gives_the_nearest_setting_and_what_stops_it() -> None:
    car = car_a()
    found = ss.plan(car, {"camber": -4.0, "toe": 0.0}, ["mount_in"])
    for planned in found:
        assert planned.outcome == "limited"
        assert not planned.reached
        assert planned.active_limits == {"mount_in": "most"}
        assert planned.setting["mount_in"] == car.limits["mount_in"] == 25.0
        assert planned.limits_from == {"mount_in": "car file", "tie_rod": "car file"}
        assert planned.pose.camber - planned.residuals["camber"] == pytest.approx(-4.0, abs=1e-12)
        # The tie rod has no limit in the way: toe is set all the same.
        assert abs(planned.residuals["toe"]) < 1e-4
        assert "mount_in at +25 mm" in str(planned)
    assert not found.reached


def test_a_limit_on_the_way_turns_to_the_other_adjuster(corner: ss.Corner) -> None:
    pose = corner.solve(mount_in=5.0, clamp=-1.0)
    found = ss.plan(corner, {"camber": pose.camber}, {"mount_in": (0.0, 5.0), "clamp": 3.0}, efforts={"clamp": 1e-4})
    # The clamp is made dear: the mount goes to its end, the clamp does the rest.
    assert found.reached
    assert found.active_limits == {"mount_in": "most"}
    assert found.setting["mount_in"] == 5.0
    assert found.setting["clamp"] == pytest.approx(-1.0, abs=PLANTED)


def test_an_adjuster_with_no_room_stays(corner: ss.Corner) -> None:
    found = ss.plan(corner, {"camber": -1.5}, {"mount_in": None, "clamp": (0.0, 0.0)})
    assert found.reached
    assert found.setting["clamp"] == 0.0


def test_a_target_beyond_the_linkage_stops_before_its_end(corner: ss.Corner) -> None:
    # Over-centre itself cannot be stood in, however near one comes.
    found = ss.plan(corner, {"tie_rod_margin": 0.0}, ["tie_rod"])
    assert found.outcome == "out_of_reach"
    assert found.ran_out == "tie_rod"
    assert 0.0 < found.pose.tie_rod_margin < 0.01
    assert "the tie rod runs out" in str(found)


def test_what_is_reached_at_a_limit_is_reached(corner: ss.Corner) -> None:
    camber = corner.solve(mount_in=10.0).camber
    found = ss.plan(corner, {"camber": camber}, {"mount_in": 10.0})
    assert found.reached
    assert found.setting["mount_in"] == pytest.approx(10.0, abs=PLANTED)


# Toe.


def test_toe_is_put_back_where_it_is_wanted_and_left_alone_otherwise(corner: ss.Corner) -> None:
    with_toe = ss.plan(corner, {"camber": -1.5, "toe": 0.0}, ["mount_in"])
    assert with_toe.tie_rod == "puts_toe_back"
    assert with_toe.free == ("mount_in", "tie_rod")
    assert with_toe.pose.toe == pytest.approx(0.0, abs=CLOSE)
    alone = ss.plan(corner, {"camber": -1.5}, ["mount_in"])
    assert alone.tie_rod == "untouched"
    assert alone.setting["tie_rod"] == 0.0
    back = ss.plan(corner, {"camber": -1.5}, ["mount_in"], tie_rod="puts_toe_back", start={"tie_rod": 0.7})
    assert back.pose.toe == pytest.approx(back.before.toe, abs=CLOSE)
    assert back.before.toe != 0.0
    held = ss.plan(corner, {"camber": -1.5, "toe": 0.2}, ["mount_in", "tie_outer_up"], tie_rod="untouched")
    assert held.free == ("mount_in", "tie_outer_up")
    free = ss.plan(corner, {"camber": -1.5, "scrub_radius": 1.0}, ["mount_in", "tie_rod", "clamp"])
    assert free.tie_rod == "free"


# A car.


def test_a_car_is_planned_side_by_side() -> None:
    car = car_a()
    alike = ss.plan(car, {"camber": -1.5, "caster": 5.0, "toe": 0.05}, ["mount_in", "mount_back"])
    assert isinstance(alike, ss.AxlePlan)
    assert alike.reached
    for name in SETTINGS:
        assert alike.left.setting[name] == alike.right.setting[name]
    unlike = ss.plan(
        car,
        {"left": {"camber": -1.5}, "right": {"camber": -1.0}},
        {"left": ["mount_in"], "right": {"clamp": 3.0}},
        start={"left": {"mount_in": 2.0}, "right": {}},
    )
    assert unlike.left.pose.camber == pytest.approx(-1.5, abs=CLOSE)
    assert unlike.right.pose.camber == pytest.approx(-1.0, abs=CLOSE)
    assert unlike.right.free == ("clamp",)
    assert unlike.setting["right"]["mount_in"] == 0.0
    assert "left corner" in str(unlike)
    assert "right corner" in unlike._repr_html_()


def test_a_limit_of_shims_is_of_shims_and_not_of_the_tops_height() -> None:
    car = car_a()
    fall = car.top_plate.rise["mount_in"]
    names = ("camber", "strut_compression")
    free = {"mount_in": 25.0, "mount_up": (0.0, 5.0)}

    def read(slide: float, shims: float) -> dict[str, float]:
        pose = car.left.solve(mount_in=slide, mount_up=shims + fall * slide)
        return {name: pose.readings[name] for name in names}

    # Planted: the top stands 0.7 mm lower than it stood, by 15 mm of slide and shims of 1.4 mm.
    within = ss.plan(car, read(15.0, 1.4), free, tie_rod="untouched").left
    assert within.reached and within.setting["mount_up"] < -0.5
    assert within.moves == pytest.approx({"mount_in": 15.0, "mount_up": 1.4}, abs=CLOSE)
    rows = {row[0]: row for row in within.tables()[0].rows}
    assert rows["mount_up by itself"][2] == "1.400"
    assert rows["mount_up"][2] == f"{1.4 + 15.0 * fall:.3f}" and rows["mount_up"][6].endswith("and by itself")
    # Shims of 6 mm are more than there are, though the top rises by less than 5.
    beyond = ss.plan(car, read(15.0, 6.0), free, tie_rod="untouched").left
    assert (beyond.outcome, beyond.active_limits) == ("limited", {"mount_up": "most"})
    assert beyond.moves["mount_up"] == pytest.approx(5.0, abs=1e-12)
    assert "Stopped by mount_up by itself at +5 mm." in beyond.notes()
    # From where the top stands on its face, no shim is in yet.
    stands = {"mount_in": 10.0, "mount_up": 10.0 * fall}
    again = ss.plan(car, read(15.0, 1.4), free, start=stands, tie_rod="untouched").left
    assert again.reached and again.moves == pytest.approx({"mount_in": 5.0, "mount_up": 1.4}, abs=CLOSE)
    told = "mount_up stands at -0.1.* mm by itself .without -1.4.* mm that it goes along with others., outside"
    with pytest.raises(ss.InputError, match=told):
        ss.plan(car, read(15.0, 1.4), free, start={"mount_in": 10.0, "mount_up": 10.0 * fall - 0.1})
    # A plan that ended at the limit may be gone on from.
    onward = ss.plan(car, read(15.0, 6.0), free, start=beyond.setting, tie_rod="untouched").left
    assert onward.moves == pytest.approx({"mount_in": 0.0, "mount_up": 0.0}, abs=1e-6)
    # Where nothing slides nothing is said to go along.
    alone = ss.plan(car, {"strut_compression": 1.0}, "mount_up", tie_rod="untouched").left
    assert "Goes along" not in str(alone) and len(alone.tables()[0].rows) == 1
    mapped = ss.plan_map(car, {"camber": [read(15.0, 1.4)["camber"]]}, free, tie_rod="untouched")
    assert "mount_up by itself +0 to +5 mm (given)" in mapped.attrs["limits"]


def test_a_strut_top_follows_its_towers_face() -> None:
    car = car_a()
    # IDENTITY: in a plane that falls 8 deg inboard and 5 deg rearward (the car file's tower) a move of the pivot falls
    # by the tangents.
    fall = (-math.tan(math.radians(8.0)), -math.tan(math.radians(5.0)))
    want = {"camber": -1.5, "caster": 5.0, "toe": 0.05}
    found = ss.plan(car, want, ["mount_in", "mount_back"]).left
    at = found.setting
    assert found.reached
    assert at["mount_up"] == pytest.approx(fall[0] * at["mount_in"] + fall[1] * at["mount_back"], abs=1e-12)
    assert abs(at["mount_up"]) > 1.0
    # The forward solve of that setting reads what is wanted; the slots of the file's plate put the pivot just there.
    pose = car.left.solve(**at)
    assert [pose.camber, pose.caster, pose.toe] == pytest.approx(list(want.values()), abs=CLOSE)
    slides = {"plate": 2.0, "insert": -3.0}
    moved = {name: car.top_plate.mount(**slides)[name] - car.top_plate.mount()[name] for name in at if "mount" in name}
    per = found.along["mount_up"]
    assert moved["mount_up"] == pytest.approx(
        per["mount_in"] * moved["mount_in"] + per["mount_back"] * moved["mount_back"], abs=1e-12
    )
    assert "Goes along: mount_up by -0.1405 per mm of mount_in" in str(found)
    # Nothing goes along where that is said, and on a corner by itself.
    level = ss.plan(car, want, ["mount_in", "mount_back"], along={}).left
    assert level.setting == ss.plan(car.left, want, ["mount_in", "mount_back"], limits=car.limits).setting
    assert level.setting["mount_up"] == 0.0 and not level.along
    started = ss.plan(car, {"camber": -1.5}, ["mount_in"], start={"mount_in": 5.0, "mount_up": 2.0}).left
    assert started.setting["mount_up"] == pytest.approx(2.0 + fall[0] * (started.setting["mount_in"] - 5.0), abs=1e-12)
    with pytest.raises(ss.InputError, match="along: there is no 'height'"):
        ss.plan(car, want, ["mount_in"], along={"height": {"mount_in": 0.1}})
    with pytest.raises(ss.InputError, match="finite number is needed"):
        ss.plan(car, want, ["mount_in"], along={"mount_up": {"mount_in": math.nan}})


# Maps.


@pytest.fixture(scope="module")
def mapped() -> xr.Dataset:
    """Plate positions over wanted camber by wanted caster, toe put back, within the plate's reach."""
    car = car_a()
    want = {"camber": np.linspace(-3.0, 2.0, 41), "caster": np.linspace(3.5, 7.0, 29), "toe": 0.1}
    return ss.plan_map(car.left, want, ["mount_in", "mount_back"], limits=car.limits)


def test_a_map_is_its_plans(mapped: xr.Dataset) -> None:
    car = car_a()
    for camber, caster in ((0, 0), (20, 14), (33, 28), (40, 3)):
        cell = mapped.isel(wanted_camber=camber, wanted_caster=caster)
        want = {"camber": float(cell.wanted_camber), "caster": float(cell.wanted_caster), "toe": 0.1}
        one = ss.plan(car.left, want, ["mount_in", "mount_back"], limits=car.limits)
        for name in one.free:
            assert float(cell[name]) == one.setting[name]
        assert int(cell.outcome) == OUTCOMES[one.outcome]["code"]
        for name in ("camber", "caster", "toe", "half_track"):
            assert float(cell[name]) == pytest.approx(one.pose.readings[name], abs=1e-12)


def test_a_map_reads_what_is_wanted_wherever_it_is_reached(mapped: xr.Dataset) -> None:
    reached = mapped.outcome == 0
    assert 0.2 < float(reached.mean()) < 0.9
    for name in ("camber", "caster"):
        missed = abs(mapped[name] - mapped[f"wanted_{name}"]).where(reached)
        assert float(missed.max()) <= CLOSED[name]
    assert float(abs(mapped.toe - 0.1).where(reached).max()) <= CLOSED["toe"]
    limits = car_a().limits
    for name in ("mount_in", "mount_back"):
        assert float(abs(mapped[name]).max()) <= limits[name]
    # What is not reached stands at a limit, and says at which.
    stopped = (mapped.at_limit.sel(adjuster=["mount_in", "mount_back"]) != 0).any("adjuster")
    assert bool(stopped.where(~reached, True).all())
    assert mapped.mount_in.attrs["units"] == "mm"
    assert mapped.attrs["held"] == "ride height"
    assert mapped.attrs["tie_rod"] == "puts_toe_back"


def test_a_map_is_the_same_for_any_number_of_threads(mapped: xr.Dataset) -> None:
    car = car_a()
    want = {"camber": mapped.wanted_camber.values, "caster": mapped.wanted_caster.values, "toe": 0.1}
    for threads in (1, 3):
        other = ss.plan_map(car.left, want, ["mount_in", "mount_back"], limits=car.limits, threads=threads)
        assert other.identical(mapped)


def test_a_map_of_a_car_is_the_maps_of_its_corners_within_its_limits() -> None:
    car = ss.Axle.from_corners(car_a().left, car_a().right.replace(camber=-0.8))
    car = ss.Axle.from_dict({**car.to_dict(), "limits": {"mount_in": 9.0}})
    want = {"camber": np.linspace(-2.0, 0.0, 9), "toe": 0.0}
    both = ss.plan_map(car, want, ["mount_in"])
    assert both.mount_in.dims == ("side", "wanted_camber")
    assert list(both.side.values) == ["left", "right"]
    assert both.attrs["limits"].startswith("mount_in -9 to +9 mm (car file)")
    for side, corner in (("left", car.left), ("right", car.right)):
        alone = ss.plan_map(corner, want, ["mount_in"], limits={"mount_in": 9.0})
        for name in alone.data_vars:
            np.testing.assert_array_equal(both[name].sel(side=side), alone[name])
    assert bool((both.outcome.sel(side="left") != both.outcome.sel(side="right")).any())
    # Wanted unlike on the two sides.
    unlike = xr.DataArray([-1.0, -1.5], dims="side", coords={"side": ["left", "right"]})
    ds = ss.plan_map(car, {"camber": unlike, "toe": [0.0, 0.1]}, ["mount_in"])
    assert ds.camber.dims == ("side", "wanted_toe")
    np.testing.assert_allclose(ds.camber.sel(side="right"), -1.5, atol=CLOSE)
    np.testing.assert_allclose(ds.wanted_camber, [-1.0, -1.5])
    per_side = ss.plan_map(car, {"left": {"camber": -1.0}, "right": {"camber": -1.4}}, ["mount_in"])
    np.testing.assert_allclose(per_side.camber, [-1.0, -1.4], atol=CLOSE)
    with pytest.raises(ss.InputError, match="same adjusters"):
        ss.plan_map(car, {"camber": -1.0}, {"left": ["mount_in"], "right": ["clamp"]})


def test_a_map_of_a_car_with_a_top_plate_follows_the_face() -> None:
    car = car_a()
    ds = ss.plan_map(car, {"camber": [-1.5, -1.0]}, ["mount_in"])
    one = ss.plan(car, {"camber": -1.5}, ["mount_in"]).left
    assert float(ds.mount_up.sel(side="left", wanted_camber=-1.5)) == one.setting["mount_up"] != 0.0
    assert float(ds.camber.sel(side="left", wanted_camber=-1.5)) == pytest.approx(-1.5, abs=CLOSE)


def test_maps_take_labelled_arrays_and_several_motions(corner: ss.Corner) -> None:
    days = xr.DataArray([-1.0, -1.5, -2.0], dims="day", coords={"day": ["mon", "tue", "wed"]})
    wants = [ss.Want("camber", days), ss.Want("toe", 0.0, travel=0.0), ss.Want("toe", days * 0.01, travel=20.0)]
    ds = ss.plan_map(corner, wants, ["mount_in", "tie_rod", "tie_outer_up"])
    assert ds.mount_in.dims == ("day",)
    assert list(ds.day.values) == ["mon", "tue", "wed"]
    assert list(ds.want.values) == ["camber", "toe", "toe at travel +20"]
    assert (ds.outcome == 0).all()
    with pytest.raises(ss.InputError, match="two motions"):
        ss.plan_map(corner, [ss.Want("toe", [0.0, 1.0]), ss.Want("toe", [0.0, 1.0], travel=9.0)], ["tie_rod"])


# Refusals.


REFUSALS: dict[str, tuple[Any, Any, dict[str, Any], str]] = {
    "nothing wanted": ({}, ["mount_in"], {}, "nothing is wanted"),
    "nothing free": ({"camber": -1.0}, [], {}, "nothing is free"),
    "unknown reading": ({"cambre": -1.0}, ["mount_in"], {}, "did you mean 'camber'"),
    "unknown adjuster": ({"camber": -1.0}, ["tierod"], {}, "did you mean 'tie_rod'"),
    "unknown start": ({"camber": -1.0}, ["mount_in"], {"start": {"rake": 1.0}}, "start: there is no 'rake'"),
    "unknown effort": ({"camber": -1.0}, ["mount_in"], {"efforts": {"rake": 1.0}}, "efforts: there is no 'rake'"),
    "free twice": ({"camber": -1.0}, ["mount_in", "mount_in"], {}, "free twice"),
    "camber of 90": ({"camber": 90.0}, ["mount_in"], {}, "another unit"),
    "not a number": ({"camber": math.nan}, ["mount_in"], {}, "not a finite number"),
    "a word": ({"camber": "much"}, ["mount_in"], {}, "not made of numbers"),
    "an array": ({"camber": [1.0, 2.0]}, ["mount_in"], {}, "plan_map"),
    "empty limits": ({"camber": -1.0}, {"mount_in": (5.0, -5.0)}, {}, "leave nothing: from 5 to -5 mm"),
    "negative reach": ({"camber": -1.0}, {"mount_in": -5.0}, {}, "leave nothing"),
    "no limit": ({"camber": -1.0}, {"mount_in": (1.0, 2.0, 3.0)}, {}, "give a number, a pair"),
    "start outside": ({"camber": -1.0}, {"mount_in": 5.0}, {"start": {"mount_in": 9.0}}, "outside its limits"),
    "moves nothing": ({"camber": -1.0}, ["mount_in", "hub_spacer"], {}, "hub_spacer moves none of the wanted"),
    "no accuracy": ([ss.Want("camber", -1.0, accuracy=0.0)], ["mount_in"], {}, "accuracy of camber is 0"),
    "no effort": ({"camber": -1.0}, ["mount_in"], {"efforts": {"mount_in": -1.0}}, "effort of mount_in is -1"),
    "twice unlike": ([ss.Want("camber", -1.0), ss.Want("camber", -2.0)], ["mount_in"], {}, "camber is wanted twice"),
    "unknown hold": ({"camber": -1.0}, ["mount_in"], {"travel_at": "sky"}, "travel_at"),
    "unknown tie rod": ({"camber": -1.0}, ["mount_in"], {"tie_rod": "bent"}, "tie_rod"),
    "tie rod both": ({"camber": -1.0}, ["tie_rod"], {"tie_rod": "untouched"}, "holds it"),
}


@pytest.mark.parametrize(("want", "free", "more", "words"), REFUSALS.values(), ids=REFUSALS)
def test_what_makes_no_sense_is_refused_in_words(
    corner: ss.Corner, want: Any, free: Any, more: Any, words: str
) -> None:
    with pytest.raises(ss.InputError, match=words):
        ss.plan(corner, want, free, **more)


def test_a_motion_out_of_reach_is_told(corner: ss.Corner) -> None:
    with pytest.raises(ss.ReachError, match="as it is set now") as caught:
        ss.plan(corner, [ss.Want("camber", -1.0, travel=900.0)], ["mount_in"])
    assert caught.value.part == "lower_arm"


def test_other_things_than_corners_are_refused() -> None:
    with pytest.raises(TypeError, match="Corner"):
        ss.plan("car", {"camber": -1.0}, ["mount_in"])  # type: ignore[call-overload]
    with pytest.raises(TypeError, match="Corner"):
        ss.plan_map("car", {"camber": -1.0}, ["mount_in"])  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="Want"):
        ss.plan(car_a().left, ["camber"], ["mount_in"])  # type: ignore[list-item]


# Shown.


def test_a_plan_says_what_is_held_what_moves_and_which_way(corner: ss.Corner) -> None:
    found = ss.plan(corner, {"camber": -1.5, "toe": 0.0}, {"mount_in": 20.0})
    text = str(found)
    for words in ("mount_in", "tie_rod", "ride height", "puts toe back", "toward the car's centre line", "-20 to +20"):
        assert words in text
    assert "<table>" in found._repr_html_()
    with pytest.raises(AttributeError):
        found.outcome = "reached"  # type: ignore[misc]
