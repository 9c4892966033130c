"""The commands about both wheels at once, against the Python interface."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner, Result

import strutsweep as ss
from strutsweep.command_line import app

# A table rounds to its last decimal.
HALF = 0.5 + 1e-6


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments], catch_exceptions=False)


def fine(*arguments: object) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    return result.stdout


def row(text: str, first: str) -> list[float]:
    """The numbers of the table's line that begins so."""
    line = next(line for line in text.splitlines() if line.split() and line.split()[0] == first)
    return [float(word) for word in line.split() if word != "none"]


@pytest.mark.parametrize("name", ss.demos())
def test_lock_tells_the_limits_and_the_curves(name: str) -> None:
    car = ss.demo(name)
    text = fine("lock", f"demo:{name}", "--travel", "10")
    left, right = ss.largest_lock(car, travel=10.0)
    assert str(left) in text and str(right) in text
    most = min(abs(left.rack), abs(right.rack))
    last = row(text, f"{most:.1f}")
    curves = ss.steering_curves(car, rack=np.linspace(-most, most, 13), travel=10.0).isel(rack=-1)
    shown = [
        curves.turns,
        curves.mean_steer,
        curves.ackermann_by_angle,
        curves.ackermann_by_cotangent,
        curves.steering_ratio,
    ]
    for value, found, decimals in zip(map(float, shown), last[1:], (3, 2, 0, 0, 3), strict=False):
        assert found == pytest.approx(value, abs=HALF * 10.0**-decimals)
    toe_out = ss.sweep(car, inner_steer=[20.0, -20.0], travel=10.0).toe_out_on_turns.values
    assert f"at 20 deg: {toe_out[0]:.2f} deg to the left; {toe_out[1]:.2f} deg to the right." in text
    assert f"at least {car.limits['tie_rod_margin']:g} (limits.tie_rod_margin)" in text
    # Jacking at either lock; a lock to the left is the rack's own left only where it stands ahead of the axle.
    for lock, turn in ((left, "left"), (right, "right")):
        jacked = ss.steering_curves(car, rack=[np.sign(lock.rack) * most], travel=10.0)
        rise, lean = float(jacked.body_rise[0]), float(jacked.body_lean[0])
        way = "right" if lean > 0.0 else "left"
        assert (
            f"steered to the {turn} with the struts' lengths held: the body rises {rise:.1f} mm at the centre line and"
            f" leans {abs(lean):.2f} deg to the {way}"
        ) in text
    assert "caster: top of the steering axis leans rearward" in text and "holds ride height" in text


def changed(tmp_path: Path, table: str, **fields: float | None) -> Path:
    """A car file of the gravel hatch with other figures; none takes one out."""
    tables = ss.demo("gravel_hatch").to_dict()
    for key, value in fields.items():
        tables[table].pop(key, None)
        if value is not None:
            tables[table][key] = value
    path = tmp_path / "changed.toml"
    path.write_text(ss.Axle.from_dict(tables).to_toml(), encoding="utf-8")
    return path


def test_toe_out_at_an_angle_beyond_lock_is_none(tmp_path: Path) -> None:
    text = fine("lock", changed(tmp_path, "rack", stroke=20.0))
    inner = ss.sweep(ss.demo("gravel_hatch"), rack=-20.0).inner_wheel_steer
    assert f"none to the left, as lock comes first, at {float(inner):.1f} deg; none to the right" in text
    assert "nan" not in text


def test_a_margin_that_is_taken_is_told(tmp_path: Path) -> None:
    text = fine("lock", changed(tmp_path, "limits", tie_rod_margin=None))
    assert "here at least 0.1 (taken: the car file has none)" in text


def test_what_the_car_file_lacks_is_told(tmp_path: Path) -> None:
    assert "No turns and no steering ratio, as the car file lacks rack.mm_per_turn." in fine(
        "lock", changed(tmp_path, "rack", mm_per_turn=None)
    )
    assert "No Ackermann and no turning circle, as the car file lacks axle.wheelbase." in fine(
        "lock", changed(tmp_path, "axle", wheelbase=None)
    )
    whole = fine("lock", "demo:gravel_hatch")
    assert "No turns" not in whole and "No Ackermann" not in whole


