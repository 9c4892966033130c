"""The engine against a general multibody library that shares no code and no mathematics with it.

SECOND METHOD: `multibody_model` joins three rigid bodies by ideal joints and leaves the assembly to the library's
Newton solver. First the model has to reproduce a table that neither it nor the engine computed, and its joints have
to hold; only then is the engine held against it.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from multibody_model import MultibodyCorner, MultibodyPose

import strutsweep as ss

# The table of the spatial strut prints nine digits: half a unit of the last is at most 5e-9 of the value, and its
# smallest angle (0.06 deg) is printed to 1e-11. The hub's position is printed to 1e-9 mm in X and 1e-7 mm in Y.
TABLE_RELATIVE = 6e-9
TABLE_HUB_MM = 6e-8

# What the library's joints may be open by, mm: round-off of points near 1000 mm (1e-13 mm), with room for the
# products of rotations that carry it.
JOINT_OPENING_MM = 1e-10

# What the two ways round differ by. The library's Newton iteration may stop with its joints open by 1e-10 mm or less,
# and over all settings and motions here that comes to 4e-11 mm and 8e-12 deg; the rest is room for other processors.
POINT_TOLERANCE_MM = 1e-9
ANGLE_TOLERANCE_DEG = 1e-9

READINGS_DEG = ("camber", "toe", "caster", "kingpin_inclination", "bearing_angle")
POINTS = (
    "wheel_centre",
    "contact_centre",
    "ball_joint",
    "strut_top",
    "strut_low",
    "tie_rod_inner",
    "tie_rod_outer",
)


def mirrored(tables: dict[str, Any]) -> dict[str, Any]:
    """The same corner on the other side of the car: every Y changes its sign."""
    return {
        table: {
            name: [value[0], -value[1], value[2]] if isinstance(value, list) else value
            for name, value in entries.items()
        }
        for table, entries in tables.items()
    }


# Two invented cars, left wheels: no real vehicle's points.
HILL_CLIMB_SALOON: dict[str, Any] = {
    "lower_arm": {"front": [180.0, 330.0, 190.0], "rear": [-10.0, 345.0, 185.0], "ball_joint": [5.0, 676.0, 178.0]},
    "strut": {"top": [-58.0, 527.0, 850.0], "low": [-12.0, 592.0, 420.0]},
    "tie_rod": {"inner": [118.0, 330.0, 210.5], "outer": [118.0, 690.0, 205.0]},
    "wheel": {"centre": [0.0, 737.6, 300.0], "radius": 300.0, "camber": -0.5, "toe": 0.0},
}
GRAVEL_HATCH: dict[str, Any] = {
    "lower_arm": {"front": [10.0, 360.0, 195.0], "rear": [-290.0, 372.0, 192.0], "ball_joint": [-2.0, 708.0, 182.0]},
    "strut": {"top": [-35.0, 548.0, 840.0], "low": [-14.0, 612.0, 430.0]},
    "tie_rod": {"inner": [-128.0, 330.0, 240.4], "outer": [-128.0, 690.0, 232.0]},
    "wheel": {"centre": [0.0, 752.0, 308.0], "radius": 308.0, "camber": -0.5, "toe": 0.0},
}
# The spatial strut of the table below; the table has no tyre, so the radius is any.
SPATIAL_STRUT: dict[str, Any] = {
    "lower_arm": {"front": [150.0, 120.0, 290.0], "rear": [-150.0, 120.0, 290.0], "ball_joint": [0.0, 570.0, 290.0]},
    "strut": {"top": [-60.0, 410.0, 830.0], "low": [-20.0, 570.0 - 160.0 / 3.0, 470.0]},
    "tie_rod": {"inner": [-130.0, 140.0, 310.0], "outer": [-130.0, 550.0, 320.0]},
    "wheel": {"centre": [0.0, 687.7483468, 317.1169102], "radius": 300.0, "camber": 0.0, "toe": 0.0},
}
# Toe, a clamp pivot off the strut's low point and the right side at once: whatever could hide in a zero shows here.
CLAMPED_HATCH = mirrored(
    GRAVEL_HATCH
    | {
        "strut": GRAVEL_HATCH["strut"] | {"clamp": [-8.0, 655.0, 345.0]},
        "wheel": GRAVEL_HATCH["wheel"] | {"camber": -1.2, "toe": 0.15},
    }
)
CORNERS = {
    "hill_climb_saloon_left": HILL_CLIMB_SALOON,
    "gravel_hatch_right": mirrored(GRAVEL_HATCH),
    "spatial_strut_left": SPATIAL_STRUT,
    "clamped_hatch_right": CLAMPED_HATCH,
}
MOUNTS: dict[str, dict[str, Any]] = {
    "mount_as_measured": {},
    "mount_moved": {"mount_in": 10.0, "mount_back": -8.0, "mount_up": 6.0},
}
TRAVELS_MM = np.linspace(-60.0, 60.0, 13)
RACKS_MM = (-40.0, -15.0, 0.0, 15.0, 40.0)

# SECOND METHOD: six-unknown constraint equations in 30-digit arithmetic, by independent code. Camber is the projected
# angle; travel is counted at the hub.
# travel mm, camber, toe, caster, kingpin inclination (deg), hub X, hub Y (mm)
SPATIAL_TRAVEL_TABLE = (
    (-60.0, 1.77536493, 0.119031334, 5.7454302, 14.7011889, 0.519026346, 684.9905482),
    (-20.0, 0.553156679, 0.0619452576, 6.12786422, 15.9387358, 0.22827731, 687.6090031),
    (0.0, 0.0, 0.0, 6.34019175, 16.5043614, 0.0, 687.7483468),
    (20.0, -0.509735335, -0.0839710917, 6.56884404, 17.0302486, -0.284153485, 687.1028166),
    (60.0, -1.37765101, -0.318455959, 7.0838187, 17.9435831, -1.02558456, 683.4109806),
)
# The same method, hub height held. rack mm, camber, toe, caster, kingpin inclination (deg)
SPATIAL_RACK_TABLE = (
    (20.0, -0.749694429, 8.99793391, 6.32290434, 16.4612113),
    (40.0, -1.12761312, 18.1431879, 6.31619229, 16.4443237),
    (-20.0, 1.16960959, -9.06304494, 6.36835528, 16.5736031),
    (-40.0, 2.92769327, -18.4776537, 6.40903101, 16.6713318),
)
# Degrees between steering axis and spin axis in every state of both tables (IDENTITY: the ball joint lies on the
# strut axis, so both axes are fixed in the knuckle), printed to 1e-9.
SPATIAL_AXES_ANGLE_DEG = 106.408861345
AXES_ANGLE_TOLERANCE_DEG = 1e-9


def table_angles(pose: MultibodyPose) -> tuple[float, ...]:
    return pose.projected_camber, pose.toe, pose.caster, pose.kingpin_inclination


def axes_angle(pose: MultibodyPose) -> float:
    axis = pose.strut_top - pose.ball_joint
    return float(np.degrees(np.arccos(axis @ pose.spin_axis / np.linalg.norm(axis))))


def assert_agree(pose: ss.Pose, reference: MultibodyPose, state: dict[str, Any]) -> None:
    """Every reading and point of the engine's pose lies where the library puts it."""
    for name in READINGS_DEG:
        found, wanted = getattr(pose, name), getattr(reference, name)
        assert found == pytest.approx(wanted, rel=0.0, abs=ANGLE_TOLERANCE_DEG), (name, state)
    for name in POINTS:
        np.testing.assert_allclose(
            pose.point(name), getattr(reference, name), rtol=0.0, atol=POINT_TOLERANCE_MM, err_msg=f"{name} at {state}"
        )
    assert pose.strut_compression == pytest.approx(reference.strut_compression, rel=0.0, abs=POINT_TOLERANCE_MM), state


