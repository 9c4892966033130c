"""Car files: what is written reads back to the last bit, what is wrong is told with its line, no file does harm."""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import strutsweep as ss
from strutsweep.words import HARD_POINTS

# Written out whole, so that lines can be counted here and not by what is tested. An invented car, all numbers unlike.
TEXT = """\
# An invented car.
schema = 1
name = "Test car"
note = "two\\nlines"

[lower_arm]
front = [10.0, 360.0, 195.0]
rear = [-290.0, 372.0, 192.0]
ball_joint = [-2.0, 708.0, 182.0]

[strut]
top = [-35.0, 548.0, 840.0]
low = [-14.0, 612.0, 430.0]
clamp = [-13.0, 618.0, 396.0]
bearing_axis = [-0.05, -0.15, 1.0]

[tie_rod]
inner = [-128.0, 330.0, 240.4]
outer = [-128.0, 690.0, 232.0]
inner_thread_pitch = 1.25
inner_thread_hand = "left"
inner_thread_engaged = 19.0
outer_thread_pitch = 1.5
outer_thread_engaged = 23.0
least_thread_engaged = 15.0

[wheel]
centre = [0.0, 752.0, 308.0]
radius = 308.0
camber = -0.5
toe = 0.1

[rack]
direction = [0.01, 1.0, -0.02]
mm_per_turn = 51.5
stroke = 65.0

[axle]
wheelbase = 2512.0
centre_of_gravity_height = 541.0
front_brake_share = 0.64
wheel_load = 3010.0
unsprung_mass = 31.5

[limits]
bump = 80.0
droop = 90.0
mount_in = 20.0
mount_back = 10.0
mount_up = 4.0
tie_rod = 11.0
clamp = 1.5
arm = 6.0
bearing_angle = 12.0
tie_rod_margin = 0.3
tie_rod_end_angle = 22.0

[envelope]
tyre_radius = 311.0
tyre_width = 187.0
arch_front = [371.0, 702.0, 303.0]
arch_rear = [-383.0, 704.0, 305.0]
rail = [-251.0, 507.0, 323.0]
arch_top = [1.0, 741.0, 737.0]
[spring]
rate = 31.0
free_length = 350.0
upper_seat = [-33.7, 551.9, 815.3]
lower_seat = [-21.1, 590.4, 568.6]
collar_thread_pitch = 1.75
collar_up = 33.0
collar_down = 28.0

[damper]
body_thread_pitch = 2.0
body_shorter = 22.0
body_longer = 13.0

[right.tie_rod]
inner_thread_hand = "right"

[right.strut]
top = [-33.0, -549.0, 842.0]

[right.wheel]
camber = -0.7
"""


def line_of(text: str, start: str) -> int:
    """The number of the first line that begins so."""
    return next(i for i, line in enumerate(text.split("\n"), start=1) if line.startswith(start))


def changed(start: str, line: str | None, text: str = TEXT) -> str:
    """The text with the line that begins so put in place of another, or taken out."""
    lines = text.split("\n")
    where = line_of(text, start) - 1
    lines[where : where + 1] = [] if line is None else [line]
    return "\n".join(lines)


def file_error(text: str) -> ss.FileError:
    """The error of a text that is no car file."""
    with pytest.raises(ss.FileError) as caught:
        ss.Axle.from_toml(text)
    return caught.value


# Reading.


