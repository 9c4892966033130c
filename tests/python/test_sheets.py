"""Alignment sheets: what is read, in which unit, what is refused and how; angles and toe lengths."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import strutsweep as ss
from strutsweep.setting_up.quantities import angle_from_text, angle_text, toe_angle, toe_length

SHEET = """\
sheet = 1
car = "Test \\"car\\""
note = "two\\nlines"
toe_diameter = 431.8

[accuracy]
camber = 0.04

[left]
camber = -0.62
caster = "2°57'"
kingpin_inclination = 13.8
toe = "0.8 mm"
ride_height = 641.0

[right]
camber = "-0°26.4'"
caster = 2.7
kingpin_inclination = "13°37'12\\""
toe = -0.05
"""

# One unit of the last place of a double of some ten degrees.
ROUND_OFF_DEG = 1e-12
# CHECKS relation 11 prints four digits.
PRINTED_DEG = 5e-5


def refusal(text: str) -> ss.FileError:
    with pytest.raises(ss.FileError) as caught:
        ss.Sheet.from_toml(text)
    return caught.value


def test_every_value_is_read_where_it_belongs() -> None:
    sheet = ss.Sheet.from_toml(SHEET)
    assert (sheet.car, sheet.note, sheet.accuracy["camber"], sheet.accuracy["toe"]) == (
        'Test "car"',
        "two\nlines",
        0.04,
        0.03,
    )
    assert (sheet.left.camber, sheet.left.kingpin_inclination, sheet.left.ride_height) == (-0.62, 13.8, 641.0)
    assert sheet.left.caster == pytest.approx(2.95, abs=ROUND_OFF_DEG)
    assert sheet.left.toe == pytest.approx(math.degrees(math.asin(0.8 / 431.8)), abs=ROUND_OFF_DEG)
    assert sheet.right.camber == pytest.approx(-0.44, abs=ROUND_OFF_DEG)
    assert sheet.right.kingpin_inclination == pytest.approx(13.62, abs=ROUND_OFF_DEG)
    assert (sheet.right.caster, sheet.right.toe, sheet.right.ride_height) == (2.7, -0.05, None)
    assert sheet.left.included_angle == pytest.approx(13.18, abs=ROUND_OFF_DEG)
    assert not sheet.shared_toe


def test_what_is_written_reads_back() -> None:
    sheet = ss.Sheet.from_toml(SHEET)
    assert ss.Sheet.from_toml(sheet.to_toml()) == sheet
    total = ss.Sheet.from_toml('sheet = 1\n[left]\ncamber = -1\n[right]\n[total]\ntoe = "0°12\'"\n')
    assert (total.left.toe, total.right.toe, total.shared_toe) == (pytest.approx(0.1), pytest.approx(0.1), True)
    assert ss.Sheet.from_toml(total.to_toml()) == total


def test_a_sheet_of_a_file(tmp_path: Path) -> None:
    path = tmp_path / "sheet.toml"
    sheet = ss.Sheet.from_toml(SHEET)
    sheet.save(path)
    assert ss.load_sheet(path) == sheet
    path.write_text("sheet = 1\n[left]\ncamber = 90\n", encoding="utf-8")
    with pytest.raises(ss.FileError, match=r"sheet\.toml: line 3: left\.camber = 90 deg") as caught:
        ss.load_sheet(path)
    assert (caught.value.path, caught.value.line, caught.value.field) == (path, 3, "left.camber")
    with pytest.raises(ss.FileError, match="No such file"):
        ss.load_sheet(tmp_path / "none.toml")
    with pytest.raises(ss.FileError):
        sheet.save(tmp_path / "no folder" / "sheet.toml")


@pytest.mark.parametrize(
    ("line", "put", "told"),
    [
        ("camber = -0.62", "camber = 90", "told from the horizontal"),
        ("camber = -0.62", "camber = -37", "in minutes"),
        ("camber = -0.62", 'camber = "2 mm"', "is no angle"),
        ("camber = -0.62", "camber = true", "is no number"),
        ("camber = -0.62", "camber = nan", "not a finite number"),
        ("camber = -0.62", "chamber = -0.62", "unknown key `chamber` in [left]"),
        ("toe = -0.05", "toe = 6", "is it a length"),
        ("toe = -0.05", 'toe = "60 mm"', "right.toe"),
        ("toe = -0.05", "toe = 0.1\n[total]\ntoe = 0.2", "both as a total and per wheel"),
        ("toe_diameter = 431.8", "", "toe_diameter"),
        ("toe_diameter = 431.8", "toe_diameter = 17.0", "is it in inches?"),
        ("caster = 2.7", "caster = 270", "right.caster = 270 deg"),
        ("caster = 2.7", 'caster = "2°70\'"', "is no angle"),
        ("ride_height = 641.0", "ride_height = 6.41", "left.ride_height"),
        ("camber = 0.04", "camber = 0.0", "accuracy.camber"),
        ("sheet = 1", "", "`sheet = 1` is missing"),
        ("sheet = 1", "sheet = 2", "`sheet = 1` is missing"),
        ("[accuracy]", "[accuracies]", "unknown key `accuracies` in the top of the sheet"),
        ("camber = -0.62", "camber = ", "not valid TOML"),
    ],
)
def test_what_no_sheet_holds_is_refused_in_plain_words(line: str, put: str, told: str) -> None:
    error = refusal(SHEET.replace(line, put, 1))
    assert told in str(error)
    assert isinstance(error, ss.StrutsweepError)


def test_a_refusal_names_its_line() -> None:
    assert refusal(SHEET.replace("camber = -0.62", "camber = 90")).line == 10
    assert refusal(SHEET.replace("toe = -0.05", "toe = 6")).line == 20
    assert "at least one" in str(refusal("sheet = 1\n[left]\n[right]\n"))


def test_toe_as_a_length_is_checks_relation_11() -> None:
    # IDENTITY, CHECKS section 3, relation 11: 4 mm over a rim of 431.8 mm is 0.5308 deg in total.
    each = toe_angle(4.0, diameter=431.8, wheels=2)
    assert 2.0 * each == pytest.approx(0.5308, abs=PRINTED_DEG)
    assert toe_length(each, each, diameter=431.8) == pytest.approx(4.0, abs=ROUND_OFF_DEG)
    assert toe_length(-each, diameter=431.8) == pytest.approx(-2.0, abs=ROUND_OFF_DEG)
    with pytest.raises(ss.InputError, match="more than the diameter"):
        toe_angle(500.0, diameter=431.8)
    with pytest.raises(ss.InputError, match="inches"):
        toe_length(0.1, diameter=17.0)


@pytest.mark.parametrize(
    ("text", "angle"),
    [
        ("1°30'", 1.5),
        ("-0°42'", -0.7),
        ("\u22120° 30\u2032", -0.5),
        ("+2° 15' 36\"", 2.26),
        ("3 deg 6 min", 3.1),
        ("5°", 5.0),
        ("-42'", -0.7),
        ("1.5", None),
        ("1°60'", None),
        ("2 mm", None),
        ("one", None),
    ],
)
def test_degrees_and_minutes(text: str, angle: float | None) -> None:
    found = angle_from_text(text)
    assert found == (None if angle is None else pytest.approx(angle, abs=ROUND_OFF_DEG))


@given(st.integers(-20 * 60, 20 * 60))
def test_whole_minutes_come_back_from_their_text(minutes: int) -> None:
    assert angle_from_text(angle_text(minutes / 60.0, "minutes")) == pytest.approx(minutes / 60.0, abs=ROUND_OFF_DEG)


def test_nothing_has_no_sign_and_no_number_is_a_dash() -> None:
    assert [angle_text(value) for value in (-0.001, 0.0, -0.0, math.nan)] == ["0.00°", "0.00°", "0.00°", "—"]
    assert angle_text(-0.004, "minutes") == "0°00'"
    assert angle_text(1.0 / 60.0 * 59.6, "minutes", sign=False) == "1°00'"
