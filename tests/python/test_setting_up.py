"""From a sheet to a work order and on to a second sheet.

Sheets are made by the engine from planted settings, so that what was planted has to come back; settings are held
against forward poses, and turns and signs against pencil-and-paper figures said beside them.
"""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import strutsweep as ss
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from strutsweep.command_line import app
from strutsweep.command_line.setting_up import EXAMPLES_SET
from strutsweep.setting_up import anchoring
from strutsweep.setting_up._kinds import SIDES
from strutsweep.setting_up.anchoring import rewritten
from strutsweep.setting_up.quantities import toe_angle
from strutsweep.setting_up.sequence import best_order
from typer.testing import CliRunner

# An anchored model reads its sheet to 1e-10 deg; a mm of strut top is worth some 0.08 deg.
PLANTED = 1e-7
# A plan is closed by a forward solve to this, deg.
CLOSED_DEG = 1e-6
# Gauges are read to a hundredth of a degree: what a rewritten corner and the true one may differ by is far below.
REWRITTEN = 1e-9

# A net of 61 by 61 misses the least sine between its knots by no more than this.
NET_SINE = 1e-4

READ = ("camber", "caster", "kingpin_inclination", "toe")


@pytest.fixture(scope="module", params=ss.demos())
def each_car(request: pytest.FixtureRequest) -> ss.Axle:
    return ss.demo(request.param)


def slid(car: ss.Axle, **setting: float) -> dict[str, float]:
    """A setting whose strut top keeps to its tower's face: IDENTITY, a plane falls by the tangents of its tilts."""
    tilts = {"Gravel hatch": (5.0, 3.0), "Hill-climb saloon": (8.0, 5.0)}[car.name]
    falls = (math.tan(math.radians(tilt)) for tilt in tilts)
    moves = (setting.get(name, 0.0) for name in ("mount_in", "mount_back"))
    down = sum(fall * move for fall, move in zip(falls, moves, strict=True))
    return {**setting, "mount_up": -down}


def measured(car: ss.Axle, **changes: Any) -> ss.Sheet:
    return replace(ss.Sheet.of(car), **changes)


# Anchoring.


@settings(deadline=None, max_examples=100)
@given(
    name=st.sampled_from(ss.demos()),
    mounts=st.lists(st.floats(-6.0, 6.0), min_size=4, max_size=4),
    wheels=st.lists(st.floats(-0.6, 0.6), min_size=4, max_size=4),
)
def test_planted_offsets_come_back(name: str, mounts: list[float], wheels: list[float]) -> None:
    car = ss.demo(name)
    bent = car.with_corners(
        car.left.replace(camber=car.left.camber + wheels[0], toe=car.left.toe + wheels[1]),
        car.right.replace(camber=car.right.camber + wheels[2], toe=car.right.toe + wheels[3]),
    )
    settings_of = [{"mount_in": mounts[0], "mount_back": mounts[1]}, {"mount_in": mounts[2], "mount_back": mounts[3]}]
    sheet = ss.Sheet.of(bent, *settings_of)
    anchored = ss.anchor(car, sheet)
    for side, setting, camber, toe in (
        ("left", settings_of[0], wheels[0], wheels[1]),
        ("right", settings_of[1], wheels[2], wheels[3]),
    ):
        offsets = anchored.offsets[side]  # type: ignore[index]
        assert offsets.mount_in == pytest.approx(setting["mount_in"], abs=PLANTED)
        assert offsets.mount_back == pytest.approx(setting["mount_back"], abs=PLANTED)
        assert (offsets.camber, offsets.toe) == (pytest.approx(camber, abs=PLANTED), pytest.approx(toe, abs=PLANTED))
    again = ss.Sheet.of(anchored.car)
    for side in SIDES:
        for reading in READ:
            assert getattr(again.wheel(side), reading) == pytest.approx(
                getattr(sheet.wheel(side), reading), abs=CLOSED_DEG
            )


def test_an_anchored_car_moves_as_the_planted_one(each_car: ss.Axle) -> None:
    bent = each_car.with_corners(each_car.left.replace(camber=-0.9), each_car.right.replace(toe=0.2))
    plant = {"mount_in": 3.0, "mount_back": -2.0}
    anchored = ss.anchor(each_car, ss.Sheet.of(bent, plant, plant))
    for corner, true in ((anchored.car.left, bent.left), (anchored.car.right, bent.right)):
        for motion in ({"travel": 50.0}, {"travel": -40.0, "rack": 25.0}):
            here = corner.solve(**motion).readings
            there = true.solve(**plant, **motion).readings
            for reading in (*READ, "scrub_radius", "bump_steer", "bearing_angle", "tie_rod_margin"):
                # The sheet's own round-off grows a little on the way.
                assert here[reading] == pytest.approx(there[reading], abs=1e-6), reading


def test_offsets_are_found_in_a_few_exact_steps(each_car: ss.Axle, monkeypatch: pytest.MonkeyPatch) -> None:
    # Newton's method with exact slopes doubles the digits: from some degrees to 1e-10 in five steps.
    steps = []
    slopes = anchoring._slopes

    def counted(*given: Any) -> Any:
        steps.append(1)
        return slopes(*given)

    monkeypatch.setattr(anchoring, "_slopes", counted)
    plant = {"mount_in": 9.0, "mount_back": -7.0}
    ss.anchor(each_car, ss.Sheet.of(each_car, plant, plant))
    assert len(steps) <= 10


