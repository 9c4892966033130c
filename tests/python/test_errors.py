"""Every way to give wrong numbers, and what is told of it: the field, the value, the limit, its unit.

Each corner here is the demonstration car's with one thing spoiled, so that the message can only be about that.
"""

from __future__ import annotations

import copy
import math
import pickle
from typing import Any

import numpy as np
import pytest

import strutsweep as ss
from strutsweep.words import HARD_POINTS, MOTIONS, SETTINGS, STATUSES, TRAVEL_AT

EXCEPTIONS = (ss.FileError, ss.GeometryError, ss.InputError, ss.ReachError)


def spoiled(corner: ss.Corner, **fields: object) -> dict[str, Any]:
    """The tables of a corner with some fields replaced, named ``table__key``; None takes one out."""
    tables = copy.deepcopy(corner.to_dict())
    for field, value in fields.items():
        table, key = field.split("__")
        if value is None:
            del tables[table][key]
        else:
            tables[table][key] = value
    return tables


def geometry_error(corner: ss.Corner, **fields: object) -> ss.GeometryError:
    """The error of a corner with some fields replaced."""
    with pytest.raises(ss.GeometryError) as caught:
        ss.Corner.from_dict(spoiled(corner, **fields))
    return caught.value


def shown(value: float | list[float]) -> str:
    """A number or a point as messages show it."""
    if isinstance(value, list):
        return f"[{', '.join(shown(number) for number in value)}]"
    return f"{value:g}" if math.isfinite(value) else {"nan": "NaN"}.get(str(value), str(value))


# The family.


@pytest.mark.parametrize("exception", [ss.StrutsweepError, *EXCEPTIONS])
def test_every_exception_is_a_strutsweep_error_and_a_value_error(exception: type[ss.StrutsweepError]) -> None:
    assert issubclass(exception, ss.StrutsweepError)
    assert issubclass(exception, ValueError)


def raised_by_the_engine(corner: ss.Corner) -> list[ss.StrutsweepError]:
    """One of each kind, with the attributes that the engine gives it."""
    mistakes = [
        lambda: corner.replace(camber=60.0),
        lambda: ss.Axle.from_toml("schema = 1\n[lower_arm]\nfornt = [1, 2, 3]\n"),
        lambda: corner.solve(travel=math.inf),
        lambda: corner.solve(rack=300.0),
        lambda: ss.sweep(corner, travel=np.zeros((2, 2))),
        lambda: ss.load("no such folder/car.toml"),
    ]
    found = []
    for mistake in mistakes:
        with pytest.raises(ss.StrutsweepError) as caught:
            mistake()
        found.append(caught.value)
    assert {type(error) for error in found} == set(EXCEPTIONS)
    return found


@pytest.mark.parametrize("protocol", range(2, pickle.HIGHEST_PROTOCOL + 1))
def test_exceptions_can_be_pickled(corner: ss.Corner, protocol: int) -> None:
    for error in raised_by_the_engine(corner):
        back = pickle.loads(pickle.dumps(error, protocol))
        assert type(back) is type(error)
        assert str(back) == str(error)
        assert vars(back) == vars(error)
        assert vars(back), "an exception of the engine has attributes"


def test_exceptions_can_be_copied(corner: ss.Corner) -> None:
    for error in raised_by_the_engine(corner):
        for back in (copy.copy(error), copy.deepcopy(error)):
            assert (type(back), str(back), vars(back)) == (type(error), str(error), vars(error))


@pytest.mark.parametrize("exception", EXCEPTIONS)
def test_attributes_that_were_not_given_have_their_defaults(exception: type[ss.StrutsweepError]) -> None:
    bare = exception("something is wrong")
    assert str(bare) == "something is wrong"
    for name in exception.__annotations__:
        assert getattr(bare, name) in (None, "", 0)


def test_every_attribute_is_documented() -> None:
    for exception in EXCEPTIONS:
        for name in exception.__annotations__:
            assert name in exception.__doc__, f"{exception.__name__}.{name}"


