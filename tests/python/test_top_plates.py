"""Adjustable strut tops: hardware to pivot, reach, slots and the box that they are for, forward and back."""

from __future__ import annotations

import copy
import itertools
import pickle
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
import scipy.special
import shapely
import strutsweep as ss
import xarray as xr
from matplotlib.text import Text as Words
from scipy.spatial.transform import Rotation
from strutsweep import plots, top_plates
from strutsweep.errors import FileError

EXACT_MM: Final = 1e-11
"""Round-off of lengths of some hundred millimetres."""
MET_DEG: Final = 1e-6
"""What a box corner may be missed by: the promise of the slots."""
GRID: Final = 101

SIDES: Final = ("left", "right")


@pytest.fixture(scope="module", params=ss.demos())
def any_car(request: pytest.FixtureRequest) -> ss.Axle:
    return ss.demo(request.param)


def plate_of(car: ss.Axle) -> ss.TopPlate:
    assert car.top_plate is not None
    return car.top_plate


@pytest.fixture(scope="module")
def plate() -> ss.TopPlate:
    return plate_of(ss.demo("gravel_hatch"))


# From hardware to pivot.


@pytest.mark.parametrize(("tilt", "yaw"), [(8.0, 10.0), (0.0, 10.0), (8.0, 0.0), (-5.0, -20.0)])
def test_tilted_and_turned_plate_is_two_rotations(plate: ss.TopPlate, tilt: float, yaw: float) -> None:
    # SECOND METHOD: scipy's rotations. A left face tilted inboard has turned about -X... the normal leans to -Y: a turn
    # about +X. Yaw swings inboard (-Y) to rearward (-X): seen from above clockwise, a turn about -Z, done first.
    turned = plate.replace(tilt_in=tilt, tilt_back=0.0, yaw=yaw)
    rotation = Rotation.from_euler("x", tilt, degrees=True) * Rotation.from_euler("z", -yaw, degrees=True)
    axes = rotation.apply([[0.0, -1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    np.testing.assert_allclose(turned.axes("left"), axes, atol=1e-15)
    for p, q, position, offset in [(0.0, 10.0, 0, 6.0), (-7.0, 3.0, 1, -6.0)]:
        shift = rotation.apply([-p, -(q + offset), 0.0])
        mount = turned.mount(plate=p, insert=q, position=position)
        np.testing.assert_allclose(
            [mount["mount_in"], mount["mount_back"], mount["mount_up"]], [-shift[1], -shift[0], shift[2]], atol=EXACT_MM
        )


# What a top plate's move reads as, against a steering axis whose top alone has moved: the ball joint moves a little.
YAW_DEG = 5e-4
# The trade's figure is a rounded one, for some 705 mm between ball joint and top; these cars have 658 and 672 mm.
ROUNDED_DEG = 0.015


def test_ten_degrees_of_yaw_cost_caster(any_car: ss.Axle) -> None:
    corner, turned = any_car.left, plate_of(any_car).replace(tilt_in=8.0, tilt_back=0.0, yaw=10.0)

    def costs(plate: ss.TopPlate) -> float:
        found = top_plates.readings_at(corner, plate, insert=[-5.0, 5.0], toe="as_it_comes", readings="caster").caster
        return float(found[1] - found[0])

    # Without yaw the car's own cross effect is left; what yaw adds is 10 sin(10) mm rearward.
    yaw = costs(turned) - costs(turned.replace(yaw=0.0))
    # IDENTITY: tan(caster) is the top's distance behind the ball joint over its height above it.
    top, ball = corner.point("strut_top"), corner.point("ball_joint")
    behind, height = ball[0] - top[0], top[2] - ball[2]
    by_hand = np.degrees(np.arctan((behind + 10.0 * np.sin(np.radians(10.0))) / height) - np.arctan(behind / height))
    assert yaw == pytest.approx(by_hand, abs=YAW_DEG)
    # Common practice, no source: 10 deg of yaw turns 10 mm of camber slot into 0.14 deg of caster.
    assert yaw == pytest.approx(0.14, abs=ROUNDED_DEG)


def test_the_right_plate_is_the_mirror_image(any_car: ss.Axle) -> None:
    plate = plate_of(any_car)
    np.testing.assert_array_equal(plate.axes("right"), plate.axes("left") * [1.0, -1.0, 1.0])
    left, right = (
        top_plates.readings_at(getattr(any_car, side), plate, plate=[-5.0, 5.0], insert=[-8.0, 8.0], position=[0, 1])
        for side in SIDES
    )
    for name in ("camber", "caster", "scrub_radius", "tie_rod"):
        np.testing.assert_array_equal(left[name].values, right[name].values)


def test_arrays_and_single_places_agree(any_car: ss.Axle) -> None:
    plate = plate_of(any_car)
    rng = np.random.default_rng(5)
    p, q = rng.uniform(-20.0, 20.0, (2, 40))
    position = rng.integers(0, 2, 40)
    shifts = plate.mounts(p, q, position)
    for i in range(40):
        mount = plate.mount(plate=p[i], insert=q[i], position=int(position[i]))
        assert [mount["mount_in"], mount["mount_back"], mount["mount_up"]] == pytest.approx(shifts[:, i], abs=EXACT_MM)
    places = plate.places(p, q, position)
    np.testing.assert_allclose(plate.slides(places[0], places[1], position), [p, q], atol=1e-9)


def test_plates_are_values(plate: ss.TopPlate) -> None:
    for other in (copy.deepcopy(plate), pickle.loads(pickle.dumps(plate)), ss.TopPlate.from_dict(plate.to_dict())):
        assert other == plate
        assert hash(other) == hash(plate)
    assert plate.replace(yaw=1.0) != plate
    assert plate.replace(opening={"corners": [[-30, -30], [30, -30], [0, 40]]}).opening == {
        "centre": [0.0, 0.0],
        "corners": [[-30.0, -30.0], [30.0, -30.0], [0.0, 40.0]],
    }
    assert "tilt_in" not in plate.replace(normal=[0.0, -0.1, 1.0]).to_dict()


# Refusals.

WRONG: list[tuple[dict[str, Any], str, str]] = [
    ({"plate_slot": {"reach": [10, -10]}}, "top_plate.plate_slot.reach", "negative length"),
    ({"insert_slot": {"reach": [5, float("nan")]}}, "top_plate.insert_slot.reach", "not a finite number"),
    ({"opening": {"radius": 5.0}}, "top_plate.opening", "the rod"),
    ({"opening": {"half_axes": [50.0, 4.0]}}, "top_plate.opening", "the rod"),
    (
        {"opening": {"corners": [[-30, -30], [30, 30], [30, -30], [-30, 30]]}},
        "top_plate.opening.corners",
        "crosses itself",
    ),
    ({"opening": {"corners": [[0, 0], [0, 0], [30, -30], [-30, 30]]}}, "top_plate.opening.corners", "repeats a corner"),
    ({"normal": [0, 0, 0]}, "top_plate.normal", "needs a length"),
    ({"normal": [0, 0, -1]}, "top_plate.normal", "does not point up"),
    ({"insert": {"angles": []}}, "top_plate.insert.angles", "at least 1"),
    ({"insert": {"heights": [1.0]}}, "top_plate.insert.heights", "which has 2"),
    ({"insert": {"angles": [0, 90]}}, "top_plate.insert.angles", r"2 bolts .* stands at 0 deg at 0, 180 deg too$"),
    (
        {"insert": {"angles": [10, 100]}, "insert_bolts": {"count": 3, "first": 0}},
        "top_plate.insert.angles",
        "at 10, 130, 250 deg too, and turned over at 110, 230, 350 deg",
    ),
    (
        {"insert": {"angles": [0, 180]}, "insert_bolts": {"count": 3, "first": 0}},
        "top_plate.insert.angles",
        "0, 120, 240 deg too$",
    ),
    ({"insert_slot": {"direction": 90}}, "top_plate.insert_slot.direction", "plate_slot.direction"),
    ({"insert_slot": {"width": 6}}, "top_plate.insert_slot.width", "bolt"),
]


@pytest.mark.parametrize(
    ("changes", "field", "words"), WRONG, ids=lambda value: value if isinstance(value, str) else ""
)
def test_wrong_plates_are_refused_by_name(plate: ss.TopPlate, changes: dict[str, Any], field: str, words: str) -> None:
    with pytest.raises(ss.GeometryError, match=words) as caught:
        plate.replace(**changes)
    assert caught.value.field == field
    assert str(caught.value).startswith(field)


def test_an_insert_fits_where_its_bolts_meet_their_slots(plate: ss.TopPlate) -> None:
    """IDENTITY: bolts at the corners of a regular polygon are mapped on themselves by its rotations and reflections."""
    for count, first, offset in itertools.product((1, 2, 3, 4, 6), (0.0, 25.0, 90.0), (0.0, 40.0)):
        step = 360.0 / count
        bolts = {"count": count, "first": first, "circle": 76.0}
        corners = np.radians(first + step * np.arange(count))
        polygon = shapely.points(np.cos(corners), np.sin(corners))
        for angle in np.arange(0.0, 360.0, 5.0):
            turn = np.radians(angle - offset)
            turned = shapely.points(np.cos(corners + turn), np.sin(corners + turn))
            flip = np.radians(angle + offset)
            flipped = shapely.points(np.cos(flip - corners), np.sin(flip - corners))
            fits = any(
                max(float(shapely.distance(point, polygon).min()) for point in image) < 1e-9
                for image in (turned, flipped)
            )
            changes = {"insert": {"angles": [offset, angle]}, "insert_bolts": bolts}
            if fits:
                assert plate.replace(**changes).positions == 2
            else:
                with pytest.raises(ss.GeometryError, match=r"top_plate\.insert\.angles"):
                    plate.replace(**changes)
    # Nobody drills for a third of a turn to the last digit.
    assert plate.replace(insert={"angles": [0, 51.43]}, insert_bolts={"count": 7}).positions == 2
    # Without bolts nothing is known of what they would fit.
    tables = plate.to_dict()
    del tables["insert_bolts"]
    assert ss.TopPlate.from_dict({**tables, "insert": {"angles": [0, 17]}}).positions == 2


def test_the_bearings_limit_stands_in_one_place(plate: ss.TopPlate, tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"`top_plate.most_bearing_angle` stands elsewhere: .*`limits.bearing_angle`"):
        plate.replace(most_bearing_angle=9.0)
    car = ss.demo("gravel_hatch")
    file = tmp_path / "car.toml"
    car.save(file)
    text = file.read_text().replace("[top_plate]", "[top_plate]\nmost_bearing_angle = 9.0")
    file.write_text(text)
    with pytest.raises(FileError, match="limits.bearing_angle") as caught:
        ss.load(file)
    assert caught.value.field == "top_plate.most_bearing_angle"
    assert text.splitlines()[caught.value.line - 1] == "most_bearing_angle = 9.0"  # type: ignore[operator]


def test_unknown_and_missing_entries_are_refused(plate: ss.TopPlate) -> None:
    with pytest.raises(FileError, match="did you mean `offset`"):
        plate.replace(insert={"ofset": 3})
    with pytest.raises(FileError, match="top_plate.plate_slot.reach"):
        ss.TopPlate.from_dict({"insert_slot": {"reach": [-1, 1]}})
    with pytest.raises(ValueError, match="position = 2"):
        plate.mount(position=2)
    corner = ss.demo().left
    with pytest.raises(ss.InputError, match="whole numbers from 0 to 1"):
        top_plates.readings_at(corner, plate, position=0.5)
    with pytest.raises(ss.InputError, match="toe = 'reset'"):
        ss.reach(corner, plate, toe="reset")  # type: ignore[arg-type]
    with pytest.raises(ss.InputError, match="the lesser first"):
        ss.slots(corner, plate, camber=(0, -1), caster=(2, 3))
    with pytest.raises(ss.InputError, match="tolerance = -1"):
        ss.slots(corner, plate, camber=(-1, 0), caster=(2, 3), tolerance=-1)
    with pytest.raises(ss.InputError, match="none of the sizes"):
        top_plates.slot_width(7.0)
    with pytest.raises(ss.ReachError, match="however long the slots"):
        ss.slots(corner, plate, camber=(-60, 0), caster=(2, 3))


# Joining up.


@pytest.mark.parametrize(("travel", "gap"), [(10.0, 2.0), (12.0, 0.0), (13.0, -1.0)])
def test_two_positions_join_up_from_a_travel_of_twice_the_offset(plate: ss.TopPlate, travel: float, gap: float) -> None:
    # IDENTITY: the bearing of an insert of offset e, turned half round, moves 2 e; its slot must travel as far.
    slot = plate.replace(insert={"offset": 6.0}, insert_slot={"reach": [-travel / 2, travel / 2]})
    (join,) = top_plates.joins(slot)
    assert join.gap == pytest.approx(gap, abs=1e-12)
    assert join.needed == pytest.approx(12.0, abs=1e-12)
    assert join.joined is (gap <= 0.0)
    if gap > 0.0:
        assert "gap of 2 mm" in str(join)
        assert "closed by 2 mm more insert travel (12 mm in all)" in str(join)
    # SECOND METHOD: the images in the plane of camber and caster are apart, or they are not.
    reached = ss.reach(ss.demo().left, slot).union()
    assert isinstance(reached, shapely.MultiPolygon if gap > 0.0 else shapely.Polygon)


def test_quarter_turns_lie_beside_each_other(plate: ss.TopPlate) -> None:
    found = top_plates.joins(
        plate.replace(insert={"angles": [0, 90, 180, 270]}, insert_bolts={"count": 4}, insert_slot={"reach": [-3, 3]})
    )
    assert [join.needed for join in found] == pytest.approx([6.0, 0.0, 6.0])
    assert [abs(join.across) for join in found] == pytest.approx([6.0, 12.0, 6.0])
    assert all(join.joined for join in found)


# Reach.


def test_reach_is_what_random_places_show(any_car: ss.Axle) -> None:
    # SECOND METHOD: places at random between the slots' ends, solved forward, lie inside; places beyond do not.
    plate = plate_of(any_car)
    found = ss.reach(any_car.left, plate, ride_height=[-30.0, 30.0])
    rng = np.random.default_rng(11)
    for height in found.ride_heights:
        for position in range(plate.positions):
            area = found.area(position, height)
            (p0, p1), (q0, q1) = plate.plate_slot["reach"], plate.insert_slot["reach"]
            share = rng.uniform(0.02, 0.98, (2, 60))
            for p, q, inside in [
                (p0 + share[0] * (p1 - p0), q0 + share[1] * (q1 - q0), True),
                (p1 + 1.0 + share[0], q0 + share[1] * (q1 - q0), False),
            ]:
                at = top_plates.readings_at(
                    any_car.left,
                    plate,
                    plate=xr.DataArray(p, dims="sample"),
                    insert=xr.DataArray(q, dims="sample"),
                    position=position,
                    ride_height=height,
                    readings=["camber", "caster"],
                )
                assert (shapely.contains_xy(area, at.camber.values, at.caster.values) == inside).all()


def test_reach_is_alike_on_both_sides(any_car: ss.Axle) -> None:
    left, right = (ss.reach(getattr(any_car, side), plate_of(any_car)) for side in SIDES)
    np.testing.assert_array_equal(left.edges.camber.values, right.edges.camber.values)


def test_toe_put_back_is_put_back_and_kept_rods_are_kept(any_car: ss.Axle) -> None:
    plate = plate_of(any_car)
    back = top_plates.readings_at(any_car.left, plate, plate=8.0, insert=[-10.0, 10.0], ride_height=15.0)
    np.testing.assert_allclose(back.toe.values, any_car.left.toe, atol=1e-9)
    kept = top_plates.readings_at(any_car.left, plate, plate=8.0, insert=[-10.0, 10.0], toe="as_it_comes")
    assert (kept.tie_rod.values == 0.0).all()
    assert (abs(kept.toe.values) > 0.05).all()
    # A fitter's arithmetic: the same setting through the plain engine.
    setting = plate.mount(plate=8.0, insert=10.0)
    pose = any_car.left.solve(travel=15.0, tie_rod=float(back.tie_rod[1]), **setting)
    assert pose.camber == float(back.camber[1])


# Slots.


@pytest.fixture(scope="module")
def static_caster(any_car: ss.Axle) -> float:
    return any_car.left.solve().caster


@pytest.mark.parametrize("heights", [(0.0, 0.0), (-25.0, 15.0)], ids=["one height", "a band"])
def test_slots_reach_the_box_and_are_no_longer_than_that(
    any_car: ss.Axle, static_caster: float, heights: tuple[float, float]
) -> None:
    caster = (static_caster - 0.75, static_caster + 0.75)
    plan = ss.slots(
        (any_car.left, any_car.right),
        plate_of(any_car),
        camber=(-3.5, -0.5),
        caster=caster,
        ride_heights=heights,
        tolerance=0.0,
        seating=0.0,
    )
    # Every corner of the box is met, solved forward, by a place within the slots.
    assert plan.largest_error < MET_DEG
    assert (plan.corners.isel(side=0).plate.values == plan.corners.isel(side=1).plate.values).all()
    within = plan.check(3).slack.isel(camber=[0, 2], caster=[0, 2])
    assert float(within.min()) > -EXACT_MM
    # No slot could be shorter: each end is where some corner of the box stands, or a point of its edges.
    p0, p1 = plan.slots[0].reach
    assert p0 == pytest.approx(float(plan.corners.plate.min()), abs=1e-2)
    assert p1 == pytest.approx(float(plan.corners.plate.max()), abs=1e-2)
    q0, q1 = plan.slots[1].reach
    by_position = plan.corners.insert
    assert q1 == pytest.approx(float(by_position.sel(position=0).max()), abs=1e-2)
    assert q0 == pytest.approx(float(by_position.sel(position=1).min()), abs=1e-2)
    # And the slots' ends, solved forward, lie on or beyond the box.
    assert float(plan.ends.camber.max()) > -0.5 - MET_DEG
    assert float(plan.ends.camber.min()) < -3.5 + MET_DEG
    assert float(plan.ends.caster.min()) < caster[0] + MET_DEG
    assert float(plan.ends.caster.max()) > caster[1] - MET_DEG


def test_slots_miss_nothing_inside_the_box(any_car: ss.Axle, static_caster: float) -> None:
    plan = ss.slots(
        any_car.left,
        plate_of(any_car),
        camber=(-3.5, -0.5),
        caster=(static_caster - 0.75, static_caster + 0.75),
        ride_heights=(-15.0, 15.0),
    )
    left = plan.check(GRID).slack
    assert left.sizes == {"side": 1, "ride_height": 2, "camber": GRID, "caster": GRID}
    # Margins are what is left at the worst point: neither less nor more.
    assert float(left.min()) == pytest.approx(plan.tolerance + plan.seating, abs=1e-6)
    # The plane of camber and caster says so too (SECOND METHOD).
    assert (
        ss.reach(any_car.left, plan.top_plate, ride_height=[-15.0, 0.0, 15.0])
        .missing(plan.camber, plan.caster)
        .is_empty
    )


def test_a_slot_cut_short_misses_part_of_the_box(any_car: ss.Axle, static_caster: float) -> None:
    caster = (static_caster - 0.75, static_caster + 0.75)
    plan = ss.slots(any_car.left, plate_of(any_car), camber=(-3.5, -0.5), caster=caster, tolerance=0.0, seating=0.0)
    least, most = plan.slots[0].reach
    short = plan.top_plate.replace(plate_slot={"reach": [least, most - 0.2]})
    assert not ss.reach(any_car.left, short).missing(plan.camber, plan.caster).is_empty


def test_offsets_shorten_the_insert_slot_until_ranges_would_part(plate: ss.TopPlate) -> None:
    corner = ss.demo().left
    box: dict[str, Any] = {"camber": (-2.5, -0.5), "caster": (2.7, 3.0), "tolerance": 0.0, "seating": 0.0}
    plain = ss.slots(corner, plate.replace(insert={"offset": 0.0}), **box).slots[1].half_travel
    for offset in (2.0, 0.5 * plain - 0.01):
        found = ss.slots(corner, plate.replace(insert={"offset": offset}), **box)
        assert found.positions == (0, 1)
        assert found.slots[1].half_travel == pytest.approx(plain - offset, abs=1e-6)
    # Beyond half of what is needed, positions would part: the slot has to grow again.
    found = ss.slots(corner, plate.replace(insert={"offset": 0.5 * plain + 1.0}), **box)
    assert found.slots[1].half_travel == pytest.approx(0.5 * plain + 1.0, abs=1e-6)
    assert found.check(21).slack.min() > -1e-9


def test_heights_of_positions_are_counted_in(plate: ss.TopPlate) -> None:
    corner = ss.demo().left
    box: dict[str, Any] = {"camber": (-2.0, -0.5), "caster": (2.7, 3.0)}
    plan = ss.slots(corner, plate.replace(insert={"heights": [0.0, 5.0]}), **box)
    assert float(plan.check(31).slack.min()) >= plan.tolerance + plan.seating - 1e-6


def test_widths_come_from_the_bolt(plate: ss.TopPlate) -> None:
    # MEMORY: ISO 273, clearance holes for M8: 8.4 fine, 9 medium, 10 coarse.
    tables = plate.to_dict()
    del tables["plate_slot"]["width"]
    bare = ss.TopPlate.from_dict(tables)
    box: dict[str, Any] = {"camber": (-2.0, -0.5), "caster": (2.7, 3.0)}
    assert ss.slots(ss.demo().left, bare, **box, fit="coarse").slots[0].width == 10.0
    del tables["plate_slot"]["bolt"]
    with pytest.raises(ss.InputError, match="plate_slot has neither bolt nor width"):
        ss.slots(ss.demo().left, ss.TopPlate.from_dict(tables), **box)


# Marks.


def test_degree_marks_are_true_where_they_say_so(any_car: ss.Axle) -> None:
    plate = plate_of(any_car)
    for of, angle in (("insert", "camber"), ("plate", "caster")):
        for position in range(plate.positions):
            found = top_plates.marks(
                (any_car.left, any_car.right), plate, of=of, position=position, ride_height=-10.0, also_at=[20.0]
            )
            assert np.ptp(found.slide.values) > 10.0
            zero = plate.slides(np.zeros(1), np.zeros(1), np.array([position]))[:, 0]
            here = {"plate": zero[0], "insert": zero[1]}
            # SECOND METHOD: the same through plain poses with the rod that puts toe back.
            at = top_plates.readings_at(
                any_car.left,
                plate,
                **{**here, of: found.slide.values, "position": position, "ride_height": -10.0},
            )
            start = top_plates.readings_at(any_car.left, plate, **here, position=position, ride_height=-10.0)
            labels = np.array([float(label) for label in found.label.values])
            np.testing.assert_allclose(at[angle].values - float(start[angle]), labels, atol=1e-8)
            assert float(abs(found.error.sel(ride_height=-10.0)).max()) < 1e-8
            assert 1e-3 < float(abs(found.error.sel(ride_height=20.0)).max()) == found.attrs["largest_error"] < 0.2
            assert found.slide.values[found.label.values == "0"] == pytest.approx(here[of], abs=EXACT_MM)
            assert found.long.values.tolist() == [float(label) == round(float(label)) for label in found.label.values]


def test_a_caster_mark_is_worth_half_a_degree_at_common_sizes(any_car: ss.Axle) -> None:
    # Common practice, no source: 5.5 to 6 mm on struts of 620 to 670 mm from ball joint to top; by length both ways.
    corner = any_car.left
    length = float(np.linalg.norm(corner.point("strut_top") - corner.point("ball_joint")))
    found = top_plates.marks(corner, plate_of(any_car), of="plate", step=0.5)
    per_mark = float(np.diff(found.slide.values).mean())
    assert 5.5 * length / 670.0 < per_mark < 6.0 * length / 620.0
    # IDENTITY: about length times half a degree in radians.
    assert per_mark == pytest.approx(length * np.radians(0.5), rel=0.03)


def test_millimetre_marks_are_equal_and_worth_what_they_are(any_car: ss.Axle) -> None:
    found = top_plates.marks(any_car.left, plate_of(any_car), kind="millimetres", step=2.5, also_at=[-25.0])
    np.testing.assert_allclose(np.diff(found.slide.values), 2.5, atol=1e-12)
    assert [float(label) for label in found.label.values] == pytest.approx(found.from_zero.values)
    assert found.long.values.sum() >= 2
    assert float(abs(found.error.sel(ride_height=0.0)).max()) == 0.0
    assert found.attrs["largest_error"] > 0.0


def test_marks_refuse_nonsense(plate: ss.TopPlate) -> None:
    corner = ss.demo().left
    wrong: list[tuple[dict[str, Any], str]] = [
        ({"of": "nut"}, "insert, plate"),
        ({"kind": "inches"}, "degrees, millimetres"),
        ({"step": 0.0}, "must be positive"),
        ({"step": 1e-4}, "more than 400 marks"),
        ({"position": 2}, "none of the insert's 2"),
    ]
    for arguments, words in wrong:
        with pytest.raises(ss.InputError, match=words):
            top_plates.marks(corner, plate, **arguments)


# Clearances and maps.


def test_clearances_are_those_of_single_poses(any_car: ss.Axle) -> None:
    # SECOND METHOD: the rod's line cut with the face by hand, shapely's distance from the opening.
    plate = plate_of(any_car).replace(opening={"radius": 36.0})
    for corner in (any_car.left, any_car.right):
        found = top_plates.clearances(corner, plate, travel=(-80, 70), rack=(-50, 50), count=7)
        for part in top_plates.PARTS:
            at = found.least.sel(part=part)
            setting = plate.mount(plate=float(at.plate), insert=float(at["insert"]), position=int(at.position))
            rod = top_plates.readings_at(
                corner, plate, plate=float(at.plate), insert=float(at["insert"]), position=int(at.position)
            ).tie_rod
            pose = corner.solve(travel=float(at.travel), rack=float(at.rack), tie_rod=float(rod), **setting)
            axes = plate.axes(corner.side)
            top = axes @ (pose.point("strut_top") - corner.point("strut_top")) + [0.0, 0.0, plate.bearing_height]
            along = axes @ (pose.point("strut_top") - pose.point("strut_low"))
            height = {"nut": plate.clearing["nut_height"], "insert": top[2], "rod": 0.0}[part]
            place = top + along * ((height - top[2]) / along[2])
            radius = dict(plate.clearing)[part]
            if part == "rod":
                radius = radius * np.linalg.norm(along) / along[2]
            assert plate.opening is not None
            assert float(at.gap) == pytest.approx(plate.opening["radius"] - np.hypot(*place[:2]) - radius, abs=1e-9)


def test_what_does_not_pass_has_an_outline_to_trim(any_car: ss.Axle) -> None:
    plate = plate_of(any_car).replace(opening={"radius": 36.0})
    tight = top_plates.clearances(any_car.left, plate, count=5)
    assert not tight.clears
    # The deepest cut is as deep as the smallest gap is negative, for an opening with everything else inside it.
    depth = shapely.Point(0, 0).buffer(plate.opening["radius"], quad_segs=256)  # type: ignore[index]
    assert tight.trim().hausdorff_distance(depth.boundary) > 0.0
    worst = float(tight.least.gap.min())
    grown = shapely.Point(0, 0).buffer(plate.opening["radius"] - worst, quad_segs=256)  # type: ignore[index]
    assert tight.trim().difference(grown).area < 0.05
    assert "DOES NOT PASS" in str(tight)
    wide = top_plates.clearances(any_car.left, plate.replace(opening={"radius": 90.0}), count=5)
    assert wide.clears
    assert wide.trim().is_empty
    leans = top_plates.clearances(
        any_car.left, plate.replace(opening={"radius": 90.0}), most_bearing_angle=1.0, count=5
    )
    assert not leans.clears
    assert "of 1 allowed  TOO FAR" in str(leans)


def test_the_box_passes_one_demonstration_car_and_asks_the_other_to_be_trimmed() -> None:
    """The lesson of the invented cars: an oval opening takes the whole box of angles, a round one does not."""
    passes = {}
    for name in ss.demos():
        car = ss.demo(name)
        caster = car.left.solve().caster
        plan = ss.slots(
            (car.left, car.right), plate_of(car), camber=(-3.5, -0.5), caster=(caster - 0.75, caster + 0.75)
        )
        limits, stroke = car.limits, car.rack["stroke"]
        assert limits["droop"] is not None
        assert limits["bump"] is not None
        assert stroke is not None
        passes[name] = [
            top_plates.clearances(
                corner,
                hardware,
                travel=(-limits["droop"], limits["bump"]),
                rack=(-stroke, stroke),
                most_bearing_angle=limits["bearing_angle"],
            ).clears
            for corner in (car.left, car.right)
            for hardware in (plate_of(car), plan.top_plate)
        ]
    assert passes == {"gravel_hatch": [False] * 4, "hillclimb_saloon": [True] * 4}


def test_opening_of_any_shape_has_the_same_distance_by_two_methods(plate: ss.TopPlate) -> None:
    # SECOND METHOD: shapely's distance from a polygon of many corners.
    rng = np.random.default_rng(3)
    x, y = rng.uniform(-60.0, 60.0, (2, 500))
    openings: list[dict[str, Any]] = [
        {"half_axes": [50.0, 30.0], "turned": 25.0, "centre": [3.0, -4.0]},
        {"radius": 33.0},
        {"corners": [[-40, -30], [45, -28], [30, 10], [0, 45], [-5, 15]], "centre": [1.0, 2.0]},
    ]
    for opening in openings:
        other = plate.replace(opening=opening)
        area = top_plates.clearing.opening_area(other)
        assert area is not None
        points = shapely.points(x, y)
        expected = np.where(shapely.contains(area, points), 1.0, -1.0) * shapely.distance(area.boundary, points)
        # Chords of a quarter of a quadrant's 64th part fall short of a circle of 50 mm by 0.004 mm.
        np.testing.assert_allclose(other.room(x, y)[0], expected, atol=0.005)


def test_maps_over_the_plate_are_single_places(any_car: ss.Axle) -> None:
    plate = plate_of(any_car)
    travels = [-60.0, 0.0, 45.0]
    maps = top_plates.plate_map(any_car.right, plate, position=1, counts=(5, 4), travel=travels, ride_height=12.0)
    assert dict(maps.sizes) == {"plate": 5, "insert": 4}
    at = top_plates.readings_at(
        any_car.right, plate, plate=maps.plate, insert=maps["insert"], position=1, ride_height=12.0
    )
    for name in ("camber", "caster", "tie_rod"):
        np.testing.assert_allclose(maps[name].values, at[name].values, atol=1e-8)
    for i, j in [(0, 0), (4, 3), (2, 1)]:
        setting = plate.mount(plate=float(maps.plate[i]), insert=float(maps["insert"][j]), position=1)
        poses = [any_car.right.solve(travel=travel, tie_rod=float(maps.tie_rod[i, j]), **setting) for travel in travels]
        assert float(maps.bearing_angle[i, j]) == pytest.approx(max(pose.bearing_angle for pose in poses), abs=1e-9)
        tops = np.stack([pose.point("strut_top") for pose in poses], axis=1)
        lows = np.stack([pose.point("strut_low") for pose in poses], axis=1)
        gaps = plate.gaps(any_car.right, tops, lows).min(axis=1)
        for part, gap in zip(top_plates.PARTS, gaps, strict=True):
            assert float(maps[f"{part}_gap"][i, j]) == pytest.approx(gap, abs=1e-9)


def test_a_large_map_is_made_in_blocks_with_a_bar(any_car: ss.Axle, capsys: pytest.CaptureFixture[str]) -> None:
    plate = plate_of(any_car)
    travels = np.linspace(-60.0, 60.0, 21)
    large = top_plates.plate_map(any_car.left, plate, counts=(120, 300), travel=travels, progress=True)
    assert "plate" in capsys.readouterr().err
    small = top_plates.plate_map(any_car.left, plate, counts=(2, 2), travel=travels, progress=False)
    for name in large.data_vars:
        corners = large[name].isel(plate=[0, -1], insert=[0, -1])
        np.testing.assert_allclose(corners.values, small[name].values, atol=1e-8)
    assert capsys.readouterr().err == ""


def test_maps_and_clearances_refuse_nonsense(plate: ss.TopPlate) -> None:
    corner = ss.demo().left
    with pytest.raises(ss.InputError, match="2 or more each"):
        top_plates.plate_map(corner, plate, counts=(1, 5))
    with pytest.raises(ss.InputError, match="none of the insert's 2"):
        top_plates.plate_map(corner, plate, position=5)
    with pytest.raises(ss.InputError, match="travel is empty"):
        top_plates.plate_map(corner, plate, travel=[])
    with pytest.raises(ss.InputError, match="less than 2"):
        top_plates.clearances(corner, plate, count=1)
    with pytest.raises(ss.InputError, match="nut, insert, rod"):
        top_plates.clearances(corner, plate, count=2).swept("spring")


# Chances.


def test_chance_of_one_tolerance_is_that_of_the_normal_distribution(plate: ss.TopPlate) -> None:
    # IDENTITY: with camber alone off by s, the box's two camber ends pass with slack m mm on each side: the share that
    # fits is erf(m / (sqrt 2 s d)), d being mm of slide a degree.
    corner = ss.demo().left
    static = corner.solve().caster
    box: dict[str, Any] = {"camber": (-2.0, -0.5), "caster": (static, static)}
    plan = ss.slots(corner, plate.replace(insert={"offset": 0.0}), **box, tolerance=1.0, seating=0.0)
    spreads = {name: 0.0 for name in top_plates.SPREADS} | {"camber": 0.1}
    found = top_plates.chance(corner, plan.top_plate, **box, spreads=spreads, samples=4000)
    slides = top_plates.settle(corner, plan.top_plate, camber=[-2.0, -0.5], caster=static).insert.values
    per_degree = abs(slides[1] - slides[0]) / 1.5
    expected = scipy.special.erf(1.0 / (np.sqrt(2.0) * 0.1 * per_degree))
    assert found.probability == pytest.approx(expected, abs=4.0 * found.standard_error)
    assert found.shares == {"camber": 1.0}
    assert found.probability == found.alone["camber"]


def test_a_tower_out_of_place_is_a_slide_less(plate: ss.TopPlate) -> None:
    # IDENTITY: on a flat face a tower out of place is made up for by the opposite slide, exactly.
    corner = ss.demo().left
    static = corner.solve().caster
    flat = plate.replace(tilt_in=0.0, tilt_back=0.0, insert={"offset": 0.0})
    box: dict[str, Any] = {"camber": (-1.0, -1.0), "caster": (static, static)}
    plan = ss.slots(corner, flat, **box, tolerance=2.0, seating=0.0)
    spreads = {name: 0.0 for name in top_plates.SPREADS} | {"tower": 1.0}
    found = top_plates.chance(corner, plan.top_plate, **box, spreads=spreads, samples=3000)
    # Up and down hardly matters to a single point: the chance is that of two independent normal errors within 2 sigma,
    # a little less by what height adds.
    expected = scipy.special.erf(2.0 / np.sqrt(2.0)) ** 2
    assert found.probability == pytest.approx(expected, abs=0.03)


def test_chances_grow_with_slots_and_name_what_matters(any_car: ss.Axle, static_caster: float) -> None:
    box: dict[str, Any] = {"camber": (-2.5, -0.5), "caster": (static_caster - 0.5, static_caster + 0.5)}
    probabilities = []
    for tolerance in (0.0, 1.5, 6.0):
        plan = ss.slots(any_car.left, plate_of(any_car), **box, tolerance=tolerance, seating=0.0)
        found = top_plates.chance(any_car.left, plan.top_plate, **box, samples=400)
        probabilities.append(found.probability)
        assert sum(found.shares.values()) == pytest.approx(1.0)
        assert list(found.shares.values()) == sorted(found.shares.values(), reverse=True)
    assert probabilities == sorted(probabilities)
    assert probabilities[0] < 0.3
    assert probabilities[2] > 0.98
    loose = top_plates.chance(any_car.left, plan.top_plate, **box, samples=200, spreads={"bolt_play": 5.0})
    assert loose.matters_most == "bolt_play"
    assert "bolts in their slots" in str(loose)
    again = top_plates.chance(any_car.left, plan.top_plate, **box, samples=200, spreads={"bolt_play": 5.0})
    np.testing.assert_array_equal(again.samples.slack.values, loose.samples.slack.values)


def test_chances_refuse_nonsense(plate: ss.TopPlate) -> None:
    corner = ss.demo().left
    box: dict[str, Any] = {"camber": (-1.0, -0.5), "caster": (2.8, 3.0)}
    wrong: list[tuple[dict[str, Any], str]] = [
        ({"spreads": {"luck": 1.0}}, "'luck' is not one of tower"),
        ({"spreads": {"tower": -1.0}}, "tower = -1"),
        ({"samples": 3}, "fewer than 10"),
        ({"positions": [4]}, "some of 0 to 1"),
    ]
    for arguments, words in wrong:
        with pytest.raises(ss.InputError, match=words):
            top_plates.chance(corner, plate, **box, **arguments)


# The picture.


@pytest.mark.parametrize("side", SIDES)
def test_reach_map_shows_plate_and_angles(any_car: ss.Axle, side: str) -> None:
    corner = getattr(any_car, side)
    found = ss.reach(corner, plate_of(any_car), ride_height=[-20.0, 20.0])
    figure = plots.reach_map(found, camber=(-1.5, -0.5), caster=(3.0, 3.5))
    on_plate, angles = figure.axes
    # Rearward is down; inboard is to the right on the left, to the left on the right.
    assert bool(on_plate.yaxis_inverted())
    assert bool(on_plate.xaxis_inverted()) is (side == "right")
    assert angles.get_xlabel().startswith("camber (deg)")
    # The heavy line is what every ride height allows.
    heavy = next(line for line in angles.lines if line.get_linewidth() == 2.2)
    drawn = shapely.Polygon(np.stack(heavy.get_data(), axis=1))
    assert drawn.symmetric_difference(found.throughout()).area < 1e-9
    words = " ".join(text.get_text() for text in figure.texts)
    assert "toe put back to design by the tie rod" in words.replace("\n", " ")
    assert "positions B and A" in words.replace("\n", " ")
    with pytest.raises(ss.InputError, match="both or neither"):
        plots.reach_map(found, camber=(-1.0, 0.0))


def test_names_of_ride_heights_stand_apart(any_car: ss.Axle) -> None:
    plate = plate_of(any_car)
    for heights in ([-1.0, 0.0, 1.0], [-10.0, 10.0], [-20.0, -10.0, 0.0, 10.0, 20.0]):
        figure = plots.reach_map(ss.reach(any_car.left, plate, ride_height=heights))
        figure.canvas.draw()
        names = [text for text in figure.axes[1].texts if text.get_text().endswith(" mm")]
        assert len(names) == len(heights)
        boxes = [shapely.box(*Words.get_window_extent(text).extents) for text in names]
        for one, other in itertools.combinations(boxes, 2):
            assert not one.intersects(other)