def test_a_rewritten_corner_is_the_same_linkage(each_corner: ss.Corner) -> None:
    corner = each_corner.replace(strut_clamp=each_corner.point("strut_low") + [2.0, 1.0, -30.0])
    setting = {"mount_in": 6.0, "mount_back": -4.0, "tie_rod": 2.0, "arm": 3.0, "hub_spacer": 5.0}
    there = rewritten(corner, setting)
    for motion in ({"travel": 40.0}, {"rack": 30.0, "travel": -30.0}, {"tie_rod": 1.0}):
        inputs = {name: setting.get(name, 0.0) + motion.get(name, 0.0) for name in {**setting, **motion}}
        true, here = corner.solve(**inputs).readings, there.solve(**motion).readings
        for reading in true:
            if reading not in ("wheelbase_shift", "strut_compression"):  # these count from design
                assert here[reading] == pytest.approx(true[reading], rel=REWRITTEN, abs=REWRITTEN), reading


def test_a_sheet_without_kingpin_or_caster_lays_the_difference_on_the_wheel(car: ss.Axle) -> None:
    sheet = ss.Sheet(ss.WheelReadings(camber=-1.0), ss.WheelReadings(camber=-0.2, toe=0.1))
    anchored = ss.anchor(car, sheet)
    assert anchored.offsets["left"] == ss.Offsets(camber=pytest.approx(-0.5))
    assert anchored.offsets["right"] == ss.Offsets(camber=pytest.approx(0.3), toe=pytest.approx(0.1))
    assert any("No caster, kingpin inclination, toe on the left" in words for words in anchored.assumptions)


def test_what_does_not_fit_together_is_said(car: ss.Axle) -> None:
    sheet = ss.Sheet.of(car)
    assert ss.anchor(car, sheet).remarks == ()
    bent = replace(sheet, left=replace(sheet.left, camber=sheet.left.camber + 0.5))
    remark = " ".join(ss.anchor(car, bent).remarks)
    assert "Included angle differs by 0.50°" in remark
    assert "left larger" in remark
    assert "a bent part on one side is possible" in remark
    # Within the gauges' accuracy nothing is said: sqrt(2) hypot(0.05, 0.2) = 0.29 deg.
    near = replace(sheet, left=replace(sheet.left, camber=sheet.left.camber + 0.28))
    assert ss.anchor(car, near).remarks == ()
    uneven = replace(sheet, right=replace(sheet.right, caster=sheet.right.caster - 0.9))
    remarks = ss.anchor(car, uneven).remarks
    assert any(words.startswith("Caster differs by 0.90°") for words in remarks)
    assert any(words.startswith("The right strut top stands") for words in remarks)


def test_a_sheet_of_another_car_is_refused(car: ss.Axle) -> None:
    sheet = ss.Sheet.of(car)
    foreign = replace(sheet, right=replace(sheet.right, kingpin_inclination=3.0))
    with pytest.raises(ss.InputError, match=r"right wheel does not fit this car: its kingpin inclination"):
        ss.anchor(car, foreign)


# Tie rods and the steering wheel.


def test_turns_by_hand(car: ss.Axle) -> None:
    # IDENTITY: a right-hand thread of 1.5 mm at the outer joint: clockwise seen from there unscrews the rod.
    assert (ss.turn_tie_rod(car, "left", 3.0).turns, ss.turn_tie_rod(car, "right", 3.0).turns) == (2.0, 2.0)
    assert ss.turn_tie_rod(car, "left", 3.0).engaged == (None, 21.0)
    assert ss.turn_tie_rod(car, "left", 3.0).margin == 7.0
    assert "2.00 turns (720°) clockwise, seen from the rod's outer end" in str(ss.turn_tie_rod(car, "left", 3.0))
    assert "anticlockwise" in str(ss.turn_tie_rod(car, "left", -3.0))
    assert str(ss.turn_tie_rod(car, "left", 0.0)) == "left tie rod: leave it as it is"
    # A sleeve with a left-hand and a right-hand end moves both.
    sleeve = ss.demo("hillclimb_saloon")
    assert ss.turn_tie_rod(sleeve, "left", 3.0).turns == 1.0
    assert ss.turn_tie_rod(sleeve, "left", 3.0).engaged == (20.5, 20.5)
    bare = ss.Axle.from_corners(car.left)
    assert ss.turn_tie_rod(bare, "left", 3.0).turns is None
    assert "does not tell its threads" in str(ss.turn_tie_rod(bare, "left", 3.0))
    with pytest.raises(ss.InputError, match="longer"):
        ss.turn_tie_rod(car, "left", math.nan)


def test_one_rod_alone_turns_the_steering_wheel(each_car: ss.Axle) -> None:
    assert ss.steering_wheel(each_car).straight
    for side, sign in (("left", 1.0), ("right", -1.0)):
        found = ss.steering_wheel(each_car, **{side: {"tie_rod": 1.5}})
        left = each_car.left.solve(rack=found.rack, tie_rod=1.5 if side == "left" else 0.0)
        right = each_car.right.solve(rack=found.rack, tie_rod=1.5 if side == "right" else 0.0)
        assert left.toe == pytest.approx(right.toe, abs=CLOSED_DEG)
        assert found.toe == pytest.approx(left.toe, abs=CLOSED_DEG)
        # Half of what the rod grew is the rack's, whichever way its arm points.
        assert found.rack == pytest.approx(-sign * 0.75, abs=0.01)
        # Behind the axle a longer left rod points the left wheel right: the driver holds against it, to the left.
        behind = each_car.left.point("tie_rod_outer")[0] < each_car.left.point("ball_joint")[0]
        assert (("to the left" in str(found)) == (sign > 0.0)) == behind
    # Both alike: total toe changes, and the steering wheel stays.
    both = ss.steering_wheel(each_car, {"tie_rod": 1.0}, {"tie_rod": 1.0})
    assert both.straight
    geared = ss.Axle.from_dict({**each_car.to_dict(), "rack": {"stroke": 65.0, "mm_per_turn": 45.0}})
    angle = ss.steering_wheel(geared, left={"tie_rod": 1.5}).angle
    assert angle is not None
    # 0.75 mm of 45 mm a turn.
    assert abs(angle) == pytest.approx(6.0, abs=0.1)