@pytest.mark.parametrize(("command", "zero"), [("spring", "0.0"), ("gauge", "+0")])
def test_tables_over_travel_have_round_rows_and_both_ends(command: str, zero: str) -> None:
    text = fine(command, "demo:gravel_hatch")
    first = [line.split()[0] for line in text.splitlines() if line.split()]
    wanted = [-90, -80, -60, -40, -20, 0, 20, 40, 60, 80]
    shown = [f"{value:.1f}" if command == "spring" else f"{value:+d}" for value in wanted]
    assert shown[5] == zero
    start = first.index(shown[0])
    assert first[start : start + len(shown)] == shown


def test_a_table_of_no_travel_is_one_row(tmp_path: Path) -> None:
    text = fine("spring", changed(tmp_path, "limits", bump=0.0, droop=0.0))
    assert row(text, "0.0")[0] == 0.0 and "-0.0 " not in text.partition("Under")[0]


def test_stops_that_roll_goes_beyond_are_told() -> None:
    # At 6 deg the outer wheel goes up by half the track times the sine, 79 mm, within 80; at 8 deg by 105.
    assert "limits.bump" not in fine("lean", "demo:gravel_hatch", "--most", "5.5")
    text = fine("lean", "demo:gravel_hatch", "--most", "8")
    for side in ("Left", "Right"):
        assert f"{side} wheel: beyond limits.bump = 80 mm of the car file in 1 of 9 poses: the strut is shorter" in text
        assert f"{side} wheel: beyond limits.droop = 90 mm of the car file in 1 of 9 poses: the strut is longer" in text


def test_wheels_at_unlike_heights_are_told(tmp_path: Path) -> None:
    car = ss.demo("gravel_hatch")
    path = tmp_path / "unlike.toml"
    right = car.right.replace(wheel_radius=car.right.wheel_radius - 12.0)
    path.write_text(car.with_corners(car.left, right).to_toml(), encoding="utf-8")
    for command in ("lock", "lean"):
        assert "contact centres stand 12.0 mm apart in height at design, the right one higher" in fine(command, path)
        assert "apart in height" not in fine(command, "demo:gravel_hatch")


def test_out_of_reach_shows_no_nan() -> None:
    result = run("lean", "demo:gravel_hatch", "--travel", "400")
    assert result.exit_code != 0 and "nan" not in result.stdout + result.stderr


def test_lock_gives_data_and_a_picture(tmp_path: Path) -> None:
    data, picture = tmp_path / "steer.csv", tmp_path / "turn.png"
    fine("lock", "demo:gravel_hatch", "--output", data, "--plot", picture)
    rows = list(csv.DictReader(io.StringIO(data.read_text(encoding="utf-8"))))
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert len(rows) == 26 and rows[0]["side"] == "left" and rows[-1]["side"] == "right"
    last = ss.sweep(ss.demo("gravel_hatch"), rack=float(rows[-1]["rack_mm"])).sel(side="right")
    for name in ("camber_deg", "wheel_steer_deg", "ackermann_by_angle_percent", "turning_circle_mm"):
        value = float(last[name.rpartition("_")[0]])
        assert float(rows[-1][name]) == pytest.approx(value, rel=1e-9)


def test_lean_tells_both_cambers_and_the_roll_centre(tmp_path: Path) -> None:
    picture = tmp_path / "path.svg"
    text = fine("lean", "demo:hillclimb_saloon", "--most", "2", "--rack", "15", "--mount-in", "5", "--plot", picture)
    ds = ss.sweep(ss.demo("hillclimb_saloon"), roll=1.5, rack=15.0, mount_in=5.0)
    shown = [float(ds[n].sel(side=s)) for n in ("camber", "camber_to_body", "wheel_steer") for s in ("left", "right")]
    found = row(text, "1.50")
    np.testing.assert_allclose(found[1:7], shown, atol=HALF * 0.01)
    assert found[-2:] == [round(float(ds.axle_roll_centre_height), 1), round(float(ds.axle_roll_centre_shift), 1)]
    # A rack ahead of the axle that moves to the left steers to the left: the right wheel is the outer one.
    shares = ss.camber_shares(ss.demo("hillclimb_saloon"), roll=2.0, rack=15.0, mount_in=5.0)
    assert shares.side == "right" and f"At +2 deg of roll, {shares}." in text
    # Behind the axle it steers to the right, and the left wheel is.
    other = ss.camber_shares(ss.demo("gravel_hatch"), roll=-4.0, rack=15.0)
    assert other.side == "left" and f"At -4 deg of roll, {other}." in fine("lean", "demo:gravel_hatch", "--rack", "15")
    assert "outer" not in fine("lean", "demo:gravel_hatch", "--most", "44")
    assert "mount-in +5 mm" in text and "A spring under load can kill" in text
    assert "<svg" in picture.read_text(encoding="utf-8")


