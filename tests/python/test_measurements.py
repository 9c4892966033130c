"""Measurements: made, added up, written and read again, and refused with the place of what is wrong."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import strutsweep as ss


@pytest.fixture
def some() -> ss.Measurements:
    """A zeroed curve with accuracies of its own, a curve over plate positions, a number at the hub."""
    bump = ss.Measurements.curve(
        "toe",
        [0.11, 0.0, -0.14],
        [0.02, 0.01, 0.03],
        travel=[-40.0, 0.0, 40.0],
        rack=5.0,
        zeroed=True,
        name='bump, \u00e9 "1"',
    )
    plate = ss.Measurements.curve("camber", [-0.5, -1.3], 0.05, mount_in=[0.0, 10.0])
    return bump + plate + ss.Measurements.curve("caster", 5.9, 0.1, travel=12.5, travel_at="hub")


def assert_same(found: ss.Measurements, wanted: ss.Measurements) -> None:
    assert (found.reading, found.travel_at, found.curves, found.zeroed, found.side) == (
        wanted.reading,
        wanted.travel_at,
        wanted.curves,
        wanted.zeroed,
        wanted.side,
    )
    for one, other in zip(
        (found.value, found.accuracy, found.rows), (wanted.value, wanted.accuracy, wanted.rows), strict=True
    ):
        np.testing.assert_array_equal(one, other)


@pytest.mark.parametrize("ending", [".toml", ".csv"])
def test_files_keep_every_digit(some: ss.Measurements, tmp_path: Path, ending: str) -> None:
    thirds = ss.Measurements.curve("scrub_radius", [1.0 / 3.0, -2e-17], 0.1, mount_in=[0.1 + 0.2, 1e-3])
    some.save(tmp_path / f"all{ending}")
    assert_same(ss.Measurements.load(tmp_path / f"all{ending}"), some)
    thirds.save(tmp_path / f"thirds{ending}")
    assert_same(ss.Measurements.load(tmp_path / f"thirds{ending}"), thirds)


@pytest.mark.parametrize("ending", [".toml", ".csv"])
def test_files_keep_the_side(some: ss.Measurements, tmp_path: Path, ending: str) -> None:
    right = some + ss.Measurements.curve("caster", 5.9, 0.1, name="again", side="right")
    assert (some.side, right.side, right.chosen(right.value > 0.0).side) == (None, "right", "right")
    assert "of the right corner" in repr(right)
    right.save(tmp_path / f"all{ending}")
    assert_same(ss.Measurements.load(tmp_path / f"all{ending}"), right)


def test_measurements_of_two_corners_are_kept_apart(corner: ss.Corner) -> None:
    car = ss.demo("gravel_hatch")
    of_left, of_right = (
        ss.Measurements.from_sweep(ss.sweep(side, travel=[-30.0, 0.0, 30.0]), "toe", 0.02)
        for side in (car.left, car.right)
    )
    assert (of_left.side, of_right.side) == ("left", "right")
    with pytest.raises(ss.InputError, match="some are of the left corner and some of the right one"):
        of_left + of_right
    # Of a whole car one wheel is chosen; an empty sheet keeps its side.
    both = ss.sweep(car, travel=[-30.0, 0.0, 30.0])
    assert ss.Measurements.from_sweep(both.sel(side="right"), "toe", 0.02).side == "right"
    with pytest.raises(ss.InputError, match="it is of both wheels; choose one"):
        ss.Measurements.from_sweep(both, "toe", 0.02)
    nothing = of_right.chosen(np.zeros(3, dtype=bool))
    assert ss.Measurements.from_dict(nothing.to_dict()).side == "right"
    priors = {"tie_rod.inner": ss.normal(2.0)}
    with pytest.raises(ss.InputError, match="they are of the right corner, and this is the left one: take car.right"):
        ss.fit(car.left, of_right, priors)
    assert ss.fit(car.right, of_right, priors).converged
    with pytest.raises(ss.InputError, match="they are of the right corner"):
        ss.next_measurements(ss.fit(car.left, of_left, priors), of_right, "camber")
    with pytest.raises(ss.InputError, match="'middle'"):
        ss.Measurements.curve("toe", 0.1, 0.02, side="middle")  # type: ignore[arg-type]


def test_a_hand_written_file_is_read(tmp_path: Path) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text(
        'schema = 1\nnote = "measured on plates"\n[[curve]]\nreading = "toe"\naccuracy = 0.02\nzeroed = true\n'
        "travel = [-40, 0, 40]\nvalue = [0.1, 0, -0.1]\n",
        encoding="utf-8",
    )
    found = ss.Measurements.load(path)
    assert (len(found), found.names, found.zeroed[0], found.described(2)) == (3, ("toe",), True, "toe, travel 40 mm")


def test_csv_of_a_spreadsheet_is_read(tmp_path: Path) -> None:
    # With a byte-order mark, blanks, empty cells and columns in any order.
    path = tmp_path / "sheet.csv"
    path.write_text(
        "\ufeffvalue, reading ,accuracy,travel,zeroed\r\n0.1,toe,0.02,-40,yes\r\n0,toe,0.02,,yes\r\n"
        "5.9,caster,0.1,,\r\n",
        encoding="utf-8",
    )
    found = ss.Measurements.load(path)
    assert found.zeroed == (True, True, False)
    assert found.described(0) == "toe, travel -40 mm"
    assert found.described(1) == "toe"


def test_from_sweep_keeps_pose_and_leaves_out_what_is_out_of_reach(corner: ss.Corner) -> None:
    swept = ss.sweep(corner, travel=[-40.0, 0.0, 900.0], mount_in=[0.0, 8.0], rack=3.0)
    found = ss.Measurements.from_sweep(swept, ["toe", "camber"], {"toe": 0.01, "camber": 0.02})
    assert len(found) == 8
    place = found.names.index("camber") * 4 + 1
    pose = corner.solve(travel=-40.0, mount_in=8.0, rack=3.0)
    assert found.value[place] == pose.camber
    assert found.described(place) == "camber, mount_in 8 mm, travel -40 mm, rack 3 mm"
    noisy = ss.Measurements.from_sweep(swept, "toe", 0.5, seed=1)
    assert 0.05 < np.abs(noisy.value - found.value[:4]).std() < 2.0
    with pytest.raises(ss.InputError, match="no 'cambre'"):
        ss.Measurements.from_sweep(swept, "cambre", 0.1)


def test_some_can_be_chosen_and_printed(some: ss.Measurements) -> None:
    chosen = some.chosen(np.array([curve == "camber" for curve in some.curves]))
    assert chosen.names == ("camber",)
    assert "changes only" in str(some.table())
    assert "<table>" in some._repr_html_()
    assert repr(some).startswith("Measurements(6 in 3 curves")
    assert len(ss.Measurements.none() + some) == 6


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"reading": "cambre"}, "did you mean 'camber'"),
        ({"value": [math.nan, 0.0]}, "not a finite number"),
        ({"value": [[0.0]]}, "dimensions"),
        ({"value": "much"}, "not made of numbers"),
        ({"accuracy": 0.0}, "accuracy = 0 deg is not above 0"),
        ({"accuracy": -0.1}, "not above 0"),
        ({"accuracy": [0.1, 0.1, 0.1]}, "3 numbers for 2 values"),
        ({"travel": [0.0, 1.0, 2.0]}, "3 numbers for 2 values"),
        ({"travels": 1.0}, "did you mean 'travel'"),
        ({"travel_at": "spring"}, "travel_at"),
        ({"value": 0.0, "zeroed": True}, "says nothing of changes"),
    ],
)
def test_nonsense_is_refused(given: dict[str, Any], told: str) -> None:
    arguments: dict[str, Any] = {"reading": "camber", "value": [0.0, 1.0], "accuracy": 0.1} | given
    with pytest.raises(ss.InputError, match=told):
        ss.Measurements.curve(**arguments)


@pytest.mark.parametrize(
    ("name", "text", "error", "told"),
    [
        ("a.toml", "schema = 2\n", ss.FileError, "schema = 2, and 1 is known"),
        ("a.toml", "", ss.FileError, "schema = 1 is missing"),
        ("a.toml", "schema = 1\ncurves = 1\n", ss.FileError, "there is no 'curves'"),
        ("a.toml", "schema = 1\ncurve = 1\n", ss.FileError, "must be tables"),
        ("a.toml", "schema = 1\nside = [1]\n", ss.FileError, "is neither left nor right"),
        ("a.toml", 'schema = 1\nside = "centre"\n', ss.FileError, "side = 'centre' is neither left nor right"),
        ("a.csv", "reading,value,accuracy,side\ntoe,1,1,rigth\n", ss.FileError, "line 2: side = 'rigth' is neither"),
        (
            "a.csv",
            "reading,value,accuracy,side\ntoe,1,1,left\ntoe,1,1,\ntoe,1,1,right\n",
            ss.FileError,
            "line 4: side = 'right' is not left, as before",
        ),
        ("a.toml", "schema = \n", ss.FileError, "line 1"),
        ("a.toml", 'schema = 1\n[[curve]]\nreading = "toe"\nvalue = 1\n', ss.FileError, "curve 1: accuracy is missing"),
        ("a.toml", 'schema = 1\n[[curve]]\nraeding = "toe"\n', ss.FileError, "did you mean 'reading'"),
        ("a.toml", 'schema = 1\n[[curve]]\nreading = "toe"\nvalue = 1\naccuracy = -1\n', ss.InputError, "curve 1: acc"),
        ("a.csv", "reading,value\n", ss.FileError, "column accuracy is missing"),
        ("a.csv", "reading,value,accuracy,travl\n", ss.FileError, "did you mean 'travel'"),
        ("a.csv", "reading,value,accuracy\ntoe,1\n", ss.FileError, "line 2: not as many cells"),
        ("a.csv", "reading,value,accuracy\ntoe,x,1\n", ss.FileError, "line 2: value = 'x' is not a number"),
        ("a.csv", "reading,value,accuracy,zeroed\ntoe,1,1,maybe\n", ss.FileError, "line 2: zeroed"),
        ("a.csv", "reading,value,accuracy\ntoo,1,1\n", ss.InputError, "did you mean 'toe'"),
        ("a.txt", "", ss.FileError, "ends in none of"),
    ],
)
def test_files_that_are_none_are_refused(
    tmp_path: Path, name: str, text: str, error: type[ss.StrutsweepError], told: str
) -> None:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    with pytest.raises(error, match=told) as caught:
        ss.Measurements.load(path)
    assert str(path) in str(caught.value)


def test_files_that_are_not_there_or_not_writable(tmp_path: Path, some: ss.Measurements) -> None:
    with pytest.raises(ss.FileError, match=r"none\.csv: cannot be read: No such file or directory$"):
        ss.Measurements.load(tmp_path / "none.csv")
    (tmp_path / "sheet.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ss.FileError, match=r"sheet\.csv: is no text in UTF-8$"):
        ss.Measurements.load(tmp_path / "sheet.csv")
    with pytest.raises(ss.FileError, match="cannot be written"):
        some.save(tmp_path / "no folder" / "a.toml")
    with pytest.raises(ss.FileError, match="ends in none of"):
        some.save(tmp_path / "a.xlsx")


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"accuracy": {"camber": 0.1}}, "accuracy: there is none for toe"),
        ({"accuracy": -0.1}, "accuracy = -0.1 deg is not above 0"),
        ({"accuracy": "fine"}, "accuracy: 'fine' is not a number"),
        ({"seed": -1}, "seed = -1 is not a whole number"),
        ({"dataset": 3}, "int is no result of a sweep"),
    ],
)
def test_gauges_that_are_none_are_refused(given: dict[str, Any], told: str) -> None:
    swept = ss.sweep(ss.demo("gravel_hatch").left, travel=[0.0, 10.0])
    arguments: dict[str, Any] = {"dataset": swept, "readings": ["toe"], "accuracy": 0.02} | given
    with pytest.raises(ss.InputError, match=told):
        ss.Measurements.from_sweep(**arguments)