# Geometry: numbers that make no corner.


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize(
    "field",
    [
        "lower_arm__front",
        "lower_arm__rear",
        "lower_arm__ball_joint",
        "strut__top",
        "strut__low",
        "strut__clamp",
        "strut__bearing_axis",
        "tie_rod__inner",
        "tie_rod__outer",
        "wheel__centre",
        "rack__direction",
    ],
)
@pytest.mark.parametrize("axis", range(3))
def test_a_coordinate_that_is_not_finite(corner: ss.Corner, field: str, number: float, axis: int) -> None:
    value = [3.0, 700.0, 200.0]
    value[axis] = number
    tables = {**corner.to_dict(), "rack": {"direction": [0.0, 1.0, 0.0]}}
    table, key = field.split("__")
    tables[table] = {**tables[table], key: value}
    with pytest.raises(ss.GeometryError) as caught:
        ss.Corner.from_dict(tables)
    error = caught.value
    assert error.field == f"{table}.{key}"
    assert repr(error.value) == repr(value)
    assert error.reason == "is not a finite number"
    assert (error.limit, error.unit, error.path, error.line) == (None, None, None, None)
    assert str(error) == f"{table}.{key} = {shown(value)} is not a finite number"


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("field", ["wheel__radius", "wheel__camber", "wheel__toe"])
def test_a_number_that_is_not_finite(corner: ss.Corner, field: str, number: float) -> None:
    error = geometry_error(corner, **{field: number})
    name = field.replace("__", ".")
    assert (error.field, repr(error.value)) == (name, repr(number))
    assert str(error) == f"{name} = {shown(number)} is not a finite number"


@pytest.mark.parametrize(
    ("field", "value", "limit", "unit", "words"),
    [
        # Metres, or half a wheel, where millimetres belong.
        ("wheel__radius", 0.308, 20.0, "mm", "is less than 20 mm"),
        ("wheel__radius", -308.0, 20.0, "mm", "is less than 20 mm"),
        ("wheel__radius", 3080.0, 2000.0, "mm", "is more than 2000 mm"),
        ("wheel__camber", 50.0, 45.0, "deg", "is more than 45 deg"),
        ("wheel__camber", -50.0, -45.0, "deg", "is less than -45 deg"),
        ("wheel__toe", 46.5, 45.0, "deg", "is more than 45 deg"),
        ("strut__top", [-35.0, 548.0, 840e3], 20000.0, "mm", "micrometres"),
        ("wheel__centre", [0.0, 0.752, 0.308], 50.0, "mm", "metres"),
        ("wheel__centre", [0.0, 0.0, 308.0], 50.0, "mm", "left from right"),
    ],
)
def test_a_number_beyond_its_limit(
    corner: ss.Corner, field: str, value: float | list[float], limit: float, unit: str, words: str
) -> None:
    error = geometry_error(corner, **{field: value})
    assert (error.field, error.value, error.limit, error.unit) == (field.replace("__", "."), value, limit, unit)
    assert words in error.reason
    assert str(error) == f"{error.field} = {shown(value)} {error.reason}"
    assert f"{limit:g} {unit}" in str(error)


@pytest.mark.parametrize("field", ["lower_arm__ball_joint", "strut__top", "strut__low", "tie_rod__outer"])
def test_a_point_with_the_wrong_sign_lies_across_the_car(each_corner: ss.Corner, field: str) -> None:
    table, key = field.split("__")
    x, y, z = each_corner.to_dict()[table][key]
    error = geometry_error(each_corner, **{field: [x, -y, z]})
    here, there = each_corner.side, each_corner.mirror().side
    assert error.field == f"{table}.{key}"
    assert error.value == [x, -y, z]
    assert f"lies on the {there} of the car" in str(error)
    assert f"this corner is a {here} one" in str(error)


def on_line(start: np.ndarray, end: np.ndarray, share: float) -> list[float]:
    """A point on the line from `start` to `end`."""
    return (start + share * (end - start)).tolist()


def test_ball_joint_on_the_axis_of_the_arm(each_corner: ss.Corner) -> None:
    at = on_line(each_corner.point("arm_front"), each_corner.point("arm_rear"), 0.25)
    error = geometry_error(each_corner, lower_arm__ball_joint=at)
    assert (error.field, error.limit, error.unit) == ("lower_arm.ball_joint", 5.0, "mm")
    assert "from the lower arm's axis" in error.reason
    assert "at least 5 mm" in str(error)


def test_arm_pivots_in_one_place(each_corner: ss.Corner) -> None:
    error = geometry_error(each_corner, lower_arm__rear=each_corner.point("arm_front").tolist())
    assert (error.field, error.limit, error.unit) == ("lower_arm.rear", 5.0, "mm")
    assert "lower_arm.front" in str(error)