# Margins.


def test_margins_are_the_least_over_travel_and_lock(each_car: ss.Axle) -> None:
    setting = {"mount_in": 8.0, "mount_back": 4.0, "tie_rod": -2.0}
    found = {(margin.name, margin.side): margin for margin in ss.margins(each_car, setting)}
    limits, stroke = each_car.limits, each_car.rack["stroke"]
    # From stop to stop as they are with the setting: it moves them, by millimetres.
    droop, bump = (found[f"{way} travel to its stop", "left"].room for way in ("droop", "bump"))
    assert 0.5 < abs(bump - limits["bump"]) < 5.0
    # SECOND METHOD: single poses at every corner and a net of inner ones, none below the margin told.
    poses = [
        each_car.left.solve(travel=travel, rack=rack, **setting)
        for travel, rack in itertools.product(
            np.linspace(-droop, bump, 9), np.linspace(-stroke, stroke, 9)
        )
    ]
    bearing = found["bearing angle", "left"]
    assert bearing.room <= limits["bearing_angle"] - max(pose.bearing_angle for pose in poses) + 1e-9
    at = each_car.left.solve(travel=bearing.travel, rack=bearing.rack, **setting)
    assert limits["bearing_angle"] - at.bearing_angle == pytest.approx(bearing.room, abs=1e-9)
    rod = found["tie rod to over-centre", "left"]
    assert rod.room <= min(pose.tie_rod_margin for pose in poses) - limits["tie_rod_margin"] + NET_SINE
    assert found["slot of the top mount, in and out", "left"].room == limits["mount_in"] - 8.0
    assert found["slot of the top mount, fore and aft", "left"].room == limits["mount_back"] - 4.0
    assert found["reach of the tie rod", "left"].room == limits["tie_rod"] - 2.0
    assert found["bump travel to its stop", "right"].room == pytest.approx(limits["bump"], abs=1e-6)
    assert all(margin.kept for margin in found.values())


def test_what_is_beyond_a_limit_is_told_with_its_place(car: ss.Axle) -> None:
    tight = ss.Axle.from_dict({**car.to_dict(), "limits": {**car.to_dict()["limits"], "bearing_angle": 3.0}})
    found = next(margin for margin in ss.margins(tight) if margin.name == "bearing angle")
    assert not found.kept
    assert "BEYOND the limit" in str(found)
    assert "of bump" in found.where or "of droop" in found.where
    standing = {"left": {"mount_in": 15.0}, "right": {}}
    slot = next(
        margin for margin in ss.margins(car, {"mount_in": 8.0}, standing=standing) if "in and out" in margin.name
    )
    assert slot.room == -3.0
    long_way = ss.Axle.from_dict({**car.to_dict(), "rack": {"stroke": 130.0}})
    linkage = [margin for margin in ss.margins(long_way) if "linkage itself" in margin.name]
    assert linkage
    assert not any(margin.kept for margin in linkage)


def test_margins_know_the_top_plate(each_car: ss.Axle) -> None:
    plate = each_car.top_plate
    assert plate is not None
    rng = np.random.default_rng(11)
    for _ in range(20):
        # A planted place of the hardware: the setting that it makes stands there again.
        planted = (rng.uniform(*plate.plate_slot["reach"]), rng.uniform(*plate.insert_slot["reach"]))
        position = int(rng.integers(plate.positions))
        setting = plate.mount(plate=planted[0], insert=planted[1], position=position)
        rooms = [
            min(at - slot["reach"][0], slot["reach"][1] - at)
            for at, slot in zip(planted, (plate.plate_slot, plate.insert_slot), strict=True)
        ]
        for side in ("left", "right"):
            found = {margin.name: margin for margin in ss.margins(each_car, **{side: setting}) if margin.side == side}
            told = [found[f"{name} slot of the top plate"] for name in ("plate", "insert")]
            assert min(margin.room for margin in told) >= min(rooms) - 1e-9
            if f"position {'AB'[position]}" in told[0].note:
                assert [margin.room for margin in told] == pytest.approx(rooms, abs=1e-9)
            assert "the face takes" not in told[0].note
    level = {"mount_in": 9.0, "mount_back": -4.0}
    note = next(margin.note for margin in ss.margins(each_car, level) if margin.name.startswith("plate slot"))
    slides = re.search(
        r"([\d.]+) mm (inboard|outboard) of its middle; plate ([\d.]+) mm (rearward|forward) of its middle"
        r"; the face takes the pivot ([\d.]+) mm lower",
        note,
    )
    assert slides is not None
    insert = float(slides[1]) * (1.0 if slides[2] == "inboard" else -1.0)
    along = float(slides[3]) * (1.0 if slides[4] == "rearward" else -1.0)
    lower = float(slides[5])
    there = plate.mount(plate=along, insert=insert, position="AB".index(note.split("position ")[1][0]))
    # Told to a tenth of a millimetre.
    assert there["mount_in"] == pytest.approx(9.0, abs=0.1)
    assert there["mount_back"] == pytest.approx(-4.0, abs=0.1)
    assert there["mount_up"] == pytest.approx(-lower, abs=0.1)