def test_every_value_of_a_file_is_read_where_it_belongs() -> None:
    car = ss.Axle.from_toml(TEXT)
    left = car.left
    assert (car.name, car.note) == ("Test car", "two\nlines")
    expected = {
        "arm_front": [10.0, 360.0, 195.0],
        "arm_rear": [-290.0, 372.0, 192.0],
        "ball_joint": [-2.0, 708.0, 182.0],
        "strut_top": [-35.0, 548.0, 840.0],
        "strut_low": [-14.0, 612.0, 430.0],
        "strut_clamp": [-13.0, 618.0, 396.0],
        "tie_rod_inner": [-128.0, 330.0, 240.4],
        "tie_rod_outer": [-128.0, 690.0, 232.0],
        "wheel_centre": [0.0, 752.0, 308.0],
    }
    assert {name: point.tolist() for name, point in left.points.items()} == expected
    assert list(expected) == HARD_POINTS
    assert (left.name, left.side, left.wheel_radius, left.camber, left.toe) == ("Test car", "left", 308.0, -0.5, 0.1)
    assert left.to_dict()["strut"]["bearing_axis"] == [-0.05, -0.15, 1.0]
    assert left.to_dict()["rack"] == {"direction": [0.01, 1.0, -0.02]}
    assert car.rack == {"mm_per_turn": 51.5, "stroke": 65.0}
    assert car.dimensions == {
        "wheelbase": 2512.0,
        "centre_of_gravity_height": 541.0,
        "front_brake_share": 0.64,
        "wheel_load": 3010.0,
        "unsprung_mass": 31.5,
    }
    assert car.envelope == {
        "tyre_radius": 311.0,
        "tyre_width": 187.0,
        "arch_front": [371.0, 702.0, 303.0],
        "arch_rear": [-383.0, 704.0, 305.0],
        "rail": [-251.0, 507.0, 323.0],
        "arch_top": [1.0, 741.0, 737.0],
    }
    assert car.limits == {
        "bump": 80.0,
        "droop": 90.0,
        "mount_in": 20.0,
        "mount_back": 10.0,
        "mount_up": 4.0,
        "tie_rod": 11.0,
        "clamp": 1.5,
        "arm": 6.0,
        "bearing_angle": 12.0,
        "tie_rod_margin": 0.3,
        "tie_rod_end_angle": 22.0,
    }
    assert car.spring == {
        "rate": 31.0,
        "free_length": 350.0,
        "upper_seat": [-33.7, 551.9, 815.3],
        "lower_seat": [-21.1, 590.4, 568.6],
        "collar_thread_pitch": 1.75,
        "collar_up": 33.0,
        "collar_down": 28.0,
    }
    assert car.damper == {"body_thread_pitch": 2.0, "body_shorter": 22.0, "body_longer": 13.0}
    threads = {
        "inner_thread_pitch": 1.25,
        "inner_thread_hand": "left",
        "inner_thread_engaged": 19.0,
        "outer_thread_pitch": 1.5,
        "outer_thread_hand": None,
        "outer_thread_engaged": 23.0,
        "least_thread_engaged": 15.0,
    }
    assert car.tie_rods == {"left": threads, "right": {**threads, "inner_thread_hand": "right"}}


def test_right_tables_hold_only_what_differs() -> None:
    car = ss.Axle.from_toml(TEXT)
    assert car.right.side == "right"
    assert car.right == car.left.mirror().replace(strut_top=[-33.0, -549.0, 842.0], camber=-0.7)


def test_without_right_tables_the_right_corner_is_the_mirror_image() -> None:
    car = ss.Axle.from_toml(TEXT.partition("[right.strut]")[0])
    assert car.right == car.left.mirror()
    assert car.right.point("ball_joint").tolist() == [-2.0, -708.0, 182.0]


def test_other_corners_leave_the_rest_of_the_car_as_it_is() -> None:
    car = ss.Axle.from_toml(TEXT)
    other = car.with_corners(car.left.replace(camber=-1.0), car.right)
    assert (other.left.camber, other.right, other.name) == (-1.0, car.right, car.name)
    for table in ("rack", "dimensions", "limits", "spring", "damper", "tie_rods", "note"):
        assert getattr(other, table) == getattr(car, table)
    assert car.with_corners(car.left).right == car.left.mirror()
    with pytest.raises(ss.GeometryError, match=r"wheel\.centre"):
        car.with_corners(car.right)


def test_what_is_optional_may_be_missing() -> None:
    optional = ("note", "name", "clamp", "bearing_axis")
    text = "\n".join(line for line in TEXT.split("\n") if not line.startswith(optional))
    car = ss.Axle.from_toml(re.sub(r"\[rack\].*", "", text, flags=re.DOTALL))
    assert car.name == "unnamed car"
    assert car.note is None
    assert set(car.rack.values()) == set(car.dimensions.values()) == set(car.limits.values()) == {None}
    assert car.left.point("strut_clamp").tolist() == car.left.point("strut_low").tolist()


@pytest.mark.parametrize("spelling", ["308", "3.08e2", "0x134", "+308.0", "3_08.0", "3080e-1"])
def test_numbers_in_every_spelling_of_toml(spelling: str) -> None:
    assert ss.Axle.from_toml(changed("radius", f"radius = {spelling}")) == ss.Axle.from_toml(TEXT)