def test_strut_of_no_length(each_corner: ss.Corner) -> None:
    error = geometry_error(each_corner, strut__top=each_corner.point("strut_low").tolist())
    assert (error.field, error.limit, error.unit) == ("strut.top", 5.0, "mm")
    assert "strut.low" in str(error)


def test_strut_top_on_the_ball_joint(each_corner: ss.Corner) -> None:
    error = geometry_error(each_corner, strut__top=each_corner.point("ball_joint").tolist())
    assert (error.field, error.limit, error.unit) == ("strut.top", 5.0, "mm")
    assert "lower_arm.ball_joint" in str(error)


def test_top_and_low_swapped(each_corner: ss.Corner) -> None:
    top, low = (each_corner.point(name).tolist() for name in ("strut_top", "strut_low"))
    error = geometry_error(each_corner, strut__top=low, strut__low=top)
    assert error.field == "strut.top"
    assert error.value == low
    assert "is not above strut.low" in error.reason
    assert "swapped" in str(error)


def test_top_below_the_ball_joint(each_corner: ss.Corner) -> None:
    x, y, _ = each_corner.point("ball_joint").tolist()
    error = geometry_error(each_corner, strut__top=[x, y, 40.0], strut__low=[x, y, 20.0])
    assert error.field == "strut.top"
    assert "is not above lower_arm.ball_joint" in error.reason


def test_tie_rod_of_no_length(each_corner: ss.Corner) -> None:
    error = geometry_error(each_corner, tie_rod__inner=each_corner.point("tie_rod_outer").tolist())
    assert (error.field, error.limit, error.unit) == ("tie_rod.outer", 5.0, "mm")
    assert "tie_rod.inner" in str(error)


def test_tie_rod_along_the_steering_axis(each_corner: ss.Corner) -> None:
    axis = each_corner.point("strut_top") - each_corner.point("ball_joint")
    inner = (each_corner.point("tie_rod_outer") + 0.5 * axis).tolist()
    error = geometry_error(each_corner, tie_rod__inner=inner)
    assert (error.field, error.value, error.limit, error.unit) == ("tie_rod.inner", inner, 5.0, "deg")
    assert "lies along the steering axis" in error.reason
    assert "at least 5 deg" in str(error)


@pytest.mark.parametrize(("field", "point"), [("tie_rod.outer", "tie_rod__outer"), ("tie_rod.inner", "tie_rod__inner")])
def test_tie_rod_joint_on_the_steering_axis(each_corner: ss.Corner, field: str, point: str) -> None:
    at = on_line(each_corner.point("ball_joint"), each_corner.point("strut_top"), 0.3)
    error = geometry_error(each_corner, **{point: at})
    assert (error.field, error.value, error.limit, error.unit) == (field, at, 5.0, "mm")
    assert "the steering axis" in error.reason


def test_tie_rod_in_line_with_the_steering_arm(each_corner: ss.Corner) -> None:
    # Inner joint, outer joint and steering axis in one plane: over-centre at design.
    ball_joint, top = each_corner.point("ball_joint"), each_corner.point("strut_top")
    outer = each_corner.point("tie_rod_outer")
    axis = top - ball_joint
    foot = ball_joint + axis * np.dot(outer - ball_joint, axis) / np.dot(axis, axis)
    inner = (outer + 2.0 * (outer - foot)).tolist()
    error = geometry_error(each_corner, tie_rod__inner=inner)
    assert (error.field, error.limit, error.unit) == ("tie_rod.inner", 0.05, "1")
    assert "over-centre" in error.reason
    assert "at least 0.05" in str(error)


def test_spin_axis_along_the_steering_axis(each_corner: ss.Corner) -> None:
    # A wheel cambered by -30 deg spins about an axis that rises outboard at 30 deg; the strut is laid along it.
    outboard = 1.0 if each_corner.side == "left" else -1.0
    spin_axis = np.array([0.0, outboard * math.cos(math.radians(30.0)), math.sin(math.radians(30.0))])
    ball_joint = each_corner.point("ball_joint")
    top, low = ball_joint + 600.0 * spin_axis, ball_joint + 200.0 * spin_axis
    error = geometry_error(each_corner, wheel__camber=-30.0, strut__top=top.tolist(), strut__low=low.tolist())
    assert (error.field, error.value, error.limit, error.unit) == ("strut.top", top.tolist(), 5.0, "deg")
    assert "spin axis" in error.reason