@pytest.mark.parametrize("row", SPATIAL_TRAVEL_TABLE, ids=lambda row: f"travel {row[0]:g}")
def test_the_library_reproduces_the_travel_table(row: tuple[float, ...]) -> None:
    pose = MultibodyCorner(SPATIAL_STRUT).pose(travel=row[0])
    assert table_angles(pose) == pytest.approx(row[1:5], rel=TABLE_RELATIVE, abs=1e-12)
    assert pose.wheel_centre[:2] == pytest.approx(row[5:], rel=0.0, abs=TABLE_HUB_MM)
    assert axes_angle(pose) == pytest.approx(SPATIAL_AXES_ANGLE_DEG, rel=0.0, abs=AXES_ANGLE_TOLERANCE_DEG)


@pytest.mark.parametrize("row", SPATIAL_RACK_TABLE, ids=lambda row: f"rack {row[0]:g}")
def test_the_library_reproduces_the_rack_table(row: tuple[float, ...]) -> None:
    pose = MultibodyCorner(SPATIAL_STRUT).pose(rack=row[0])
    assert table_angles(pose) == pytest.approx(row[1:], rel=TABLE_RELATIVE)
    assert axes_angle(pose) == pytest.approx(SPATIAL_AXES_ANGLE_DEG, rel=0.0, abs=AXES_ANGLE_TOLERANCE_DEG)