def test_points_over_several_lines_and_inline_tables() -> None:
    text = changed("ball_joint", "ball_joint = [\n  -2, # behind\n  708,\n  182,\n]")
    assert ss.Axle.from_toml(text) == ss.Axle.from_toml(TEXT)
    text = "schema = 1\nwheel = { centre = [0, 752, 308], radius = 308, camber = -0.5, toe = 0.1 }\n" + re.sub(
        r"\[wheel\].*?\n\n", "", TEXT.replace("schema = 1\n", ""), flags=re.DOTALL
    )
    assert ss.Axle.from_toml(text) == ss.Axle.from_toml(TEXT)


# Round trips.


@pytest.mark.parametrize("text", [TEXT, *(ss.demo(name).to_toml() for name in ss.demos())])
def test_text_and_tables_read_back_to_the_same_car(text: str) -> None:
    car = ss.Axle.from_toml(text)
    assert ss.Axle.from_toml(car.to_toml()) == car
    assert ss.Axle.from_dict(car.to_dict()) == car
    assert ss.Axle.from_toml(car.to_toml()).to_toml() == car.to_toml()
    assert ss.Corner.from_dict(car.right.to_dict()) == car.right


def test_what_is_written_is_toml_and_says_the_same_as_the_dictionary() -> None:
    # SECOND METHOD: Python's own reader of TOML.
    car = ss.Axle.from_toml(TEXT)
    assert tomllib.loads(car.to_toml()) == car.to_dict() == tomllib.loads(TEXT)


def bits_of(car: ss.Axle) -> bytes:
    """Every coordinate and angle of both corners."""
    corners = (car.left, car.right)
    numbers = [point for corner in corners for point in corner.points.values()]
    numbers += [np.array([corner.wheel_radius, corner.camber, corner.toe]) for corner in corners]
    return np.concatenate(numbers).tobytes()


def test_numbers_come_back_to_the_last_bit(car: ss.Axle) -> None:
    draw = np.random.default_rng(5)
    for _ in range(100):
        # Coordinates with every binary digit in use, and some far too small to matter, down to the least there is.
        left, right = (
            corner.replace(**{name: corner.point(name) + draw.uniform(-3.0, 3.0, 3) for name in HARD_POINTS})
            for corner in (car.left, car.right)
        )
        _, y, z = left.point("arm_front").tolist()
        left = left.replace(arm_front=[draw.choice([1e-9, -1e-300, 5e-324]), y, z])
        left = left.replace(camber=draw.uniform(-3, 3), toe=1.0 / 3.0, wheel_radius=0.1 + 0.2 + 300.0)
        axle = ss.Axle.from_corners(left, right)
        assert bits_of(ss.Axle.from_toml(axle.to_toml())) == bits_of(axle)
        assert bits_of(ss.Axle.from_dict(axle.to_dict())) == bits_of(axle)


def test_a_right_corner_without_the_lefts_own_clamp_and_bearing_comes_back(car: ss.Axle) -> None:
    left = car.left.replace(strut_clamp=[-13.0, 618.0, 396.0], bearing_axis=[-0.05, -0.15, 1.0])
    axle = ss.Axle.from_corners(left, car.right)
    back = ss.Axle.from_toml(axle.to_toml())
    inputs = {"travel": 12.0, "clamp": 0.7, "mount_in": 5.0}
    for side in ("left", "right"):
        readings = getattr(axle, side).solve(**inputs).readings
        assert getattr(back, side).solve(**inputs).readings == pytest.approx(readings, rel=1e-12, abs=1e-12)


IN_SCRIPTS = ["Zürich", "漢字", "🚗 émoji"]
HARD_TO_QUOTE = ['quote " and \\', "it's", "two\nlines", "tab\t", "\u2028", "'''", '"""', "\x7f", ""]


@pytest.mark.parametrize("name", [*IN_SCRIPTS, *HARD_TO_QUOTE], ids=ascii)
def test_names_in_any_script(car: ss.Axle, name: str, tmp_path: Path) -> None:
    axle = ss.Axle.from_dict({**car.to_dict(), "name": name, "note": name})
    assert (axle.name, axle.note, axle.left.name) == (name, name, name)
    assert ss.Axle.from_toml(axle.to_toml()) == axle
    assert tomllib.loads(axle.to_toml())["name"] == name
    axle.save(tmp_path / "car.toml")
    assert ss.load(tmp_path / "car.toml") == axle
    assert ss.Corner.from_dict(axle.left.to_dict()) == axle.left