def test_arm_that_does_not_lift_the_wheel(each_corner: ss.Corner) -> None:
    x, y, z = each_corner.point("arm_front").tolist()
    error = geometry_error(each_corner, lower_arm__rear=[x, y, z + 200.0])
    assert (error.field, error.limit, error.unit) == ("lower_arm.ball_joint", 0.05, "1")
    assert "does not lift the wheel" in error.reason


@pytest.mark.parametrize(("table", "key"), [("strut", "bearing_axis"), ("rack", "direction")])
def test_direction_of_no_length(corner: ss.Corner, table: str, key: str) -> None:
    tables = corner.to_dict()
    tables[table] = {**tables.get(table, {}), key: [0.0, 0.0, 0.0]}
    with pytest.raises(ss.GeometryError) as caught:
        ss.Corner.from_dict(tables)
    assert caught.value.field == f"{table}.{key}"
    assert "needs a length" in str(caught.value)


def test_replace_is_checked_like_any_corner(corner: ss.Corner) -> None:
    with pytest.raises(ss.GeometryError) as caught:
        corner.replace(ball_joint=[math.nan, 708.0, 182.0])
    assert caught.value.field == "lower_arm.ball_joint"
    with pytest.raises(ss.GeometryError) as caught:
        corner.replace(wheel_radius=0.3)
    assert (caught.value.field, caught.value.limit, caught.value.unit) == ("wheel.radius", 20.0, "mm")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"ball_joint": 3.0}, "ball_joint = 3.0 is not three numbers"),
        ({"ball_joint": [1.0, 2.0]}, "ball_joint = [1.0, 2.0] is not three numbers"),
        ({"ball_joint": "708"}, "ball_joint = '708' is not three numbers"),
        ({"camber": "-2"}, "camber is not a number"),
        ({"camber": [1.0, 2.0]}, "camber is not a number"),
        ({"name": 3}, "str"),
    ],
)
def test_replace_refuses_values_of_the_wrong_kind(corner: ss.Corner, changes: dict[str, object], words: str) -> None:
    with pytest.raises(TypeError) as caught:
        corner.replace(**changes)
    assert words in str(caught.value)


# Tables of the wrong form.


REQUIRED = {
    "lower_arm": ("front", "rear", "ball_joint"),
    "strut": ("top", "low"),
    "tie_rod": ("inner", "outer"),
    "wheel": ("centre", "radius", "camber", "toe"),
}


@pytest.mark.parametrize("field", [f"{table}.{key}" for table, keys in REQUIRED.items() for key in keys])
@pytest.mark.parametrize("whole_car", [False, True], ids=["corner", "axle"])
def test_a_missing_field(car: ss.Axle, field: str, whole_car: bool) -> None:
    tables = car.to_dict() if whole_car else car.left.to_dict()
    table, key = field.split(".")
    del tables[table][key]
    with pytest.raises(ss.FileError) as caught:
        (ss.Axle if whole_car else ss.Corner).from_dict(tables)
    assert caught.value.field == field
    assert f"`{field}` is missing" in str(caught.value)