def test_margins_know_the_towers_opening(each_car: ss.Axle) -> None:
    plate = each_car.top_plate
    assert plate is not None
    setting = {"mount_in": 7.0, "mount_back": 3.0}
    found = {(margin.name, margin.side): margin for margin in ss.margins(each_car, setting, setting)}
    for side, part in itertools.product(("left", "right"), ("nut", "insert", "rod")):
        margin = found[f"{part} to the tower's opening", side]
        # The pose where it is least, by itself.
        corner = getattr(each_car, side)
        pose = corner.solve(travel=margin.travel, rack=margin.rack, **setting)
        points = [pose.point(name)[:, None] for name in ("strut_top", "strut_low")]
        gaps = dict(zip(("nut", "insert", "rod"), plate.gaps(corner, *points)[:, 0], strict=True))
        assert margin.room == pytest.approx(gaps[part], abs=1e-9)
        assert margin.kept
    far = [margin for margin in ss.margins(each_car, {"mount_in": 65.0}) if not margin.kept and margin.side == "left"]
    assert {"insert slot of the top plate", "nut to the tower's opening"} <= {margin.name for margin in far}
    # The same shift, told as where the plate stood when the car was measured there: the same rooms.
    moved = each_car.with_corners(
        each_car.left.replace(strut_top=each_car.left.point("strut_top") + [-3.0, -7.0, 0.0]), each_car.right
    )
    stood = {margin.name: margin for margin in ss.margins(moved, standing={"left": setting}) if margin.side == "left"}
    for name in ("plate slot of the top plate", "insert slot of the top plate"):
        assert stood[name].room == pytest.approx(found[name, "left"].room, abs=1e-9)
    # Another car by its strut's axis, so that rod and nut lean otherwise: the bearing's housing is where it was.
    name = "insert to the tower's opening"
    assert stood[name].room == pytest.approx(found[name, "left"].room, abs=1e-9)


def test_work_orders_tell_what_the_top_plate_leaves(car: ss.Axle) -> None:
    order = ss.set_car(car, ss.Sheet.of(car), {"camber": -2.0, "caster": 3.4})
    told = {margin.name for margin in order.margins}
    assert {"plate slot of the top plate", "insert slot of the top plate", "nut to the tower's opening"} <= told
    assert "Insert slot of the top plate" in str(order)
    fouled = [margin for margin in order.margins if not margin.kept]
    assert {margin.field for margin in fouled} == {"top_plate.opening"}


def test_what_the_car_file_does_not_tell_is_not_checked(car: ss.Axle) -> None:
    assert ss.margins(ss.Axle.from_corners(car.left)) == ()


# Work orders.


def test_a_work_order_is_met_by_forward_poses(each_car: ss.Axle) -> None:
    sheet = ss.Sheet.of(each_car, {"mount_in": 2.0, "tie_rod": 0.4}, {"mount_in": -1.0, "mount_back": 2.0})
    wanted = {"camber": -1.4, "caster": 5.1 if each_car.name == "Hill-climb saloon" else 3.1, "toe": 0.08}
    order = ss.set_car(each_car, sheet, wanted, right={"camber": -1.2})
    assert order.met
    for side in SIDES:
        pose = (order.anchored.corner(side)).solve(**order.changes[side])
        aims = {**wanted, "camber": -1.4 if side == "left" else -1.2}
        for reading, value in aims.items():
            assert getattr(pose, reading) == pytest.approx(value, abs=CLOSED_DEG)
            assert getattr(order.after.wheel(side), reading) == pytest.approx(value, abs=CLOSED_DEG)
    # Left and right are not mixed up: the planted sides differ, and so do the answers.
    left, right = order.changes["left"], order.changes["right"]
    assert left["mount_in"] == pytest.approx(right["mount_in"] + 0.2 / 0.08 - 3.0, abs=1.0)
    assert order.steering_after.straight


def test_what_nobody_wants_otherwise_stays(car: ss.Axle) -> None:
    order = ss.set_car(car, ss.Sheet.of(car), {"camber": -1.5})
    for side in SIDES:
        assert order.after.wheel(side).toe == pytest.approx(0.0, abs=CLOSED_DEG)
        # Nobody opens a slot for what no gauge tells.
        assert order.changes[side]["mount_back"] == 0.0
        assert order.after.wheel(side).caster == pytest.approx(car.left.solve().caster, abs=0.01)
    assert "Toe is put back to what the sheet reads" in order.held
    assert "caster stays within what its gauge can tell" in order.held
    # What a gauge would tell is put back: here a gauge that is good for a thousandth of a degree.
    fine = {"camber": 0.05, "caster": 0.001, "kingpin_inclination": 0.2, "toe": 0.03}
    sharp = replace(ss.Sheet.of(car), accuracy=fine)
    order = ss.set_car(car, sharp, {"camber": -1.5})
    for side in SIDES:
        assert order.changes[side]["mount_back"] != 0.0
        assert order.after.wheel(side).caster == pytest.approx(car.left.solve().caster, abs=CLOSED_DEG)
    assert "caster stays as read" in order.held
    alone = ss.set_car(car, ss.Sheet.of(car), {"camber": -1.5}, free=["mount_in"])
    assert "tie rods are not touched" in alone.held
    assert abs(alone.after.left.toe or 0.0) > 0.2


def test_ride_height_that_plates_change_is_put_back_by_the_collar() -> None:
    # SECOND METHOD figure of the trade page: 10 mm inboard, spring length held, sits 3.3 mm lower.
    car = ss.demo("hillclimb_saloon")
    # On a level tower; the car file's own face falls inboard, and the body would sit 10 tan(8 deg) higher than that.
    order = ss.set_car(car, ss.Sheet.of(car), {"camber": -0.5 - 0.791}, free=["mount_in"], along={})
    assert order.changes["left"]["mount_in"] == pytest.approx(10.0, abs=0.01)
    assert order.collars["left"].ride_height == pytest.approx(-3.3, abs=0.05)
    assert any(step.title == "Put ride height back" for step in order.steps)
    tilted = ss.set_car(car, ss.Sheet.of(car), {"camber": -0.5 - 0.791}, free={"mount_in": (-25.0, 25.0)})
    fallen = -tilted.changes["left"]["mount_up"]
    assert fallen == pytest.approx(tilted.changes["left"]["mount_in"] * math.tan(math.radians(8.0)), abs=1e-9)
    assert tilted.collars["left"].ride_height == pytest.approx(-3.3 * 9.78 / 10.0 + fallen, abs=0.1)
    held = ss.set_car(car, ss.Sheet.of(car), {"camber": -0.5 - 0.840}, free=["mount_in"], travel_at="strut", along={})
    assert held.changes["left"]["mount_in"] == pytest.approx(10.0, abs=0.01)
    assert not any(step.title == "Put ride height back" for step in held.steps)