def test_dictionaries_may_hold_tuples_arrays_and_numpy_numbers(corner: ss.Corner) -> None:
    tables = corner.to_dict()
    tables["strut"] = {"top": tuple(tables["strut"]["top"]), "low": np.array(tables["strut"]["low"], dtype=np.float32)}
    tables["wheel"] = {
        "centre": np.array([0, 752, 308]),
        "radius": np.int64(308),
        "camber": np.float32(-0.5),
        "toe": np.array(0.0),
    }
    assert ss.Corner.from_dict(tables) == corner


def test_entries_that_are_none_count_as_missing(corner: ss.Corner) -> None:
    tables = corner.to_dict()
    assert ss.Corner.from_dict({**tables, "name": corner.name, "rack": None}) == corner
    with pytest.raises(ss.FileError) as caught:
        ss.Corner.from_dict({**tables, "wheel": None})
    assert caught.value.field == "wheel.centre"


def test_dictionaries_given_out_are_copies(car: ss.Axle) -> None:
    before = car.to_toml()
    tables = car.to_dict()
    tables["wheel"]["radius"] = 1.0
    tables["strut"]["top"][0] = 99.0
    car.limits["bump"] = 1.0
    car.left.points["ball_joint"][0] = 99.0
    car.left.point("ball_joint")[0] = 99.0
    assert car.to_toml() == before


# Files.


def test_save_and_load(car: ss.Axle, tmp_path: Path) -> None:
    for path in (tmp_path / "car.toml", str(tmp_path / "same.toml"), tmp_path / "Zürich 漢字.toml"):
        car.save(path)
        assert ss.load(path) == car
        assert Path(path).read_text(encoding="utf-8") == car.to_toml()


