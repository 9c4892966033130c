"""The command ``new-car``: a car file to edit, with every field explained."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from pathlib import Path
from string import Formatter
from typing import Annotated, Any, Final

import typer

from strutsweep._core import Axle, demos
from strutsweep.command_line.arguments import DEMO_PREFIX, Force, demo_car, example_text, help_of
from strutsweep.command_line.endings import say
from strutsweep.command_line.records import writing
from strutsweep.errors import FileError

__all__ = ["add_to", "car_file_text"]

EXAMPLES: Final = (
    "strutsweep new-car my_car.toml",
    "strutsweep new-car ahead_of_axle.toml --like demo:hillclimb_saloon",
)

_COMMENT_COLUMN: Final = 42

# What stands in a line that is commented out, as the car whose numbers are taken has none.
_EXAMPLE_NUMBERS: Final = {
    "tie_rod_inner_thread_pitch": "1.5",
    "tie_rod_inner_thread_hand": '"left"',
    "tie_rod_inner_thread_engaged": "20.0",
    "limits_arm": "5.0",
}

# An opening has one shape of three: the others are not written, even as a comment.
_OPENING_WORDS: Final = {
    "radius": "of a round one",
    "half_axes": "of an oval one: inboard and rearward ...",
    "turned": "... and turned from there, in degrees, inboard towards rearward",
    "corners": "of a polygon, from its centre",
}

# Numbers stand in the text by the names that the file gives them; what a car can do without is commented out. Comments
# beside fields are lined up once the numbers are in.
_TEXT: Final = """\
# A car file for strutsweep.
# {note}
#
# Millimetres and degrees. X points forward, Y to the left, Z up. Y = 0 is the middle of the car; X and Z may begin
# anywhere, but at one place for all points. Measure at design height: the car level and at its ride height, the
# steering straight. A misspelled name is refused, with its line. Look at the result: strutsweep static FILE
schema = 1  # the form of this file
name = "{name}"
note = "{note}"

# The main tables describe the LEFT corner (Y above zero); the right one is its mirror image. See [right] at the end.

[lower_arm]
front = {lower_arm_front}  # inner pivot of the arm at the front: a bush's centre ...
rear = {lower_arm_rear}  # ... and at the rear: any two points of the axis on which the arm turns
ball_joint = {lower_arm_ball_joint}  # centre of the outer ball joint

[strut]
top = {strut_top}  # centre on which the top mount lets the strut pivot, not the nut above it
low = {strut_low}  # a second point on the axis of the damper rod, as far down as can be measured
# clamp = {strut_low}  # point about which the knuckle turns in its clamp on the strut; low unless given
# bearing_axis = [0.0, 0.0, 1.0]  # way the top bearing's axis points; along the strut at design unless given

[tie_rod]
inner = {tie_rod_inner}  # centre of the inner joint, at the rack, with the rack in the middle
outer = {tie_rod_outer}  # centre of the outer joint, at the steering arm
inner_thread_pitch = {tie_rod_inner_thread_pitch}  # advance a turn of the rod; no line where the rod turns freely in that joint
inner_thread_hand = {tie_rod_inner_thread_hand}  # "right" or "left"
inner_thread_engaged = {tie_rod_inner_thread_engaged}  # length of thread screwed in as measured
outer_thread_pitch = {tie_rod_outer_thread_pitch}  # the same at the outer joint
outer_thread_hand = {tie_rod_outer_thread_hand}
outer_thread_engaged = {tie_rod_outer_thread_engaged}
least_thread_engaged = {tie_rod_least_thread_engaged}  # what must stay screwed in: ask the part's maker

[wheel]
centre = {wheel_centre}  # middle of the wheel on its axle line, in the middle of the rim's width
radius = {wheel_radius}  # loaded: height of the wheel centre above the ground
camber = {wheel_camber}  # positive leans the top outboard
toe = {wheel_toe}  # of this wheel; positive points its front inboard (toe-in)

[rack]  # this table and what follows may be left out
stroke = {rack_stroke}  # from the middle to either stop
mm_per_turn = {rack_mm_per_turn}  # rack displacement a turn of the steering wheel
# direction = [0.0, 1.0, 0.0]  # way the rack moves when it moves left, if not straight across