@pytest.mark.parametrize("tables", CORNERS.values(), ids=CORNERS.keys())
def test_the_joints_of_the_library_hold(tables: dict[str, Any]) -> None:
    """IDENTITY: rigid distances, from the points alone, at the ends of the sweep and at design."""
    front, rear, ball_joint = (np.array(tables["lower_arm"][name]) for name in ("front", "rear", "ball_joint"))
    rod_length = np.linalg.norm(np.subtract(tables["tie_rod"]["outer"], tables["tie_rod"]["inner"]))
    knuckle_points = ("ball_joint", "strut_low", "tie_rod_outer", "wheel_centre")
    corner = MultibodyCorner(tables)
    design = corner.pose()
    for mount in MOUNTS.values():
        for travel in TRAVELS_MM[[0, 6, 12]]:
            for rack in RACKS_MM:
                pose = corner.pose(travel=travel, rack=rack, **mount)
                openings = {
                    "tie rod": np.linalg.norm(pose.tie_rod_outer - pose.tie_rod_inner) - rod_length,
                    "arm to front pivot": np.linalg.norm(pose.ball_joint - front) - np.linalg.norm(ball_joint - front),
                    "arm to rear pivot": np.linalg.norm(pose.ball_joint - rear) - np.linalg.norm(ball_joint - rear),
                    "top off the strut axis": np.linalg.norm(
                        np.cross(pose.strut_axis, pose.strut_top - pose.strut_low)
                    ),
                    "hub height": pose.wheel_centre[2] - design.wheel_centre[2] - travel,
                }
                for one in knuckle_points:
                    for other in knuckle_points:
                        now = np.linalg.norm(getattr(pose, one) - getattr(pose, other))
                        then = np.linalg.norm(getattr(design, one) - getattr(design, other))
                        openings[f"knuckle from {one} to {other}"] = now - then
                for place, opening in openings.items():
                    assert abs(opening) < JOINT_OPENING_MM, (place, opening, travel, rack)


@pytest.mark.parametrize("rack", RACKS_MM)
@pytest.mark.parametrize("mount", MOUNTS.values(), ids=MOUNTS.keys())
@pytest.mark.parametrize("tables", CORNERS.values(), ids=CORNERS.keys())
def test_engine_agrees_over_hub_travel_rack_and_mount(
    tables: dict[str, Any], mount: dict[str, Any], rack: float
) -> None:
    corner, library = ss.Corner.from_dict(tables), MultibodyCorner(tables)
    for travel in TRAVELS_MM:
        state: dict[str, Any] = {"travel": float(travel), "rack": rack, **mount}
        assert_agree(corner.solve(**state, travel_at="hub"), library.pose(**state), state)


@pytest.mark.parametrize("travel_at", ["ground", "strut"])
@pytest.mark.parametrize("mount", MOUNTS.values(), ids=MOUNTS.keys())
@pytest.mark.parametrize("tables", CORNERS.values(), ids=CORNERS.keys())
def test_engine_agrees_with_ride_height_or_spring_length_held(
    tables: dict[str, Any], mount: dict[str, Any], travel_at: str
) -> None:
    corner, library = ss.Corner.from_dict(tables), MultibodyCorner(tables)
    for travel in (-50.0, -20.0, 0.0, 20.0, 50.0):
        for rack in (-25.0, 0.0, 25.0):
            state: dict[str, Any] = {"travel": travel, "rack": rack, "travel_at": travel_at, **mount}
            assert_agree(corner.solve(**state), library.pose(**state), state)


SPANNERS: dict[str, dict[str, Any]] = {
    "tie rod": {"tie_rod": 4.0},
    "clamp": {"clamp": -1.5},
    "arm": {"arm": 6.0},
    "tie-rod spacer": {"tie_outer_up": -7.0},
    "ball-joint spacer": {"ball_joint_down": 12.0},
    "hub spacer": {"hub_spacer": 9.0},
}
SPANNERS["all at once"] = {name: value for setting in SPANNERS.values() for name, value in setting.items()} | {
    "mount_in": 10.0,
    "mount_back": -8.0,
    "mount_up": 6.0,
}


@pytest.mark.parametrize("travel_at", ["ground", "hub", "strut"])
@pytest.mark.parametrize("setting", SPANNERS.values(), ids=SPANNERS.keys())
@pytest.mark.parametrize("tables", CORNERS.values(), ids=CORNERS.keys())
def test_engine_agrees_on_every_spanner(tables: dict[str, Any], setting: dict[str, Any], travel_at: str) -> None:
    corner, library = ss.Corner.from_dict(tables), MultibodyCorner(tables)
    for travel in (-40.0, 0.0, 40.0):
        state: dict[str, Any] = {"travel": travel, "rack": 12.0, "travel_at": travel_at, **setting}
        assert_agree(corner.solve(**state), library.pose(**state), state)