def test_saving_again_replaces_the_file(car: ss.Axle, tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_text("x" * 10_000, encoding="utf-8")
    car.save(path)
    assert path.read_text(encoding="utf-8") == car.to_toml()


@pytest.mark.parametrize(
    "encoded",
    [TEXT.replace("\n", "\r\n").encode(), b"\xef\xbb\xbf" + TEXT.encode(), TEXT.rstrip("\n").encode()],
    ids=["CRLF", "byte-order mark", "no last newline"],
)
def test_text_files_of_other_systems(encoded: bytes, tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(encoded)
    assert ss.load(path) == ss.Axle.from_toml(TEXT)


def test_lines_of_a_crlf_file_are_counted_alike(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(changed("ball_joint", "ball_jiont = [1, 2, 3]").replace("\n", "\r\n").encode())
    with pytest.raises(ss.FileError) as caught:
        ss.load(path)
    assert caught.value.line == line_of(TEXT, "ball_joint")


def load_error(path: Path | str) -> ss.FileError:
    """The error of a file that cannot be loaded; it names the file."""
    with pytest.raises(ss.FileError) as caught:
        ss.load(path)
    assert caught.value.path == Path(path)
    assert str(path) in str(caught.value)
    return caught.value


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    error = load_error(tmp_path / "nowhere" / "car.toml")
    assert "No such file" in error.reason
    assert error.line is None


def test_a_folder_in_place_of_a_file(tmp_path: Path, car: ss.Axle) -> None:
    assert "directory" in load_error(tmp_path).reason
    with pytest.raises(ss.FileError) as caught:
        car.save(tmp_path)
    assert caught.value.path == tmp_path


def test_an_empty_file(tmp_path: Path) -> None:
    path = tmp_path / "empty.toml"
    path.touch()
    error = load_error(path)
    assert error.field == "schema"
    assert "`schema` is missing" in str(error)


@pytest.mark.parametrize("encoding", ["latin-1", "utf-16"])
def test_a_file_that_is_not_utf_8(encoding: str, tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(TEXT.replace("Test", "Zürich").encode(encoding))
    assert "UTF-8" in load_error(path).reason


def test_bytes_at_random(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(np.random.default_rng(1).bytes(100_000))
    load_error(path)
    path.write_bytes(b"\0" * 1000)
    load_error(path)


def test_a_huge_file_is_read(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_text("".join(f"# {i:0100}\n" for i in range(200_000)) + TEXT, encoding="utf-8")
    assert path.stat().st_size > 20_000_000
    assert ss.load(path) == ss.Axle.from_toml(TEXT)


def test_brackets_without_end_are_refused() -> None:
    for text in ("a = " + "[" * 100_000, "a = " + "[" * 100_000 + "]" * 100_000, ".".join("a" * 100_000) + " = 1"):
        assert "TOML" in file_error(text).reason


@pytest.mark.parametrize("path", [3, None, b"car.toml", ["car.toml"]])
def test_paths_of_another_kind(path: object) -> None:
    with pytest.raises(TypeError):
        ss.load(path)


# Mistakes, told with their lines.


@pytest.mark.parametrize(
    ("start", "line", "table", "key", "nearest"),
    [
        ("ball_joint", "ball_jiont = [-2.0, 708.0, 182.0]", "lower_arm", "ball_jiont", "ball_joint"),
        ("low", "lower = [-14.0, 612.0, 430.0]", "strut", "lower", "low"),
        ("centre ", "center = [0.0, 752.0, 308.0]", "wheel", "center", "centre"),
        ("stroke", "strok = 65.0", "rack", "strok", "stroke"),
        ("wheelbase", "wheel_base = 2512.0", "axle", "wheel_base", "wheelbase"),
        ("bump", "bumb = 80.0", "limits", "bumb", "bump"),
        ("top = [-33", "tpo = [-33.0, -549.0, 842.0]", "right.strut", "tpo", "top"),
        ("toe", "tow_bar = 1.0", "wheel", "tow_bar", None),
    ],
)
def test_an_unknown_key(start: str, line: str, table: str, key: str, nearest: str | None) -> None:
    error = file_error(changed(start, line))
    assert (error.table, error.key, error.nearest) == (table, key, nearest)
    assert error.line == line_of(TEXT, start)
    assert str(error).startswith(f"line {error.line}: unknown key `{key}` in [{table}]")
    assert (f"did you mean `{nearest}`?" in str(error)) is (nearest is not None)


@pytest.mark.parametrize(
    ("start", "line", "key", "nearest"),
    [
        ("name", 'nmae = "Test car"', "nmae", "name"),
        ("[wheel]", "[weel]", "weel", "wheel"),
        ("[tie_rod]", "[tierod]", "tierod", "tie_rod"),
        ("[rack]", "[rakc]", "rakc", "rack"),
        ("[limits]", "[limit]", "limit", "limits"),
    ],
)
def test_an_unknown_key_at_the_top_of_the_file(start: str, line: str, key: str, nearest: str) -> None:
    error = file_error(changed(start, line))
    assert (error.table, error.key, error.nearest) == ("", key, nearest)
    assert error.line == line_of(TEXT, start)
    assert "the top of the file" in str(error)


def test_an_unknown_table_of_the_right_corner() -> None:
    error = file_error(TEXT.replace("[right.wheel]", "[right.weel]"))
    assert (error.table, error.key, error.nearest) == ("right", "weel", "wheel")
    assert error.line == line_of(TEXT, "[right.wheel]")


@pytest.mark.parametrize(
    ("start", "line", "field", "words"),
    [
        ("ball_joint", "ball_joint = 708.0", "lower_arm.ball_joint", "is a number where three numbers"),
        ("ball_joint", "ball_joint = [1.0, 2.0]", "lower_arm.ball_joint", "has 2 numbers where three should be"),
        ("ball_joint", 'ball_joint = [1.0, "2.0", 3.0]', "lower_arm.ball_joint", "something else than numbers"),
        ("radius", 'radius = "308"', "wheel.radius", "is text where a number should be"),
        ("radius", "radius = 1979-05-27", "wheel.radius", "is a date where a number should be"),
        ("radius", "radius = true", "wheel.radius", "is true or false where a number should be"),
        ("radius", "radius = 99999999999999999999999", "wheel.radius", "number should be"),
        ("name", "name = 3", "name", "is a number where text in quotes should be"),
        ("schema", 'schema = "1"', "schema", "is text where a number should be"),
        ("top = [-33", "top = 3.0", "right.strut.top", "is a number where three numbers"),
    ],
)
def test_a_value_of_the_wrong_kind(start: str, line: str, field: str, words: str) -> None:
    error = file_error(changed(start, line))
    assert error.field == field
    assert error.line == line_of(TEXT, start)
    assert str(error).startswith(f"line {error.line}: `{field}` ")
    assert words in str(error)


@pytest.mark.parametrize(
    ("start", "field"), [("ball_joint", "lower_arm.ball_joint"), ("toe", "wheel.toe"), ("schema", "schema")]
)
def test_a_missing_value(start: str, field: str) -> None:
    error = file_error(changed(start, None))
    assert error.field == field
    assert f"`{field}` is missing" in str(error)


def test_a_form_of_file_from_the_future() -> None:
    error = file_error(changed("schema", "schema = 2"))
    assert (error.field, error.line) == ("schema", 2)
    assert "`schema` = 2, but this version reads schema 1" in str(error)


@pytest.mark.parametrize(
    ("start", "line", "shift"),
    [
        ("radius", "radius 308", 0),
        ("radius", "radius = ", 0),
        ("radius", "radius = 1\nradius = 2", 1),
        ("[wheel]", "[wheel", 0),
    ],
)
def test_text_that_is_no_toml(start: str, line: str, shift: int) -> None:
    error = file_error(changed(start, line))
    assert error.line == line_of(TEXT, start) + shift
    assert "not valid TOML" in str(error)


@pytest.mark.parametrize(
    ("start", "line", "field", "value", "limit"),
    [
        ("ball_joint", "ball_joint = [nan, 708.0, 182.0]", "lower_arm.ball_joint", [math.nan, 708.0, 182.0], None),
        ("ball_joint", "ball_joint = [-2.0, inf, 182.0]", "lower_arm.ball_joint", [-2.0, math.inf, 182.0], None),
        ("ball_joint", "ball_joint = [10, 360, 195]", "lower_arm.ball_joint", [10.0, 360.0, 195.0], 5.0),
        ("ball_joint", "ball_joint = [-2.0, -708.0, 182.0]", "lower_arm.ball_joint", [-2.0, -708.0, 182.0], None),
        ("radius", "radius = 0.308", "wheel.radius", 0.308, 20.0),
        ("radius", "radius = 1e999", "wheel.radius", math.inf, None),
        ("camber", "camber = 50", "wheel.camber", 50.0, 45.0),
        ("front_brake_share", "front_brake_share = 64.0", "axle.front_brake_share", 64.0, 1.0),
        ("stroke", "stroke = -65.0", "rack.stroke", -65.0, 1e-3),
        ("droop", "droop = -90.0", "limits.droop", -90.0, 0.0),
        ("direction", "direction = [0, 0, 0]", "rack.direction", [0.0, 0.0, 0.0], 1e-6),
        ("top = [-33", "top = [-33.0, 549.0, 842.0]", "right.strut.top", [-33.0, 549.0, 842.0], None),
        ("camber = -0.7", "camber = nan", "right.wheel.camber", math.nan, None),
    ],
)
def test_numbers_that_make_no_car(
    start: str, line: str, field: str, value: float | list[float], limit: float | None, tmp_path: Path
) -> None:
    path = tmp_path / "car.toml"
    path.write_text(changed(start, line), encoding="utf-8")
    with pytest.raises(ss.GeometryError) as caught:
        ss.load(path)
    error = caught.value
    assert (error.field, repr(error.value), error.limit) == (field, repr(value), limit)
    assert (error.path, error.line) == (path, line_of(TEXT, start))
    assert str(error).startswith(f"{path}, line {error.line}: {field} = ")
    assert error.reason in str(error)


def test_a_right_corner_in_the_main_tables() -> None:
    mirrored = re.sub(r"= \[(\S+), (\d)", r"= [\1, -\2", TEXT.partition("[rack]")[0])
    with pytest.raises(ss.GeometryError) as caught:
        ss.Axle.from_toml(mirrored)
    assert caught.value.field == "wheel.centre"
    assert caught.value.line == line_of(TEXT, "centre")
    assert "lies on the right of the car" in str(caught.value)


def test_a_left_corner_in_the_right_tables() -> None:
    with pytest.raises(ss.GeometryError) as caught:
        ss.Axle.from_toml(TEXT + "centre = [0.0, 752.0, 308.0]\n")
    assert caught.value.field.startswith("right.")


def test_tables_tell_the_same_mistakes_without_lines() -> None:
    tables: dict[str, Any] = tomllib.loads(changed("ball_joint", "ball_jiont = [-2.0, 708.0, 182.0]"))
    with pytest.raises(ss.FileError) as caught:
        ss.Axle.from_dict(tables)
    error = caught.value
    assert (error.table, error.key, error.nearest, error.line) == ("lower_arm", "ball_jiont", "ball_joint", None)


def test_a_rack_belongs_to_the_axle_and_not_to_the_right_corner() -> None:
    error = file_error(TEXT + "[right.rack]\ndirection = [0, 1, 0]\n")
    assert (error.table, error.key) == ("right", "rack")