def test_lean_as_json_is_strict() -> None:
    document = json.loads(fine("lean", "demo:gravel_hatch", "--format", "json"))
    assert len(document["poses"]) == 18
    assert document["columns"]["axle_roll_centre_height"]["units"] == "mm"


def test_spring_tells_rate_height_and_side_force() -> None:
    car = ss.demo("gravel_hatch")
    text = fine("spring", "demo:gravel_hatch", "--load", "3300", "--preload", "4")
    curves = ss.spring_curves(car, travel=[80.0], preload=4.0).sel(side="left").isel(travel=0)
    found = row(text, "80.0")
    assert found[1:5] == [
        round(float(curves.spring_force)),
        round(float(curves.wheel_load)),
        round(float(curves.motion_ratio), 3),
        round(float(curves.wheel_rate), 2),
    ]
    height = ss.ride_height(car, 3300.0, preload=4.0)
    assert (
        f"{abs(height):.1f} mm {'below' if height > 0.0 else 'above'} design height (travel {height:+.1f} mm)" in text
    )
    assert str(ss.side_force(car, load=3300.0 - 36.0 * 9.80665)) in text


def test_gauge_tells_what_is_shown_and_its_error() -> None:
    text = fine("gauge", "demo:hillclimb_saloon", "--turn", "10", "--diameter", "600")
    found = ss.caster_sweep(ss.demo("hillclimb_saloon").left, turn=10.0)
    assert f"{found.by_sines:.3f}" in text and f"{found.errors['by_practice']:.3f}" in text and "600 mm" in text


def test_gauge_tells_the_dials_of_a_bump_steer_plate() -> None:
    text = fine("gauge", "demo:gravel_hatch", "--spacing", "250")
    plate = ss.bump_steer_plate(ss.demo("gravel_hatch").left, [80.0], spacing=250.0)
    assert "250 mm apart" in text
    shown = [float(plate[name][0]) for name in ("front_dial", "rear_dial", "toe_change")]
    np.testing.assert_allclose(row(text, "+80")[1:], shown, atol=HALF * 0.001)


def test_gauge_warns_of_a_rack_beyond_its_stroke_and_of_toe(tmp_path: Path) -> None:
    text = fine("gauge", "demo:gravel_hatch", "--turn", "55")
    found = ss.caster_sweep(ss.demo("gravel_hatch").left, turn=55.0)
    assert f"Rack {found.rack_in:+.1f} mm goes beyond rack.stroke = 65 mm" in text
    assert f"Rack {found.rack_out:+.1f} mm goes beyond rack.stroke = 65 mm" in text
    assert "goes beyond" not in fine("gauge", "demo:gravel_hatch")
    car = ss.demo("gravel_hatch")
    path = tmp_path / "toed.toml"
    path.write_text(car.with_corners(car.left.replace(toe=0.4)).to_toml(), encoding="utf-8")
    shift = ss.caster_sweep(car.left.replace(toe=0.4)).shift_by_toe
    toed = fine("gauge", path)
    assert f"Toe of this wheel +0.400 deg is {ss.toe_as_length(0.4, 431.8):+.2f} mm" in toed
    assert f"shifts caster by sines by {shift:+.3f} deg" in toed and shift < -0.05