[limits]  # how far things go from design height; ranges begin and end here
bump = {limits_bump}
droop = {limits_droop}
mount_in = {limits_mount_in}  # reach of the top mount inboard and outboard, either way ...
mount_back = {limits_mount_back}  # ... and fore and aft, either way
mount_up = {limits_mount_up}  # ... and up and down, by shims
tie_rod = {limits_tie_rod}  # longer or shorter
clamp = {limits_clamp}  # degrees that the knuckle can be turned in its clamp, either way
arm = {limits_arm}  # lower arm longer or shorter
bearing_angle = {limits_bearing_angle}  # most degrees that the top bearing allows from its own axis
tie_rod_margin = {limits_tie_rod_margin}  # least sine between tie rod and steering arm at lock; 0 is over-centre
tie_rod_end_angle = {limits_tie_rod_end_angle}  # most degrees that a tie-rod joint can lean from where it stands at design

[axle]
wheelbase = {axle_wheelbase}
centre_of_gravity_height = {axle_centre_of_gravity_height}  # above the ground, of the whole car
front_brake_share = {axle_front_brake_share}  # 0 to 1
wheel_load = {axle_wheel_load}  # N, of one wheel on the ground with the car at design height: a corner scale's kg x 9.81
unsprung_mass = {axle_unsprung_mass}  # kg that move with one wheel

[envelope]  # room for the tyre: points of the body that it comes nearest to, at design height
tyre_radius = {envelope_tyre_radius}  # unloaded
tyre_width = {envelope_tyre_width}
arch_front = {envelope_arch_front}
arch_rear = {envelope_arch_rear}
rail = {envelope_rail}
arch_top = {envelope_arch_top}

[spring]
rate = {spring_rate}  # N/mm
free_length = {spring_free_length}  # unloaded
upper_seat = {spring_upper_seat}  # centre of the spring's upper end at design height ...
lower_seat = {spring_lower_seat}  # ... and of its lower end
collar_thread_pitch = {spring_collar_thread_pitch}  # rise a turn of the collar under the spring
collar_up = {spring_collar_up}  # how far the collar can still go up ...
collar_down = {spring_collar_down}  # ... and down

[damper]
body_thread_pitch = {damper_body_thread_pitch}  # where the strut's body is screwed into its foot
body_shorter = {damper_body_shorter}  # how much shorter it can be made there ...
body_longer = {damper_body_longer}  # ... and longer

[top_plate]  # an adjustable strut top, as it is on the left; angles in it count from 0 inboard to 90 rearward
tilt_in = {top_plate_tilt_in}  # how far the normal of the tower's face leans inboard ...
tilt_back = {top_plate_tilt_back}  # ... and rearward, in degrees
yaw = {top_plate_yaw}  # how far the plate is turned in the face, its inboard side rearward
middle = {top_plate_middle}  # the middle of its travels from strut.top, inboard and rearward
bearing_height = {top_plate_bearing_height}  # bearing centre over the tower's face
seat_height = {top_plate_seat_height}  # the spring's seat over it; below zero is under it

[top_plate.plate_slot]  # the plate on the tower
direction = {top_plate_plate_slot_direction}  # 90: fore and aft
reach = {top_plate_plate_slot_reach}  # how far its bolts slide, either way
bolt = {top_plate_plate_slot_bolt}  # diameter
width = {top_plate_plate_slot_width}

[top_plate.insert_slot]  # the insert in the plate
direction = {top_plate_insert_slot_direction}  # 0: in and out
reach = {top_plate_insert_slot_reach}
bolt = {top_plate_insert_slot_bolt}
width = {top_plate_insert_slot_width}

[top_plate.insert]
offset = {top_plate_insert_offset}  # how far its bearing seat is off its middle
angles = {top_plate_insert_angles}  # where the seat points in each position that it can be fitted in

[top_plate.studs]  # of the tower
count = {top_plate_studs_count}
circle = {top_plate_studs_circle}  # diameter of the circle through them
first = {top_plate_studs_first}  # where one of them is

[top_plate.insert_bolts]
count = {top_plate_insert_bolts_count}
circle = {top_plate_insert_bolts_circle}
first = {top_plate_insert_bolts_first}

