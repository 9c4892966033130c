"""Gauges of the workshop, and the bump-steer cure, against exact relations and the engine's own truth."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

import strutsweep as ss
from strutsweep import plots

CARS = [ss.demo(name) for name in ss.demos()]
every_car = pytest.mark.parametrize("car", CARS, ids=ss.demos())

# Half a unit of the last place that the checks print.
PRINTED_7 = 0.5e-7
# Root finding and Rodrigues' rotation leave round-off of angles in degrees.
ANGLE_TOLERANCE_DEG = 1e-9


@pytest.mark.parametrize(
    ("caster", "kingpin", "camber", "shown"), [(5.0, 12.0, 0.0, 5.0241941), (7.0, 13.0, -2.0, 6.9992578)]
)
def test_caster_gauge_reads_as_printed(caster: float, kingpin: float, camber: float, shown: float) -> None:
    # CHECKS relation 2 (method: January, SAE 850219, 1985): what a gauge read at turntable +-20 deg shows.
    gauge = ss.caster_gauge(caster, kingpin, camber)
    assert gauge.by_sines == pytest.approx(shown, abs=PRINTED_7)
    assert gauge.errors["by_sines"] == pytest.approx(shown - caster, abs=PRINTED_7)
    # The exact relations 2 and 3 give the truth back.
    assert gauge.by_exact_formula == pytest.approx(caster, abs=ANGLE_TOLERANCE_DEG)
    assert gauge.kingpin_by_brake == pytest.approx(kingpin, abs=ANGLE_TOLERANCE_DEG)
    assert f"{gauge.errors['by_sines']:+.3f}" in str(gauge)


def test_common_practice_is_half_as_much_again() -> None:
    # Camber +1 and +4 are read as a caster of 4.5 deg: the factor at 20 deg is 1.4619022.
    gauge = ss.caster_gauge(5.0, 12.0)
    assert gauge.by_practice / gauge.by_sines == pytest.approx(1.5 / 1.4619022, abs=1e-8)
    assert np.isnan(ss.caster_gauge(5.0, 12.0, turn=15.0).by_practice)


@pytest.mark.parametrize("turn", [10.0, 20.0])
def test_gauge_cambers_are_a_turned_wheel_s(turn: float) -> None:
    # SECOND METHOD: scipy's rotations.
    gauge = ss.caster_gauge(6.0, 11.0, -1.0, turn)
    axis = np.array([-np.tan(np.radians(6.0)), -np.tan(np.radians(11.0)), 1.0])
    axis /= np.linalg.norm(axis)
    spin = Rotation.from_euler("x", 1.0, degrees=True).apply([0.0, 1.0, 0.0])
    spin[2] = abs(spin[2])
    for sign, camber in ((1.0, gauge.camber_out), (-1.0, gauge.camber_in)):
        angles = np.linspace(0.0, 1.3 * sign * turn, 400_001)
        turned = Rotation.from_rotvec(np.radians(angles)[:, None] * axis).apply(spin)
        headings = np.degrees(np.arctan2(-turned[:, 0], turned[:, 1]))
        at = int(np.argmin(abs(headings - sign * turn)))
        assert camber == pytest.approx(np.degrees(np.arcsin(-turned[at, 2])), abs=1e-4)


@pytest.mark.parametrize("toe", [0.5, -1.5, 3.0])
def test_static_toe_shifts_what_a_gauge_shows(toe: float) -> None:
    # SECOND METHOD: scipy's rotations, the turntable set to zero under a wheel with toe.
    gauge = ss.caster_gauge(6.0, 12.0, -1.0, 20.0, toe)
    axis = np.array([-np.tan(np.radians(6.0)), -np.tan(np.radians(12.0)), 1.0])
    axis /= np.linalg.norm(axis)
    # A left wheel turned inboard at its front by toe, its top inboard by the camber.
    spin = Rotation.from_euler("z", -toe, degrees=True).apply([0.0, np.cos(np.radians(1.0)), np.sin(np.radians(1.0))])
    read = {}
    for sign in (1.0, -1.0):
        angles = np.linspace(0.0, 1.3 * sign * 20.0, 400_001)
        turned = Rotation.from_rotvec(np.radians(angles)[:, None] * axis).apply(spin)
        headings = np.degrees(np.arctan2(-turned[:, 0], turned[:, 1])) + toe
        at = int(np.argmin(abs(headings - sign * 20.0)))
        read[sign] = float(np.degrees(np.arcsin(-turned[at, 2])))
    assert gauge.camber_out == pytest.approx(read[1.0], abs=1e-4)
    assert gauge.camber_in == pytest.approx(read[-1.0], abs=1e-4)
    # First order: toe-in takes toe x tan(kingpin inclination) away from what the gauge shows as caster.
    expected = -toe * np.tan(np.radians(12.0))
    assert gauge.shift_by_toe == pytest.approx(expected, rel=0.05)
    # The exact relations know toe.
    assert gauge.by_exact_formula == pytest.approx(6.0, abs=ANGLE_TOLERANCE_DEG)
    assert gauge.kingpin_by_brake == pytest.approx(12.0, abs=ANGLE_TOLERANCE_DEG)


def test_a_corner_with_toe_is_swept_from_where_it_stands() -> None:
    straight, toed = (ss.caster_sweep(CARS[1].left.replace(toe=toe)) for toe in (0.0, 0.5))
    assert toed.toe == pytest.approx(0.5) and straight.shift_by_toe == pytest.approx(0.0, abs=1e-12)
    shift = toed.by_sines - straight.by_sines
    assert shift == pytest.approx(toed.shift_by_toe, abs=0.01) and shift < -0.09


@every_car
def test_caster_sweep_tells_the_racks_that_it_took(car: ss.Axle) -> None:
    for side in ("left", "right"):
        corner = car.left if side == "left" else car.right
        gauge = ss.caster_sweep(corner, turn=15.0, travel=5.0)
        for rack, toe in ((gauge.rack_out, -15.0), (gauge.rack_in, 15.0)):
            pose = corner.solve(rack=rack, travel=5.0)
            assert pose.toe - corner.solve(travel=5.0).toe == pytest.approx(toe, abs=1e-8)
    assert np.isnan(ss.caster_gauge(5.0, 12.0).rack_out)


@every_car
def test_caster_sweep_of_a_corner_is_near_the_textbook_s_wheel(car: ss.Axle) -> None:
    for corner in (car.left, car.right):
        gauge = ss.caster_sweep(corner)
        alone = ss.caster_gauge(gauge.caster, gauge.kingpin_inclination, gauge.camber)
        # The axis of a strut moves as it steers: tenths of a degree, and not nothing.
        assert 1e-3 < abs(gauge.by_sines - alone.by_sines) < 0.2
        assert abs(gauge.errors["kingpin_by_brake"]) < 0.2
        assert gauge.caster == corner.solve().caster
    # Cambers are those of the poses whose heading has turned by that much.
    straight = car.left.solve()
    racks = np.linspace(-60.0, 60.0, 12001)
    curve = ss.sweep(car.left, rack=racks, readings=["toe", "camber"])
    at = int(np.argmin(abs(curve.toe.values - straight.toe + 20.0)))
    assert ss.caster_sweep(car.left).camber_out == pytest.approx(float(curve.camber[at]), abs=2e-3)


def test_left_and_right_caster_sweeps_read_alike() -> None:
    left, right = (ss.caster_sweep(corner, turn=10.0, travel=5.0) for corner in (CARS[0].left, CARS[0].right))
    assert left.by_sines == pytest.approx(right.by_sines, abs=1e-9)
    assert left.by_practice == pytest.approx(3.0 * (left.camber_out - left.camber_in), abs=1e-12)


@pytest.mark.parametrize("turn", [0.0, -5.0, 61.0, float("nan")])
def test_turns_that_no_table_shows_are_refused(turn: float) -> None:
    for ask in (lambda: ss.caster_gauge(5.0, 12.0, turn=turn), lambda: ss.caster_sweep(CARS[0].left, turn=turn)):
        with pytest.raises(ss.InputError) as caught:
            ask()
        assert caught.value.name == "turn"


def test_caster_sweep_beyond_lock_is_out_of_reach() -> None:
    # A tie rod that slants away from its arm comes in line with it early.
    slanted = CARS[0].left.replace(tie_rod_inner=[-220.0, 330.0, 240.4])
    assert ss.caster_sweep(slanted, turn=20.0).turn == 20.0
    with pytest.raises(ss.ReachError):
        ss.caster_sweep(slanted, turn=60.0)


def test_toe_as_a_length() -> None:
    # CHECKS relation 11: 4 mm on 431.8 mm is 0.5308 deg in total.
    assert ss.toe_from_length(4.0, 431.8) == pytest.approx(0.5308, abs=0.5e-4)
    for toe in (-1.3, 0.0, 0.25):
        assert ss.toe_from_length(ss.toe_as_length(toe, 600.0), 600.0) == pytest.approx(toe, abs=1e-12)
    # A plate or a rim: front and rear of a turned disc, by its rotation.
    ends = Rotation.from_euler("z", 0.4, degrees=True).apply([[300.0, 0.0, 0.0], [-300.0, 0.0, 0.0]])
    assert ss.toe_as_length(0.4, 600.0) == pytest.approx(ends[0, 1] - ends[1, 1], abs=1e-12)


NAN, ENDLESS = float("nan"), float("inf")
LEFT = CARS[0].left

REFUSED: list[tuple[Any, str]] = [
    (lambda: ss.toe_as_length(1.0, 0.0), "diameter"),
    (lambda: ss.toe_as_length(1.0, NAN), "diameter"),
    (lambda: ss.toe_as_length(NAN, 400.0), "toe"),
    (lambda: ss.toe_as_length(ENDLESS, 400.0), "toe"),
    (lambda: ss.toe_from_length(5.0, 4.0), "length"),
    (lambda: ss.toe_from_length(1.0, -4.0), "diameter"),
    (lambda: ss.toe_from_length(NAN, 400.0), "length"),
    (lambda: ss.toe_from_length(1.0, ENDLESS), "diameter"),
    (lambda: ss.caster_gauge(NAN, 12.0), "caster"),
    (lambda: ss.caster_gauge(5.0, 88.0), "kingpin_inclination"),
    (lambda: ss.caster_gauge(5.0, 12.0, -ENDLESS), "camber"),
    (lambda: ss.caster_gauge(5.0, 12.0, toe=NAN), "toe"),
    (lambda: ss.caster_gauge([5.0, 6.0], 12.0), "caster"),  # type: ignore[arg-type]
    # Within every limit, but no turn about so slanted an axis heads the wheel 60 deg outboard.
    (lambda: ss.caster_gauge(45.0, 45.0, 45.0, 60.0), "turn"),
    (lambda: ss.caster_sweep(LEFT, travel=NAN), "travel"),
    (lambda: ss.bump_steer_plate(LEFT, [0.0, NAN]), "travel"),
    (lambda: ss.bump_steer_plate(LEFT, [0.0], spacing=0.0), "spacing"),
    (lambda: ss.bump_steer_plate(LEFT, [0.0], spacing=ENDLESS), "spacing"),
    (lambda: ss.bump_steer_plate(LEFT, [0.0], offset=NAN), "offset"),
    (lambda: ss.bump_steer_plate(LEFT, [0.0], rack=NAN), "rack"),
    (lambda: ss.bump_steer_cure(LEFT, most=NAN), "most"),
    (lambda: ss.bump_steer_cure(LEFT, over=(-40.0, NAN)), "over"),
    (lambda: ss.bump_steer_cure(LEFT, over=(-ENDLESS, 40.0)), "over"),
    (lambda: ss.bump_steer_cure(LEFT, mount_in=NAN), "mount_in"),
    (lambda: ss.bump_steer_cure(LEFT, mount_in=[1.0, 2.0]), "mount_in"),
    (lambda: ss.bump_steer_cure(LEFT, travel=10.0), "travel"),
    (lambda: ss.bump_steer_cure(LEFT, travel_at="hub"), "travel_at"),
    (lambda: ss.caster_sweep(LEFT, mount_in=[1.0, 2.0]), "mount_in"),
    (lambda: ss.caster_sweep(LEFT, mount_inn=1.0), "mount_inn"),
    (lambda: ss.camber_shares(CARS[0], roll=NAN), "roll"),
    (lambda: ss.camber_shares(CARS[0], roll=1.0, rack=ENDLESS), "rack"),
    (lambda: ss.camber_shares(CARS[0], roll=1.0, steer=NAN), "steer"),
    (lambda: ss.camber_shares(CARS[0], roll=1.0, travel=NAN), "travel"),
    (lambda: ss.camber_shares(CARS[0], roll=1.0, mount_in=NAN), "mount_in"),
    (lambda: ss.steering_curves(CARS[0], rack=[0.0, NAN]), "rack"),
    (lambda: ss.steering_curves(CARS[0], rack=[[0.0, 1.0]]), "rack"),
    (lambda: ss.steering_curves(CARS[0], travel=NAN), "travel"),
    (lambda: ss.steering_curves(CARS[0], roll=ENDLESS), "roll"),
    (lambda: ss.largest_lock(CARS[0], travel=NAN), "travel"),
    (lambda: ss.largest_lock(CARS[0], roll=NAN), "roll"),
    (lambda: ss.roll_rates(CARS[0], roll=NAN), "roll"),
    (lambda: ss.roll_rates(CARS[0], travel=NAN), "travel"),
    (lambda: ss.spring_curves(CARS[0], travel=[NAN]), "travel"),
    (lambda: ss.spring_curves(CARS[0], preload=NAN), "preload"),
    (lambda: ss.spring_curves(CARS[0], preload=1e9), "preload"),
    (lambda: ss.spring_curves(CARS[0], rack=NAN), "rack"),
    (lambda: ss.ride_height(CARS[0], NAN), "load"),
    (lambda: ss.ride_height(CARS[0], 3000.0, preload=ENDLESS), "preload"),
    (lambda: ss.ride_height(CARS[0], 3000.0, mount_up=NAN), "mount_up"),
    (lambda: ss.side_force(CARS[0], load=NAN), "load"),
    (lambda: ss.side_force(CARS[0], load=3000.0, roll=NAN), "roll"),
    # Shapes, sides and cars that are none.
    (lambda: ss.bump_steer_plate(LEFT, [[0.0, 1.0]]), "travel"),
    (lambda: ss.spring_curves(CARS[0], travel=[[0.0, 1.0]]), "travel"),
    (lambda: ss.bump_steer_cure(LEFT, over=3.0), "over"),  # type: ignore[arg-type]
    (lambda: ss.side_force(CARS[0], side="front"), "side"),  # type: ignore[arg-type]
    (lambda: ss.ride_height(CARS[0], 3000.0, side="middle"), "side"),  # type: ignore[arg-type]
    *((lambda verb=verb: verb(CARS[0]), "corner") for verb in (ss.caster_sweep, ss.bump_steer_cure)),
    (lambda: ss.bump_steer_plate(CARS[0], [0.0]), "corner"),  # type: ignore[arg-type]
    *(
        (lambda verb=verb: verb(LEFT), "car")
        for verb in (ss.steering_curves, ss.largest_lock, ss.spring_curves, ss.side_force, ss.roll_rates)
    ),
    (lambda: ss.ride_height(LEFT, 3000.0), "car"),  # type: ignore[arg-type]
    (lambda: ss.camber_shares(LEFT, roll=1.0), "car"),  # type: ignore[arg-type]
    *((lambda draw=draw: draw(LEFT), "car") for draw in (plots.axle_front_view, plots.turn_view)),
    (lambda: plots.save_three_dimensional(LEFT, "axle.html"), "car"),  # type: ignore[arg-type]
]


@pytest.mark.parametrize(("ask", "name"), REFUSED, ids=range(len(REFUSED)))
def test_numbers_that_are_none_or_beyond_their_limits_are_refused_by_name(ask: Any, name: str) -> None:
    with pytest.raises(ss.InputError, match=name) as caught:
        ask()
    assert caught.value.name == name


def test_what_is_no_car_is_no_car() -> None:
    with pytest.raises(TypeError, match="takes an Axle, not str"):
        ss.largest_lock("demo:gravel_hatch")  # type: ignore[arg-type]


def test_a_refusal_tells_value_limit_and_unit() -> None:
    with pytest.raises(ss.InputError, match="kingpin_inclination = 88 deg is not between -45 and 45 deg") as caught:
        ss.caster_gauge(5.0, 88.0)
    assert (caught.value.value, caught.value.limit, caught.value.unit) == (88.0, 45.0, "deg")


@every_car
@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("spacing", [200.0, 400.0])
def test_dials_on_a_plate_tell_toe(car: ss.Axle, side: str, spacing: float) -> None:
    corner = (car.left if side == "left" else car.right).replace(
        tie_rod_inner=((car.left if side == "left" else car.right).point("tie_rod_inner") + [0.0, 0.0, 9.0])
    )
    travels = np.linspace(-60.0, 60.0, 241)
    plate = ss.bump_steer_plate(corner, travels, spacing=spacing, offset=55.0)
    assert float(abs(plate.error).max()) < ANGLE_TOLERANCE_DEG
    # The dials' own difference is the change of toe that the trade reads off.
    by_dials = np.degrees(np.arctan((plate.rear_dial - plate.front_dial) / spacing))
    np.testing.assert_allclose(plate.toe_change, by_dials, atol=1e-9)
    exact = ss.sweep(corner, travel=travels, travel_at="hub").bump_steer
    np.testing.assert_allclose(plate.bump_steer[1:-1], exact[1:-1], atol=2e-6)
    # SECOND METHOD: where a line across the car meets the plate, by numpy, at one travel.
    pose = corner.solve(travel=40.0, travel_at="hub")
    start = corner.solve()

    def met(p: ss.Pose) -> float:
        o = 1.0 if side == "left" else -1.0
        c, t = np.radians(p.camber), np.radians(p.toe)
        s = np.array([np.cos(c) * np.sin(t), o * np.cos(c) * np.cos(t), -np.sin(c)])
        dial = corner.point("wheel_centre") + [spacing / 2.0, 0.0, 0.0]
        face = p.point("wheel_centre") + 55.0 * s
        return float(o * (dial[1] + np.dot(face - dial, s) / s[1]))

    assert float(plate.front_dial.sel(travel=40.0)) == pytest.approx(met(pose) - met(start), abs=1e-8)


@pytest.mark.parametrize("aim", ["slope", "flattest"])
def test_a_cure_over_a_range_that_is_not_reached_is_refused(aim: Any) -> None:
    with pytest.raises(ss.InputError, match="within reach") as caught:
        ss.bump_steer_cure(ss.demo("hillclimb_saloon").left, aim=aim, over=(-400.0, 400.0))
    assert caught.value.name == "over"


@every_car
@pytest.mark.parametrize("way", ["spacer", "rack_height"])
@pytest.mark.parametrize("disturbed", [{"mount_back": 10.0}, {"mount_up": 10.0}, {"ball_joint_down": 15.0}], ids=str)
def test_cure_makes_the_slope_zero(car: ss.Axle, way: Any, disturbed: dict[str, float]) -> None:
    cure = ss.bump_steer_cure(car.left, way, **disturbed)
    assert abs(cure.slope_before) > 1e-5 and abs(cure.slope_after) < 1e-10
    assert cure.slope_after == cure.corner.solve(**disturbed).bump_steer
    # A difference of the curve's own toe.
    toe = ss.sweep(cure.corner, travel=[-0.01, 0.01], readings="toe", **disturbed).toe.values
    assert abs(toe[1] - toe[0]) / 0.02 < 1e-8
    moved = "tie_rod_outer" if way == "spacer" else "tie_rod_inner"
    np.testing.assert_allclose(cure.corner.point(moved) - car.left.point(moved), [0.0, 0.0, cure.raised], atol=1e-9)
    assert cure.spread_after < cure.spread_before and "deg/m" in str(cure)
    assert cure.curves.toe.dims == ("state", "travel")


@every_car
def test_flattest_is_flatter_than_its_neighbours_and_than_no_slope(car: ss.Axle) -> None:
    slope, flat = (
        ss.bump_steer_cure(car.left, aim=aim, over=(-50.0, 60.0), mount_back=8.0) for aim in ("slope", "flattest")
    )
    assert flat.spread_after < slope.spread_after < slope.spread_before
    for beside in (-0.5, 0.5):
        outer = flat.corner.point("tie_rod_outer") + [0.0, 0.0, beside]
        toe = ss.sweep(
            flat.corner.replace(tie_rod_outer=outer), travel=np.linspace(-50, 60, 81), readings="toe", mount_back=8.0
        ).toe
        assert float(toe.max() - toe.min()) > flat.spread_after


@pytest.mark.parametrize(
    ("arguments", "name"),
    [
        ({"way": "longer_rod"}, "way"),
        ({"aim": "best"}, "aim"),
        ({"over": (5.0, 40.0)}, "over"),
        ({"most": 0.0}, "most"),
        ({"most": 0.01, "mount_back": 15.0}, "most"),
    ],
)
def test_cures_that_cannot_be_are_named(arguments: dict[str, Any], name: str) -> None:
    with pytest.raises(ss.InputError) as caught:
        ss.bump_steer_cure(CARS[0].left, **arguments)
    assert caught.value.name == name