@pytest.mark.parametrize(
    "arguments",
    [
        ["spring", "demo:gravel_hatch", "--load", "nan"],
        ["spring", "demo:gravel_hatch", "--load", "1e9"],
        ["spring", "demo:gravel_hatch", "--preload", "inf"],
        ["gauge", "demo:gravel_hatch", "--diameter", "nan"],
        ["gauge", "demo:gravel_hatch", "--diameter", "0"],
        ["gauge", "demo:gravel_hatch", "--turn", "nan"],
        ["gauge", "demo:gravel_hatch", "--spacing", "0"],
        ["cure", "demo:gravel_hatch", "--from", "nan"],
        ["cure", "demo:gravel_hatch", "--mount-in", "nan"],
        ["lean", "demo:gravel_hatch", "--most", "nan"],
        ["lean", "demo:gravel_hatch", "--travel", "nan"],
        ["lock", "demo:gravel_hatch", "--clearance", "nan"],
        ["lock", "demo:gravel_hatch", "--roll", "inf"],
    ],
    ids=" ".join,
)
def test_nothing_is_printed_before_a_refusal(arguments: list[str]) -> None:
    result = run(*arguments)
    assert result.exit_code == 1 and result.stdout == ""
    field = {"--from": "over"}.get(arguments[2], arguments[2].strip("-").replace("-", "_"))
    assert result.stderr.startswith(f"error: {field} = ")


def test_spring_without_an_unsprung_mass_refuses_a_load(tmp_path: Path) -> None:
    tables = ss.demo("gravel_hatch").to_dict()
    del tables["axle"]["unsprung_mass"]
    path = tmp_path / "car.toml"
    path.write_text(ss.Axle.from_dict(tables).to_toml(), encoding="utf-8")
    refused = run("spring", path, "--load", "3000")
    assert refused.exit_code == 1 and refused.stdout == "" and "axle.unsprung_mass" in refused.stderr
    assert "wheel rate" not in fine("spring", path).splitlines()[0] and "side force" not in fine("spring", path)


def test_cure_tells_before_and_after(tmp_path: Path) -> None:
    picture = tmp_path / "cure.png"
    text = fine("cure", "demo:gravel_hatch", "--mount-back", "10", "--plot", picture)
    found = ss.bump_steer_cure(ss.demo("gravel_hatch").left, mount_back=10.0)
    assert f"{found.raised:+.2f}" in text and f"{1000 * found.slope_before:+.2f}" in text
    assert "A spring under load can kill" in text and picture.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("command", ["lean", "cure"])
def test_settings_beyond_the_car_file_are_told(command: str) -> None:
    text = fine(command, "demo:gravel_hatch", "--mount-in", "30")
    assert "Mount-in +30 mm goes beyond limits.mount_in = 20 mm" in text
    assert "goes beyond" not in fine(command, "demo:gravel_hatch", "--mount-in", "15")


def test_space_writes_a_page_once(tmp_path: Path) -> None:
    page = tmp_path / "axle.html"
    fine("space", "demo:gravel_hatch", page)
    assert "<title>Gravel hatch, both corners in space</title>" in page.read_text(encoding="utf-8")
    refused = run("space", "demo:gravel_hatch", page)
    assert refused.exit_code == 1 and "--force" in refused.stderr
    fine("space", "demo:gravel_hatch", page, "--force")


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["lock", "demo:gravel_hatch", "--travel", "500"], 3, "out of reach"),
        (["lock", "demo:gravel_hatch", "--clearance", "900"], 1, "tyre clearance"),
        (["lock", "demo:gravel_hatch", "--travel", "80", "--roll", "5"], 1, "with the rack centred, by 33 mm"),
        (["lean", "demo:gravel_hatch", "--most", "0"], 1, "most = 0 deg"),
        (["lean", "demo:gravel_hatch", "--travel", "900"], 3, "end of its arc"),
        (["spring", "demo:gravel_hatch", "--load", "1e9"], 1, "load"),
        (["spring", "demo:gravel_hatch", "--load", "300"], 1, "unsprung weight, 353 N"),
        (["spring", "demo:gravel_hatch", "--preload", "500"], 1, "preload of +500 mm"),
        (["cure", "demo:gravel_hatch", "--from", "-400", "--to", "400"], 1, "over = -400 to 400 mm"),
        (["gauge", "demo:gravel_hatch", "--turn", "90"], 1, "turn"),
        (["cure", "demo:gravel_hatch", "--aim", "best"], 1, "aim"),
        (["cure", "demo:gravel_hatch", "--plot", "x.bmp"], 1, ".bmp"),
        (["space", "demo:gravel_hatch", "x.txt"], 1, ".html"),
    ],
)
def test_trouble_is_told_in_a_line(arguments: list[str], code: int, words: str) -> None:
    result = run(*arguments)
    assert result.exit_code == code, result.output
    assert words in result.stderr and "Traceback" not in result.output