def test_what_plate_and_insert_slide_is_told_along_their_slots(each_car: ss.Axle) -> None:
    order = ss.set_car(each_car, ss.Sheet.of(each_car), {"camber": -1.4, "caster": each_car.left.solve().caster + 0.3})
    plate = each_car.top_plate
    assert plate is not None
    rest = plate.mount()
    for side in SIDES:
        # The hardware's own way from slides to the pivot, back again.
        slides, change = order.slides[side], order.changes[side]
        there = plate.mount(plate=slides["plate"], insert=slides["insert"])
        for name in ("mount_in", "mount_back", "mount_up"):
            assert there[name] - rest[name] == pytest.approx(change[name], abs=1e-9)
    text = str(order)
    assert "Insert along its slot, not turned" in text
    assert f"{order.slides['left']['insert']:.1f} mm inboard" in text
    assert "fore and aft" in text and "along its slot)" in order.steps[1].text
    bare = ss.Axle.from_dict({key: value for key, value in each_car.to_dict().items() if key != "top_plate"})
    level = ss.set_car(bare, ss.Sheet.of(bare), {"camber": -1.4})
    assert level.slides == {"left": {}, "right": {}}
    assert "mount_up" not in level.changes["left"] and "slot)" not in str(level)


def test_a_spring_is_judged_with_the_collar_where_it_is_set() -> None:
    # The saloon's spring lies loose by some 6 mm at full droop; this camber asks for 8 mm of collar.
    car = ss.demo("hillclimb_saloon")
    before = ss.heights(car)
    assert before.preload_length is not None and -8.0 < before.preload_length < -4.0
    order = ss.set_car(car, ss.Sheet.of(car), {"camber": -0.5 - 0.079 * 24.0}, free=["mount_in", "tie_rod"], along={})
    collar = order.collars["left"].collar_for_ride_height
    then = ss.heights(car, collar=collar, **order.changes["left"])
    assert then.captive
    told = [spring.preload_length for spring in order.springs["left"]]
    assert told == pytest.approx([before.preload_length, then.preload_length], abs=1e-9)
    assert not any("loose" in words for words in order.words())
    # With the spring's length held no collar is turned, and it stays loose as it was.
    free = ["mount_in", "tie_rod"]
    held = ss.set_car(car, ss.Sheet.of(car), {"camber": -2.4}, free=free, travel_at="strut", along={})
    assert any("lies loose" in words and "as it did before the work" in words for words in held.words())
    # A shorter spring that only the work sets loose.
    shorter = ss.Axle.from_dict({**car.to_dict(), "spring": {**car.to_dict()["spring"], "free_length": 276.5}})
    assert ss.heights(shorter).captive
    outboard = ss.set_car(shorter, ss.Sheet.of(shorter), {"camber": 1.2}, free=["mount_in", "tie_rod"], along={})
    assert any("which it did not before the work" in words for words in outboard.words())


def test_one_side_alone_leaves_the_other_as_it_is(each_car: ss.Axle) -> None:
    order = ss.set_car(each_car, ss.Sheet.of(each_car), {}, left={"camber": -1.3})
    assert order.met
    assert all(value == 0.0 for value in order.changes["right"].values())
    steps = " ".join(step.text for step in order.steps)
    assert "the right strut top" not in steps and "right tie rod: leave it as it is" in steps.lower()
    assert order.steering_after.straight
    collar = next(line for line in str(order).splitlines() if line.startswith("Spring collar"))
    assert collar.rstrip().endswith("as it is")


def test_what_the_verdict_says_is_what_stops_it(car: ss.Axle) -> None:
    beyond = str(ss.set_car(car, ss.Sheet.of(car), {"camber": -4.0}))
    assert "A limit of an adjuster" in beyond
    torn = ss.set_car(car, ss.Sheet.of(car), {"camber": -1.5, "kingpin_inclination": 13.0}, free=["mount_in"])
    assert not torn.met and not torn.stopped_by["left"]
    assert "The free adjusters cannot give all that is wanted" in " ".join(str(torn).split())
    assert "limit" not in str(torn).split("reading ")[0]


def test_what_reads_as_wanted_already_need_not_be_moved_for(car: ss.Axle) -> None:
    now = car.left.solve()
    order = ss.set_car(car, ss.Sheet.of(car), {"camber": -1.5, "caster": now.caster + 0.1})
    said = [words for words in order.words() if "its step can be left out" in words]
    assert len(said) == 2 and said[0].startswith("Caster on the left")
    farther = ss.set_car(car, ss.Sheet.of(car), {"camber": -1.5, "caster": now.caster + 0.2})
    assert not any("left out there" in words for words in farther.words())


def test_a_reach_that_nobody_told_is_said(car: ss.Axle) -> None:
    order = ss.set_car(car, ss.Sheet.of(car), {"camber": -0.8}, free=["arm", "tie_rod"])
    assert any("limits.arm" in words and "15 mm either way is taken" in words for words in order.words())
    given = ss.set_car(car, ss.Sheet.of(car), {"camber": -0.8}, free={"arm": (-1.0, 2.0), "tie_rod": None})
    assert not any("is taken" in words for words in given.words())
    assert given.stopped_by["left"] == {"arm": 2.0}


def test_a_sheet_that_names_another_car_is_asked_about() -> None:
    saloon, hatch = ss.demo("hillclimb_saloon"), ss.demo("gravel_hatch")
    named = replace(ss.Sheet.of(saloon), car=hatch.name)
    assert any("is it this car's sheet?" in words for words in ss.anchor(saloon, named).remarks)
    assert not ss.anchor(saloon, replace(named, car=" hill-climb SALOON")).remarks