@pytest.mark.parametrize(
    ("table", "key", "value", "words"),
    [
        ("lower_arm", "ball_joint", 3.0, "is a number where three numbers [x, y, z] should be"),
        ("lower_arm", "ball_joint", "708", "is text where three numbers [x, y, z] should be"),
        ("lower_arm", "ball_joint", [1.0, 2.0], "has 2 numbers where three should be"),
        ("lower_arm", "ball_joint", [1.0, 2.0, 3.0, 4.0], "has 4 numbers where three should be"),
        ("lower_arm", "ball_joint", [1.0, "2", 3.0], "something else than numbers"),
        ("lower_arm", "ball_joint", {"x": 1.0}, "is a table where three numbers [x, y, z] should be"),
        ("wheel", "radius", [308.0], "is a list where a number should be"),
        ("wheel", "radius", "308", "is text where a number should be"),
        ("wheel", "radius", True, "is true or false where a number should be"),
    ],
)
def test_a_field_of_the_wrong_kind(corner: ss.Corner, table: str, key: str, value: object, words: str) -> None:
    with pytest.raises(ss.FileError) as caught:
        ss.Corner.from_dict(spoiled(corner, **{f"{table}__{key}": value}))
    assert caught.value.field == f"{table}.{key}"
    assert str(caught.value).startswith(f"`{table}.{key}` ")
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("table", "key", "nearest"),
    [
        ("lower_arm", "ball_jiont", "ball_joint"),
        ("lower_arm", "Front", "front"),
        ("strut", "lower", "low"),
        ("tie_rod", "outter", "outer"),
        ("wheel", "center", "centre"),
        ("wheel", "cambre", "camber"),
        ("wheel", "diameter_of_the_rim", None),
    ],
)
def test_an_unknown_key_is_told_with_its_table_and_the_nearest(
    corner: ss.Corner, table: str, key: str, nearest: str | None
) -> None:
    with pytest.raises(ss.FileError) as caught:
        ss.Corner.from_dict(spoiled(corner, **{f"{table}__{key}": 1.0}))
    error = caught.value
    assert (error.table, error.key, error.nearest) == (table, key, nearest)
    assert f"`{key}` in [{table}]" in str(error)
    assert (f"did you mean `{nearest}`?" if nearest else "keys known there: centre, radius, camber, toe") in str(error)


@pytest.mark.parametrize(("right", "wrong"), [("wheel", "weel"), ("lower_arm", "lower_arms"), ("tie_rod", "tierod")])
@pytest.mark.parametrize("whole_car", [False, True], ids=["corner", "axle"])
def test_an_unknown_table_is_told_with_the_nearest(car: ss.Axle, right: str, wrong: str, whole_car: bool) -> None:
    tables = car.to_dict() if whole_car else car.left.to_dict()
    tables[wrong] = tables.pop(right)
    with pytest.raises(ss.FileError) as caught:
        (ss.Axle if whole_car else ss.Corner).from_dict(tables)
    assert (caught.value.table, caught.value.key, caught.value.nearest) == ("", wrong, right)


@pytest.mark.parametrize("tables", [[], "text", 3, None])
def test_tables_that_are_no_dictionary(tables: object) -> None:
    for maker in (ss.Corner.from_dict, ss.Axle.from_dict):
        with pytest.raises(TypeError, match="dict"):
            maker(tables)


def test_keys_that_are_no_text(corner: ss.Corner) -> None:
    with pytest.raises(TypeError, match="3 is not text"):
        ss.Corner.from_dict({**corner.to_dict(), 3: {}})


@pytest.mark.parametrize("value", [1j, object()])
def test_values_that_have_no_place_in_a_table(corner: ss.Corner, value: object) -> None:
    with pytest.raises(TypeError, match=r"wheel\.radius is a"):
        ss.Corner.from_dict(spoiled(corner, wheel__radius=value))


def test_a_whole_number_too_large_for_a_float_is_wrong_input(corner: ss.Corner) -> None:
    with pytest.raises(ss.StrutsweepError, match=r"wheel\.radius"):
        ss.Corner.from_dict(spoiled(corner, wheel__radius=10**400))


def test_tables_that_hold_themselves_are_refused(run_program: Any) -> None:
    # In a process of its own: without a bound on the depth it would die with the stack.
    run_program(
        "import strutsweep as ss\n"
        "tables, points = {}, []\n"
        "tables['wheel'] = tables\n"
        "points.append(points)\n"
        "for wrong in (tables, {'wheel': {'centre': points}}):\n"
        "    try:\n"
        "        ss.Corner.from_dict(wrong)\n"
        "    except (ValueError, TypeError, RecursionError) as error:\n"
        "        print(error)\n"
        "    else:\n"
        "        raise SystemExit('taken')\n"
    )


# Single poses.


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("name", [*MOTIONS, *SETTINGS])
def test_an_input_that_is_not_finite(corner: ss.Corner, name: str, number: float) -> None:
    with pytest.raises(ss.InputError) as caught:
        corner.solve(**{name: number})
    error = caught.value
    assert (error.name, repr(error.value), error.index) == (name, repr(number), None)
    assert str(error) == f"{name} = {shown(number)} is not a finite number"