[top_plate.opening]  # in the tower: radius, or half_axes = [a, b] and turned, or corners = [[x, y], ...]
centre = {top_plate_opening_centre}  # from strut.top, inboard and rearward
{opening}

[top_plate.clearing]  # what must pass the opening: radii
nut = {top_plate_clearing_nut}  # with the socket on it
nut_height = {top_plate_clearing_nut_height}  # its middle over the tower's face
insert = {top_plate_clearing_insert}  # the bearing's housing
rod = {top_plate_clearing_rod}

# Where the right corner was measured to differ, give what differs, in the car's own coordinates: Y is below zero there.
# [right.strut]
# top = {right_strut_top}
# [right.wheel]
# camber = -0.7
"""


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command("new-car", help=help_of(new_car), epilog=example_text(*EXAMPLES))(new_car)


def new_car(
    path: Annotated[Path, typer.Argument(metavar="FILE", show_default=False, help="The car file to write, *.toml.")],
    like: Annotated[
        str,
        typer.Option(
            "--like",
            metavar="CAR",
            help=f"Whose numbers to begin with: {', '.join(DEMO_PREFIX + name for name in demos())}.",
        ),
    ] = "demo:gravel_hatch",
    force: Force = False,
) -> None:
    """How do I get a car file of my own?

    Writes one with the numbers of an invented car and a comment beside each: what to measure, in mm and deg, and which
    way is positive. Put your numbers in their place. gravel_hatch has its rack behind the axle, hillclimb_saloon ahead.
    """
    car = demo_car(like)
    if path.exists() and not force:
        raise FileError(f"{path}: there is a file already; --force overwrites it", path=path, reason="exists")
    text = car_file_text(car, name="My car", note=f"The numbers are still those of an invented car: {car.name}.")
    writing(path, lambda: path.write_text(text, encoding="utf-8", newline=""))
    say(f"wrote {path}: the numbers of an invented car, for you to replace")
    say(f"then: strutsweep static {shlex.quote(str(path))}")


def car_file_text(car: Axle, name: str, note: str) -> str:
    """A car file with every field explained, from the numbers of a symmetric car."""
    tables: dict[str, Any] = car.to_dict()
    numbers = {
        f"{table}_{key}": _number_text(value)
        for table in ("lower_arm", "strut", "tie_rod", "wheel", "rack", "limits", "axle", "envelope", "spring", "damper")
        for key, value in tables[table].items()
    }
    plate = tables["top_plate"]
    shape = "\n".join(
        f"{key} = {{top_plate_opening_{key}}}  # {words}"
        for key, words in _OPENING_WORDS.items()
        if key in plate["opening"]
    )
    numbers |= {f"top_plate_{key}": _number_text(value) for key, value in _flat(plate).items()}
    x, y, z = tables["strut"]["top"]
    right_strut_top = _number_text([x, -y - 3.0, z])
    numbers = {"name": name, "note": note, "right_strut_top": right_strut_top, **numbers}
    return "\n".join(_lined_up(_filled_in(line, numbers)) for line in _TEXT.replace("{opening}", shape).split("\n"))


def _flat(table: Mapping[str, Any]) -> dict[str, Any]:
    """The entries of a table, and of the tables in it, by their names strung together."""
    found: dict[str, Any] = {}
    for key, value in table.items():
        inner = _flat(value) if isinstance(value, Mapping) else None
        found |= {key: value} if inner is None else {f"{key}_{name}": entry for name, entry in inner.items()}
    return found


def _filled_in(line: str, numbers: Mapping[str, str]) -> str:
    """A line with its numbers; with an example and commented out, where this car has no such number."""
    needed = {name for _, name, _, _ in Formatter().parse(line) if name}
    if needed <= numbers.keys():
        return line.format_map(numbers)
    return "# " + line.format_map({**_EXAMPLE_NUMBERS, **numbers})


def _lined_up(line: str) -> str:
    """A line whose comment, if it stands beside a field, begins in the column of all comments."""
    field, gap, comment = line.partition("  # ")
    return f"{field:<{_COMMENT_COLUMN}}# {comment}" if gap else line


def _number_text(value: float | str | Sequence[float]) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    return f"[{', '.join(repr(float(v)) for v in value)}]" if isinstance(value, Sequence) else repr(float(value))