def test_an_impossible_target_gives_the_nearest_and_what_stops_it(car: ss.Axle) -> None:
    order = ss.set_car(car, ss.Sheet.of(car), {"camber": -4.0, "toe": 0.0}, free=["mount_in", "tie_rod"])
    assert not order.met
    assert order.stopped_by["left"] == {"mount_in": pytest.approx(20.0, abs=1e-6)}
    assert order.changes["left"]["mount_in"] == pytest.approx(20.0, abs=1e-6)
    best = car.left.solve(**order.changes["left"])
    assert order.misses["left"] == {"camber": pytest.approx(best.camber + 4.0, abs=CLOSED_DEG)}
    assert best.toe == pytest.approx(0.0, abs=CLOSED_DEG)
    assert any("strut top across the car is at its end" in words for words in order.words())


def test_standing_plates_leave_what_is_left_of_their_slot(car: ss.Axle) -> None:
    standing = {"left": {"mount_in": 15.0}, "right": {"mount_in": 15.0}}
    sheet = ss.Sheet.of(car, slid(car, mount_in=15.0), slid(car, mount_in=15.0))
    order = ss.set_car(car, sheet, {"camber": -3.0}, standing=standing)
    assert order.anchored.offsets["left"].mount_in == pytest.approx(0.0, abs=PLANTED)
    assert order.changes["left"]["mount_in"] == pytest.approx(5.0, abs=1e-6)
    with pytest.raises(ss.InputError, match="beyond limits"):
        ss.set_car(car, sheet, {"camber": -3.0}, standing={"left": {"mount_in": 30.0}, "right": {}})


@pytest.mark.parametrize(
    ("wanted", "given", "told"),
    [
        ({}, {}, "nothing is wanted"),
        ({"camber": 90.0}, {}, "told from the horizontal"),
        ({"scrub_radius": 5.0}, {}, "cannot be aimed at"),
        ({"camber": -1.0}, {"free": []}, "no adjuster is free"),
        ({"camber": -1.0}, {"free": ["plate"]}, "is no adjuster"),
        ({"camber": -1.0}, {"free": ["hub_spacer"]}, "moves nothing of what is wanted"),
        ({"camber": -1.0}, {"travel_at": "moon"}, "travel_at"),
    ],
)
def test_what_makes_no_sense_is_refused(
    car: ss.Axle, wanted: dict[str, float], given: dict[str, Any], told: str
) -> None:
    with pytest.raises(ss.StrutsweepError, match=told):
        ss.set_car(car, ss.Sheet.of(car), wanted, **given)


def test_steps_end_with_toe_and_say_what_gauges_show_on_the_way(each_car: ss.Axle) -> None:
    order = ss.set_car(each_car, ss.Sheet.of(each_car), {"camber": -1.4, "caster": 3.6, "toe": 0.1})
    titles = [step.title for step in order.steps]
    assert titles[-2:] == ["Set toe, last", "Tighten, settle, read again"]
    done: dict[str, float] = {}
    steps = iter(step for step in order.steps if step.reads)
    for adjuster in order.order.order:
        if adjuster == "tie_rod":
            # Before toe the collars put ride height back: the same setting, at the height of before.
            collar = next(steps)
            assert collar.title == "Put ride height back"
            check_reads(collar.reads, order, slid(each_car, **done), "ground")
        done[adjuster] = order.changes["right"][adjuster]
        # Until then the spring keeps its length, and the body sits lower.
        at = "ground" if adjuster == "tie_rod" else "strut"
        check_reads(next(steps).reads, order, slid(each_car, **done), at)
    assert next(steps, None) is None
    assert "settles on its springs" in order.steps[0].text
    low = order.anchored.car.right.solve(**slid(each_car, **{**done, "tie_rod": 0.0}), travel_at="strut")
    high = order.anchored.car.right.solve(**slid(each_car, **{**done, "tie_rod": 0.0}))
    assert abs(low.camber - high.camber) > 0.02


def check_reads(reads: Any, order: ss.WorkOrder, setting: dict[str, float], travel_at: Any) -> None:
    pose = order.anchored.car.right.solve(**setting, travel_at=travel_at)
    for reading, value in reads["right"].items():
        assert value == pytest.approx(getattr(pose, reading), abs=CLOSED_DEG)


def test_order_follows_the_cars_own_cross_effects(each_car: ss.Axle) -> None:
    # SECOND METHOD: every order, its disturbances added up one after the other from poses, not from a table of effects.
    corner, accuracy = each_car.left, {"camber": 0.05, "caster": 0.15, "toe": 0.03}
    change = {"mount_in": 9.0, "mount_back": 5.0, "tie_rod": -1.5}
    found = best_order([corner], [change], accuracy, ["camber", "caster", "toe"])
    assert found.sets == {"mount_in": "camber", "mount_back": "caster", "tie_rod": "toe"}
    rest = corner.solve()

    def disturbed(order: tuple[str, ...]) -> float:
        return sum(
            abs(getattr(corner.solve(**{later: change[later]}), found.sets[first]) - getattr(rest, found.sets[first]))
            / accuracy[found.sets[first]]
            for first, later in itertools.combinations(order, 2)
        )

    orders = [order for order in itertools.permutations(change) if order[-1] == "tie_rod"]
    assert found.order == min(orders, key=disturbed)
    assert found.left_over == pytest.approx(disturbed(found.order))
    assert found.worst == pytest.approx(max(map(disturbed, orders)))


# The second sheet.