@pytest.mark.parametrize("value", ["20", None, [20.0], np.array([1.0, 2.0]), 1j])
def test_an_input_that_is_no_number(corner: ss.Corner, value: object) -> None:
    with pytest.raises(TypeError) as caught:
        corner.solve(rack=value)
    told = " ".join([str(caught.value), *getattr(caught.value, "__notes__", [])])
    assert "'rack'" in told


def test_an_unknown_way_to_measure_travel(corner: ss.Corner) -> None:
    with pytest.raises(ss.InputError) as caught:
        corner.solve(travel_at="grund")
    assert (caught.value.name, caught.value.value) == ("travel_at", "grund")
    assert ", ".join(TRAVEL_AT) in str(caught.value)
    assert 'did you mean "ground"?' in str(caught.value)


@pytest.mark.parametrize(
    ("inputs", "part"),
    [
        # See the same cases of the sweep for why these parts run out.
        ({"travel": 500.0}, "lower_arm"),
        ({"travel": -500.0}, "lower_arm"),
        ({"rack": 300.0}, "tie_rod"),
        ({"rack": -300.0}, "tie_rod"),
        ({"tie_rod": 200.0}, "tie_rod"),
    ],
)
def test_a_pose_out_of_reach(each_corner: ss.Corner, inputs: dict[str, float], part: str) -> None:
    with pytest.raises(ss.ReachError) as caught:
        each_corner.solve(**inputs)
    error = caught.value
    assert error.part == part
    assert error.status == STATUSES[part]["code"]
    assert error.reason == STATUSES[part]["reason"]
    assert error.reason in str(error)


def test_inputs_beyond_all_sense_are_refused_at_once(run_program: Any) -> None:
    # In a process of its own: what takes for ever cannot be interrupted, as a single pose holds the interpreter.
    run_program(
        "import strutsweep as ss\n"
        "from strutsweep.words import MOTIONS, SETTINGS\n"
        "corner = ss.demo().left\n"
        "for name in (*MOTIONS, *SETTINGS):\n"
        "    for value in (1e9, -1e9, 1e300, -1e300):\n"
        "        try:\n"
        "            pose = corner.solve(**{name: value})\n"
        "        except ss.StrutsweepError as error:\n"
        "            assert str(error), name\n"
        "        else:\n"
        "            raise SystemExit(f'{name} = {value}: {pose}')\n",
        timeout_s=20.0,
    )


# Names.


def test_an_unknown_point(corner: ss.Corner) -> None:
    for asked in (corner, corner.solve()):
        with pytest.raises(ss.InputError) as caught:
            asked.point("strut_lwo")
        assert (caught.value.name, caught.value.value) == ("name", "strut_lwo")
        assert 'did you mean "strut_low"?' in str(caught.value)


def test_an_unknown_field_of_replace(corner: ss.Corner) -> None:
    with pytest.raises(ss.InputError) as caught:
        corner.replace(ball_jiont=[0.0, 0.0, 0.0])
    assert caught.value.value == "ball_jiont"
    assert 'did you mean "ball_joint"?' in str(caught.value)
    assert all(name in str(caught.value) for name in HARD_POINTS)


def test_an_unknown_demonstration_car() -> None:
    with pytest.raises(ss.InputError) as caught:
        ss.demo("gravel_hutch")
    assert (caught.value.name, caught.value.value) == ("name", "gravel_hutch")
    assert 'did you mean "gravel_hatch"?' in str(caught.value)
    with pytest.raises(ss.InputError) as caught:
        ss.demo("xxxx")
    assert ", ".join(ss.demos()) in str(caught.value)


def test_a_right_corner_given_as_the_left_one(car: ss.Axle) -> None:
    for pair in ((car.right,), (car.left, car.left), (car.right, car.left)):
        with pytest.raises(ss.GeometryError) as caught:
            ss.Axle.from_corners(*pair)
        assert caught.value.field == "wheel.centre"
        assert "of the car" in str(caught.value)


def test_corners_with_racks_of_their_own(car: ss.Axle) -> None:
    leaning = car.right.replace(rack_direction=[0.0, 1.0, 0.1])
    with pytest.raises(ss.GeometryError) as caught:
        ss.Axle.from_corners(car.left, leaning)
    assert (caught.value.field, caught.value.value) == ("rack.direction", [0.0, 1.0, 0.1])
    assert "an axle has one rack" in str(caught.value)