def test_a_car_that_answers_with_nine_tenths_is_found_out_and_brought_home(car: ss.Axle) -> None:
    # A planted car: its strut top moves nine tenths of what the plate says.
    share = 0.9
    sheet = ss.Sheet.of(car)
    free = ["mount_in", "tie_rod"]
    order = ss.set_car(car, sheet, {"camber": -1.5, "toe": 0.1}, free=free)

    def truly(changes: dict[str, float]) -> dict[str, float]:
        return {**changes, "mount_in": share * changes["mount_in"]}

    second = ss.Sheet.of(car, truly(dict(order.changes["left"])), truly(dict(order.changes["right"])))
    correction = ss.correct(order, second, free=free)
    camber = next(
        response for response in correction.responses if (response.side, response.reading) == ("left", "camber")
    )
    assert camber.share == pytest.approx(share, abs=0.01)
    assert correction.next.response["left"]["camber"] == camber.share
    total = {side: dict(order.changes[side]) for side in SIDES}
    for side in SIDES:
        for name, value in correction.next.changes[side].items():
            total[side][name] += value
    third = ss.Sheet.of(car, truly(total["left"]), truly(total["right"]))
    plain = ss.correct(order, second, free=free)
    without = ss.set_car(car, second, {"camber": -1.5, "toe": 0.1}, free=free)
    naive = {name: order.changes["left"][name] + without.changes["left"][name] for name in free}
    missed_naive = abs((ss.Sheet.of(car, truly(naive)).left.camber or 0.0) + 1.5)
    # What is left after the correction is second order; without it a tenth of the rest stays.
    assert abs((third.left.camber or 0.0) + 1.5) < 0.1 * missed_naive
    assert missed_naive > 0.009
    assert plain == correction
    assert correction.next.after.left.camber == pytest.approx(-1.5, abs=CLOSED_DEG)


def test_what_gauges_cannot_tell_is_not_believed(car: ss.Axle) -> None:
    order = ss.set_car(car, ss.Sheet.of(car), {"camber": -0.6})
    second = ss.Sheet.of(car, order.changes["left"], order.changes["right"])
    correction = ss.correct(order, second)
    assert all(response.share is None for response in correction.responses)
    assert all("too little for the gauges" in str(response) for response in correction.responses)
    far = ss.set_car(car, ss.Sheet.of(car), {"camber": -2.0})
    unmoved = ss.correct(far, ss.Sheet.of(car))
    camber = next(response for response in unmoved.responses if response.reading == "camber")
    assert (camber.share, camber.believed) == (pytest.approx(0.0, abs=1e-6), 1.0)
    assert "see that everything was moved as planned" in str(camber)
    empty = ss.Sheet(ss.WheelReadings(camber=-1.0), ss.WheelReadings())
    other = ss.set_car(car, empty, {"camber": -1.5}, free=["mount_in"])
    with pytest.raises(ss.InputError, match="in common"):
        ss.correct(other, ss.Sheet(ss.WheelReadings(), ss.WheelReadings(toe=0.1)))


def test_what_was_really_moved_counts(car: ss.Axle) -> None:
    order = ss.set_car(car, ss.Sheet.of(car), {"camber": -2.0}, free=["mount_in"])
    done = {"left": {"mount_in": 10.0}, "right": {"mount_in": 12.0}}
    second = ss.Sheet.of(car, slid(car, **done["left"]), slid(car, **done["right"]))
    correction = ss.correct(order, second, done=done, free=["mount_in"])
    for response in correction.responses:
        assert response.found == pytest.approx(response.foreseen, abs=CLOSED_DEG)
    assert correction.next.standing["left"] == slid(car, mount_in=10.0)
    rest = correction.next.changes["left"]["mount_in"]
    needed = brentq(lambda more: car.left.solve(**slid(car, mount_in=10.0 + more)).camber + 2.0, 0.0, 20.0)
    assert rest == pytest.approx(needed, abs=1e-5)


# On terminal, page and paper.


@pytest.fixture(scope="module")
def order() -> ss.WorkOrder:
    car = ss.demo("gravel_hatch")
    sheet = replace(ss.Sheet.of(car, {"mount_in": 1.0}), note="<b>as it came</b> & so on")
    return ss.set_car(car, sheet, {"camber": -1.5, "caster": 3.2, "toe": 0.05})


def test_every_form_shows_sheet_moves_steps_and_cautions(order: ss.WorkOrder, tmp_path: Any) -> None:
    text, page = str(order), order.to_html(angles="minutes", toe_diameter=431.8)
    assert "−1.50°" in text
    assert "-1.50" not in text
    for shown in (text, page):
        for words in ("left − right", "total", "Included angle", "Set toe, last", "can kill", "outer end"):
            assert words in shown
    assert "−1°30&#39;" in page
    assert "Toe at 431.8 mm" in page
    assert "&lt;b&gt;as it came&lt;/b&gt; &amp; so on" in page  # a user's text is text
    for outside in ("http://", "https://", "src=", "<link", "@import", "url("):
        assert outside not in page
    path = tmp_path / "order.pdf"
    order.save_pdf(path, angles="minutes")
    first = path.read_bytes()
    assert first.startswith(b"%PDF-")
    order.save_pdf(path, angles="minutes")
    assert path.read_bytes() == first
    with pytest.raises(ss.FileError):
        order.save_pdf(tmp_path / "no folder" / "order.pdf")


def test_what_stays_asks_for_no_step_and_cautions_come_before_the_first(order: ss.WorkOrder) -> None:
    car = ss.demo("gravel_hatch")
    camber_alone = ss.set_car(car, ss.Sheet.of(car), {"camber": -1.5})
    assert any(step.title.startswith("Set caster") for step in order.steps)
    assert not any(step.title.startswith("Set caster") for step in camber_alone.steps)
    assert not any("as it is" in step.text for step in camber_alone.steps)
    for shown in (str(order), order.to_html()):
        assert shown.index("can kill") < shown.index("Before anything is moved")


def test_lines_hold_left_right_cross_and_total(order: ss.WorkOrder) -> None:
    lines = {(line.reading, line.which): line for line in order.lines()}
    assert set(which for reading, which in lines if reading == "toe") == {"left", "right", "cross", "total"}
    toe = lines["toe", "total"]
    assert (toe.wanted, toe.after) == (pytest.approx(0.1), pytest.approx(0.1, abs=CLOSED_DEG))
    cross = lines["camber", "cross"]
    assert cross.before == pytest.approx((order.before.left.camber or 0.0) - (order.before.right.camber or 0.0))
    assert cross.before < 0.0  # left stands 1 mm farther inboard
    included = lines["included_angle", "right"]
    assert included.after == pytest.approx(
        (order.after.right.camber or 0) + (order.after.right.kingpin_inclination or 0)
    )
    assert (included.wanted, lines["kingpin_inclination", "left"].wanted) == (None, None)


# The command.


def ran(*arguments: str) -> Any:
    return CliRunner().invoke(app, list(arguments), env={"COLUMNS": "100", "TERM": "dumb"})


@pytest.fixture
def in_a_folder_of_sheets(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.chdir(tmp_path)
    assert ran("new-sheet", "sheet.toml").exit_code == 0
    car = ss.demo("gravel_hatch")
    order = ss.set_car(car, ss.load_sheet("sheet.toml"), {"camber": -1.5})
    replace(order.after, note="").save("second.toml")
    return tmp_path


def test_examples_of_the_command_run(in_a_folder_of_sheets: Any) -> None:
    for example in EXAMPLES_SET:
        program, *arguments = example.split()
        assert program == "strutsweep"
        done = ran(*arguments)
        assert done.exit_code == 0, done.output
        assert "Work order: Gravel hatch" in done.stdout
        assert "can kill" in done.stdout
    assert (in_a_folder_of_sheets / "order.pdf").read_bytes().startswith(b"%PDF-")


def test_a_new_sheet_is_what_the_car_file_reads(in_a_folder_of_sheets: Any) -> None:
    sheet, car = ss.load_sheet("sheet.toml"), ss.demo("gravel_hatch")
    for side, corner in (("left", car.left), ("right", car.right)):
        for reading in READ:
            shown = getattr(getattr(sheet, side), reading)
            assert shown == pytest.approx(getattr(corner.solve(), reading), abs=0.005 + 1e-9)
    again = ran("new-sheet", "sheet.toml")
    assert again.exit_code == 1
    assert "--force" in again.output


def test_the_command_says_what_the_package_computes(in_a_folder_of_sheets: Any) -> None:
    car, sheet = ss.demo("gravel_hatch"), ss.load_sheet("sheet.toml")
    options = ["--camber", "-1\u00b030'", "--want", "right.camber=-1.3", "--toe", "0.5 mm"]
    options += ["--stands", "left.mount_in=4"]
    done = ran("set", "demo:gravel_hatch", "sheet.toml", *options, "--toe-at", "431.8", "--html", "order.html")
    assert done.exit_code == 0, done.output
    standing = {"left": {"mount_in": 4.0}, "right": {}}
    wanted = {"camber": -1.5, "toe": toe_angle(0.5, diameter=431.8)}
    order = ss.set_car(car, sheet, wanted, right={"camber": -1.3}, standing=standing)  # type: ignore[arg-type]
    line = next(line for line in done.stdout.splitlines() if line.startswith("Strut top across the car"))
    assert f"{order.changes['left']['mount_in']:.1f} mm inboard (to +" in line
    assert line.endswith(f"{order.changes['right']['mount_in']:.1f} mm inboard")
    assert "+0.5 mm" in (in_a_folder_of_sheets / "order.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("options", "status", "told"),
    [
        (["--camber", "-4"], 3, "Not everything wanted can be reached"),
        (["--camber", "90"], 1, "told from the horizontal"),
        (["--camber", "much"], 1, "is no angle"),
        (["--toe", "2 mm"], 1, "--toe-at"),
        ([], 1, "nothing is wanted"),
        (["--want", "left.camber"], 1, "such as camber=-1.5"),
        (["--want", "middle.camber=-1"], 1, "there is no side 'middle'"),
        (["--want", "toe=0.1@travel=9"], 1, "leave the motion out"),
        (["--camber", "-1", "--want", "camber=-2"], 1, "wanted twice"),
        (["--want", "scrub_radius=5"], 1, "cannot be aimed at"),
        (["--camber", "-1", "--free", "mount_in=much"], 1, "is not a number"),
        (["--camber", "-1", "--free", "mount_in=3:2"], 1, "leave nothing"),
        (["--camber", "-1", "--free", "mount_in=3:5"], 1, "beyond the limits given"),
        (["--camber", "-1", "--done", "left.mount_in=3"], 1, "give it with --after"),
        (["--camber", "-1", "--stands", "left.plate=3"], 1, "as left.mount_in=4"),
        (["--camber", "-1", "--stands", "mount_in=3"], 1, "as left.mount_in=4"),
        (["--camber", "-1", "--free", "hub-spacer"], 1, "moves nothing"),
        (["--camber", "-1", "--pdf", "no/folder.pdf"], 1, "no/folder.pdf"),
    ],
)
def test_the_command_ends_as_others_do(in_a_folder_of_sheets: Any, options: list[str], status: int, told: str) -> None:
    done = ran("set", "demo:gravel_hatch", "sheet.toml", *options)
    assert done.exit_code == status, done.output
    assert told in done.output


def test_the_second_sheet_on_the_command_line(in_a_folder_of_sheets: Any) -> None:
    done = ran("set", "demo:gravel_hatch", "sheet.toml", "--camber", "-1.5", "--after", "second.toml")
    assert done.exit_code == 0, done.output
    assert "left camber: moved" in done.stdout
    assert "of the model" in done.stdout
