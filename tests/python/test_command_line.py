"""The command line against the Python interface, against its own help, and as a shell sees it.

What a number should be is asked of `Corner.solve`, one pose at a time, where the command sweeps a grid: batch against
scalar, with an asymmetric car, so that no mix-up of sides, columns or units can hide.
"""

from __future__ import annotations

import csv
import io
import json
import math
import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from typer.testing import CliRunner, Result

import strutsweep as ss
from strutsweep.command_line import app, layout
from strutsweep.words import MOTIONS, READINGS, SETTINGS, STATUSES

# The sweep solves each pose from a guess of its own, `solve` likewise: what is left is round-off of numbers up to 1e3.
BATCH_TOLERANCE = 1e-9
# Inputs of a range are rounded to nine decimals, so that 0.3 is written as 0.3.
INPUT_TOLERANCE_MM = 1e-9
# A table rounds to the last decimal that it shows, and a tie may go either way.
HALF_A_DIGIT = 0.5 + 1e-6

# Every number differs from every other, on either side: (setting, motion) by option.
SETTING = {"mount_in": 7.0, "mount_back": -4.0, "tie_rod": 1.5, "clamp": 0.3, "hub_spacer": 5.0}
MOTION = {"travel": 11.0, "rack": -6.0, "roll": 1.5}
COMMANDS = (
    "demo",
    "new-car",
    "static",
    "bump",
    "rack",
    "map",
    "plan",
    "card",
    "ways",
    "lock",
    "lean",
    "spring",
    "gauge",
    "cure",
    "space",
    "reach",
    "slots",
    "drawing",
    "sensitivities",
    "spread",
    "new-sheet",
    "heights",
    "readings",
)
# Their examples need a file of measurements or a sheet: tested with what they are about.
ELSEWHERE = ("fit", "next-measurements", "search", "set", "trade-off")
SWEEPS = ("static", "bump", "rack", "map")

POSIX = pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals and signals to a process of its own")
ANSI = re.compile(r"\x1b\[[0-9;]*m")
OUT_OF_REACH_MM = 900.0

ASYMMETRIC = """\
schema = 1
name = "Odd [bold]one[/bold]"
[lower_arm]
front = [12.0, 361.0, 195.0]
rear = [-288.0, 372.0, 193.0]
ball_joint = [-2.0, 708.0, 181.0]
[strut]
top = [-37.0, 549.0, 840.0]
low = [-14.0, 612.0, 430.0]
[tie_rod]
inner = [-127.0, 331.0, 241.0]
outer = [-128.0, 690.0, 233.0]
[wheel]
centre = [0.0, 752.0, 308.0]
radius = 307.0
camber = -0.6
toe = 0.1
[limits]
bump = 45.0
droop = 55.0
[right.strut]
top = [-31.0, -541.0, 842.0]
[right.wheel]
camber = -1.1
toe = -0.2
"""


@pytest.fixture
def car_file(tmp_path: Path) -> Path:
    path = tmp_path / "odd.toml"
    path.write_text(ASYMMETRIC, encoding="utf-8")
    return path


def run(*arguments: object, env: dict[str, str] | None = None) -> Result:
    """Run a command in this process; an exception that is no exit is raised, with its traceback."""
    return CliRunner().invoke(app, [str(argument) for argument in arguments], env=env, catch_exceptions=False)


def fine(*arguments: object, env: dict[str, str] | None = None) -> Result:
    result = run(*arguments, env=env)
    assert result.exit_code == 0, result.output
    return result


def options(inputs: dict[str, float]) -> list[str]:
    return [text for name, value in inputs.items() for text in (f"--{name.replace('_', '-')}", str(value))]


def records(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def strict_json(text: str) -> Any:
    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    return json.loads(text, parse_constant=refuse)


def headed(name: str) -> str:
    unit = READINGS[name]["units"]
    return name if unit == "1" else f"{name}_{unit.replace('/', '_per_')}"


def shell(*arguments: str, **kwargs: Any) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "strutsweep", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        **kwargs,
    )


# Numbers


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("travel_at", ["ground", "hub", "strut"])
@pytest.mark.parametrize("command", ["bump", "rack", "map"])
def test_csv_of_a_sweep_is_what_single_poses_read(car_file: Path, command: str, travel_at: str, side: str) -> None:
    varied = {"bump": ("travel",), "rack": ("rack",), "map": ("mount_in", "mount_back")}[command]
    held = {name: value for name, value in {**SETTING, **MOTION}.items() if name not in varied}
    if command == "map":
        steps = ["--in-from=-9", "--in-to=8", "--in-step=8.5", "--back-from=-3", "--back-to=6", "--back-steps=2"]
    else:
        steps = ["--from=-22", "--to=31", "--steps=3"]
    asked = [command, car_file, "--side", side, "--travel-at", travel_at, "--reading", "all", "--format", "csv"]
    rows = records(fine(*asked, *steps, *options(held)).stdout)

    assert len(rows) == (9 if command == "map" else 4)
    corner = getattr(ss.load(car_file), side)
    seen = set()
    for row in rows:
        place = {name: float(row[f"{name}_mm"]) for name in varied}
        seen.add(tuple(place.values()))
        pose = corner.solve(**{**held, **place}, travel_at=travel_at)
        assert (row["side"], row["travel_at"], row["status"]) == (side, travel_at, "reached")
        assert float(row["clamp_deg"]) == SETTING["clamp"]
        for name, value in pose.readings.items():
            assert float(row[headed(name)]) == pytest.approx(value, abs=BATCH_TOLERANCE, rel=BATCH_TOLERANCE), name
    everything: dict[str, list[tuple[float, ...]]] = {
        "map": [(i, b) for i in (-9.0, -0.5, 8.0) for b in (-3.0, 1.5, 6.0)],
        "bump": [(-22.0 + i * 53.0 / 3.0,) for i in range(4)],
        "rack": [(-22.0 + i * 53.0 / 3.0,) for i in range(4)],
    }
    np.testing.assert_allclose(sorted(seen), sorted(everything[command]), rtol=0.0, atol=INPUT_TOLERANCE_MM)


def test_json_and_netcdf_hold_what_csv_holds(car_file: Path, tmp_path: Path) -> None:
    asked = ["bump", car_file, "--side", "right", "--from", -50, "--to", OUT_OF_REACH_MM, "--steps", 3, "--mount-in", 3]
    rows = records(fine(*asked, "--format", "csv").stdout)
    document = strict_json(fine(*asked, "--format", "json").stdout)
    file = tmp_path / "bump.nc"
    fine(*asked, "--output", file)
    with xr.open_dataset(file, engine="scipy") as dataset:
        dataset.load()

    assert document["side"] == dataset.attrs["side"] == "right"
    assert document["held"] == dataset.attrs["held"] == "ride height"
    assert document["inputs_held"]["mount_in"] == float(dataset.mount_in) == 3.0
    assert document["columns"]["camber_gain"]["units"] == dataset.camber_gain.attrs["units"] == "deg/mm"
    assert [row["status"] for row in rows] == [pose["status"] for pose in document["poses"]]
    assert {row["status"] for row in rows} > {"reached"}
    for index, (row, pose) in enumerate(zip(rows, document["poses"], strict=True)):
        for name in ("camber", "toe", "caster", "camber_gain", "roll_centre_height"):
            if row["status"] == "reached":
                assert float(row[headed(name)]) == pose[name] == float(dataset[name][index])
            else:
                assert row[headed(name)] == ""
                assert pose[name] is None
                assert math.isnan(float(dataset[name][index]))


@pytest.mark.parametrize("suffix", ["csv", "json"])
@pytest.mark.parametrize("command", SWEEPS)
def test_a_file_holds_what_standard_output_would(car_file: Path, tmp_path: Path, command: str, suffix: str) -> None:
    file = tmp_path / f"out.{suffix}"
    printed = fine(command, car_file, "--format", suffix)
    written = fine(command, car_file, "--output", file)
    assert file.read_text(encoding="utf-8") == printed.stdout
    assert written.stdout == ""
    assert f"wrote {file}" in written.stderr


@pytest.mark.parametrize("command", SWEEPS)
def test_netcdf_of_every_command_opens(car_file: Path, tmp_path: Path, command: str) -> None:
    file = tmp_path / "out.nc"
    fine(command, car_file, "--output", file, "--reading", "camber")
    with xr.open_dataset(file, engine="scipy") as dataset:
        assert dataset.camber.attrs["units"] == "deg"
        assert dataset.status.size == dataset.camber.size
        assert list(dataset.status.attrs["flag_values"]) == [words["code"] for words in STATUSES.values()]


def test_static_shows_left_right_and_difference(car_file: Path) -> None:
    car = ss.load(car_file)
    text = fine("static", car_file).stdout
    left, right = car.left.solve().readings, car.right.solve().readings
    assert "Odd [bold]one[/bold]" in text  # a name is no markup
    for name, reading in READINGS.items():
        line = next(line for line in text.splitlines() if line.startswith(name.replace("_", " ") + " "))
        cells = line[len(name) :].split()
        factor, decimals = (
            (1000.0, 2) if reading["units"] == "deg/mm" else (1.0, {"deg": 3, "mm": 1, "1": 3}[reading["units"]])
        )
        for cell, value in zip(cells, (left[name], right[name], left[name] - right[name]), strict=False):
            assert float(cell) == pytest.approx(value * factor, abs=HALF_A_DIGIT * 10.0**-decimals), name
            assert len(cell.partition(".")[2]) == decimals
        assert cells[3] == {"deg/mm": "deg/m", "1": "-"}.get(reading["units"], reading["units"])
        assert line.endswith(reading["positive"])


def test_static_of_one_side_is_that_side(car_file: Path) -> None:
    rows = records(fine("static", car_file, "--side", "right", "--format", "csv").stdout)
    assert [row["side"] for row in rows] == ["right"]
    assert float(rows[0]["camber_deg"]) == pytest.approx(-1.1, abs=BATCH_TOLERANCE)
    rows = records(fine("static", car_file, "--format", "csv").stdout)
    assert [row["side"] for row in rows] == ["left", "right"]
    assert [float(row["toe_deg"]) for row in rows] == pytest.approx([0.1, -0.2], abs=BATCH_TOLERANCE)


def test_static_says_what_a_setting_changes(car_file: Path) -> None:
    car = ss.load(car_file)
    text = fine("static", car_file, "--mount-in", 12, "--travel-at", "strut", "--reading", "camber").stdout
    lines = [line.split()[1:4] for line in text.splitlines() if line.startswith("camber ")]
    assert len(lines) == 2
    for cells, corner in zip(lines, (car.left, car.right), strict=True):
        before, after = corner.solve().camber, corner.solve(mount_in=12.0, travel_at="strut").camber
        assert [float(cell) for cell in cells] == pytest.approx(
            [before, after, after - before], abs=HALF_A_DIGIT * 1e-3
        )
    assert "a changed setting holds spring length" in text
    assert f"mount-in +12 mm (positive: {SETTINGS['mount_in']['positive']})" in text


def test_static_of_a_symmetric_car_shows_one_column_with_signs() -> None:
    text = fine("static", "demo:hillclimb_saloon").stdout
    camber = next(line for line in text.splitlines() if line.startswith("camber "))
    assert camber.split(maxsplit=3)[1:] == ["-0.500", "deg", READINGS["camber"]["positive"]]
    assert "left and right alike" in text


def test_bump_table_shows_the_numbers_of_its_columns(car_file: Path) -> None:
    corner = ss.load(car_file).right
    names = ["toe", "camber_gain", "half_track", "motion_ratio"]
    asked = [text for name in names for text in ("--reading", name)]
    text = fine("bump", car_file, "--side", "right", "--step", 25, *asked).stdout
    rows = [line.split() for line in text.splitlines() if re.fullmatch(r"[-\d. ]+", line) and line.strip()]
    assert [float(row[0]) for row in rows] == [-55.0, -30.0, -5.0, 20.0, 45.0]
    for row in rows:
        pose = corner.solve(travel=float(row[0]))
        shown = [(pose.toe, 3), (1000.0 * pose.camber_gain, 2), (pose.half_track, 1), (pose.motion_ratio, 3)]
        for cell, (value, decimals) in zip(row[1:], shown, strict=True):
            assert float(cell) == pytest.approx(value, abs=HALF_A_DIGIT * 10.0**-decimals)
    heads = text.splitlines()[1:4]
    assert heads[2].split() == ["mm", "deg", "deg/m", "mm", "-"]
    assert [line.index("camber") for line in heads if "camber" in line]


def test_map_table_has_inboard_across_and_rearward_down() -> None:
    corner = ss.demo("gravel_hatch").left
    text = fine("map", "demo:gravel_hatch", "--reading", "caster", "--in-steps", 2, "--back-steps", 1).stdout
    lines = text.splitlines()
    title = next(index for index, line in enumerate(lines) if line.startswith("caster, deg"))
    across = [float(cell) for cell in lines[title + 1].removeprefix("back \\ in").split()]
    assert across == [-20.0, 0.0, 20.0]
    for line in lines[title + 3 : title + 5]:
        back, *cells = map(float, line.split())
        for mount_in, cell in zip(across, cells, strict=True):
            value = corner.solve(mount_in=mount_in, mount_back=back).caster
            assert cell == pytest.approx(value, abs=HALF_A_DIGIT * 1e-3)


def test_usual_ranges_are_the_cars_limits(car_file: Path) -> None:
    travels = [float(row["travel_mm"]) for row in records(fine("bump", car_file, "--format", "csv").stdout)]
    assert travels == [-55.0, *np.arange(-50.0, 41.0, 10.0), 45.0]
    text = fine("rack", car_file).stdout
    assert "The car file has no rack.stroke: -50 mm is taken." in text
    rows = records(fine("rack", "demo:gravel_hatch", "--format", "csv").stdout)
    assert [float(rows[i]["rack_mm"]) for i in (0, -1)] == [-65.0, 65.0]
    beyond = fine("bump", car_file, "--to", 46, "--rack", 1).stdout
    assert "Travel +46 mm goes beyond limits.bump = 45 mm" in beyond


def test_json_is_ascii_whatever_the_car_is_called(tmp_path: Path) -> None:
    file = tmp_path / "named.toml"
    file.write_text(ASYMMETRIC.replace("Odd [bold]one[/bold]", "Gr\u00fcn \u2605"), encoding="utf-8")
    text = fine("bump", file, "--format", "json").stdout
    assert text.isascii()
    assert strict_json(text)["car"] == "Gr\u00fcn \u2605"


# Tables


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (-0.0004, "deg", "0.000"),
        (-0.0, "mm", "0.0"),
        (-0.0005001, "deg", "-0.001"),
        (1.7e-14, "deg", "0.000"),
        (-0.01596765, "deg/mm", "-15.97"),
        (-4e-6, "deg/mm", "0.00"),
        (-2.06e12, "mm", "none"),
        (math.inf, "mm", "none"),
        (math.nan, "mm", "none"),
        (0.99945, "1", "0.999"),
    ],
)
def test_cells(value: float, unit: str, shown: str) -> None:
    assert layout.reading_cells([value], unit) == [shown]


def test_inputs_have_the_decimals_that_they_need() -> None:
    assert layout.input_cells([-10.0, 0.0, 10.0]) == ["-10", "0", "10"]
    assert layout.input_cells([-2.5, -0.0, 1.0]) == ["-2.5", "0.0", "1.0"]


@pytest.mark.parametrize("command", SWEEPS)
@pytest.mark.parametrize("columns", [80, 120])
def test_tables_fit_a_terminal(car_file: Path, command: str, columns: int) -> None:
    env = {"COLUMNS": str(columns), "FORCE_COLOR": "1", "TERM": "xterm", "NO_COLOR": ""}
    text = fine(command, car_file, "--reading", "all", *options({"tie_rod": 1.0}), env=env).stdout
    assert "\x1b[1m" in text
    lines = ANSI.sub("", text).splitlines()
    assert max(map(len, lines)) <= columns
    for name in READINGS:
        assert any(name.partition("_")[0] in line for line in lines), name


@pytest.mark.parametrize("command", SWEEPS)
def test_a_pipe_gets_no_colour_and_no_breaks(car_file: Path, command: str) -> None:
    text = fine(command, car_file, "--reading", "all", env={"COLUMNS": "80"}).stdout
    assert "\x1b" not in text
    assert all(line == line.rstrip() for line in text.splitlines())
    assert max(map(len, text.splitlines())) > 80
    assert "-0.000" not in text
    assert "nan" not in text


@pytest.mark.parametrize("command", ["bump", "rack", "map"])
def test_a_table_says_what_is_held_and_what_signs_mean(car_file: Path, command: str) -> None:
    text = fine(command, car_file, "--side", "right", "--travel-at", "hub").stdout
    assert "Right corner. Travel is measured at the hub: a changed setting holds hub height. Held: " in text
    swept = MOTIONS["travel" if command == "bump" else "rack"]["positive"]
    assert command == "map" or swept in text
    for name in ("camber", "toe", "caster"):
        assert READINGS[name]["positive"] in text


def test_rows_out_of_reach_say_what_ran_out() -> None:
    text = fine("bump", "demo:gravel_hatch", "--from", 0, "--to", OUT_OF_REACH_MM, "--steps", 1).stdout
    assert re.search(r"^ +900  out of reach: the lower arm runs out$", text, re.MULTILINE)
    assert "1 of 2 poses is out of reach: " + STATUSES["lower_arm"]["reason"] in text
    text = fine("map", "demo:gravel_hatch", "--rack", 160, "--in-steps", 1, "--reading", "toe").stdout
    assert re.search(r"^ +0  +\d+\.\d{3}  +tie rod$", text, re.MULTILINE)
    corner = ss.demo("gravel_hatch").left
    assert corner.solve(rack=160.0, mount_in=-20.0).toe > 0.0
    with pytest.raises(ss.ReachError, match="tie rod"):
        corner.solve(rack=160.0, mount_in=20.0)


# Cautions


@pytest.mark.parametrize("asked", [["map"], ["static", "--mount-in", 5], ["bump", "--tie-rod", 1]])
def test_cautions_stand_under_tables_and_beside_data(asked: list[Any]) -> None:
    command, *rest = asked
    table = fine(command, "demo:gravel_hatch", *rest)
    for words in ("can kill", "compressor", "torques", "full lock", "licensed", "law", "rubber"):
        assert words in table.stdout
        for form in ("csv", "json"):
            data = fine(command, "demo:gravel_hatch", *rest, "--format", form)
            assert words not in data.stdout
            assert words in data.stderr
    assert "can kill" not in fine("bump", "demo:gravel_hatch").output


# Plots and files


@pytest.mark.parametrize(
    ("command", "suffix", "magic"),
    [("static", "png", b"\x89PNG"), ("bump", "svg", b"<?xml"), ("rack", "pdf", b"%PDF"), ("map", "png", b"\x89PNG")],
)
def test_plots(car_file: Path, tmp_path: Path, command: str, suffix: str, magic: bytes) -> None:
    file = tmp_path / f"plot.{suffix}"
    result = fine(command, car_file, "--plot", file, *options({"clamp": 0.4, "tie_rod": 1.0}), "--side", "right")
    assert file.read_bytes().startswith(magic)
    assert f"wrote {file}" in result.stderr
    assert "wrote" not in result.stdout


def test_demo_writes_what_it_lists(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "tour"
    text = fine("demo", "--folder", folder).stdout
    assert text.startswith("Gravel hatch is an invented car")
    listed = text.partition(f"Written to {folder}\n")[2].partition("\n\n")[0]
    files = [line.split()[0] for line in listed.splitlines()]
    assert sorted(files) == sorted(path.name for path in folder.iterdir())
    assert all(len(line.split()) > 3 for line in listed.splitlines())
    assert {Path(file).suffix for file in files} == {".png", ".csv", ".nc", ".toml"}
    assert sum((folder / file).stat().st_size for file in files) < 50e6
    for file in files:
        if file.endswith(".png"):
            assert (folder / file).read_bytes().startswith(b"\x89PNG")

    corner = ss.demo("gravel_hatch").left
    assert ss.load(folder / "gravel_hatch.toml").left == corner
    with xr.open_dataset(folder / "mount_and_travel.nc", engine="scipy") as dataset:
        assert dict(dataset.sizes) == {"travel": 41, "mount_in": 101, "mount_back": 101}
        cell = dataset.isel(travel=7, mount_in=88, mount_back=13)
        inputs: dict[str, Any] = {str(name): float(cell[name]) for name in dataset.dims}
        assert float(cell.bump_steer) == pytest.approx(corner.solve(**inputs).bump_steer, abs=BATCH_TOLERANCE)
        assert 0.0 in dataset.travel and 0.0 in dataset.mount_in and 0.0 in dataset.mount_back
    with xr.open_dataset(folder / "mount_map.nc", engine="scipy") as dataset:
        assert set(READINGS) < set(dataset.data_vars)
        assert dict(dataset.sizes) == {"mount_in": 101, "mount_back": 101}
    rows = records((folder / "mount_map.csv").read_text(encoding="utf-8"))
    assert len(rows) == 21 * 21
    row = rows[5]
    pose = corner.solve(mount_in=float(row["mount_in_mm"]), mount_back=float(row["mount_back_mm"]))
    assert float(row["caster_deg"]) == pytest.approx(pose.caster, abs=BATCH_TOLERANCE)
    assert re.search(
        r"101 x 101 = 10,201 positions .* 41 travels .* 418,241 poses, 22 readings each, in \d+\.\d\d s", text
    )
    assert "can kill" in text
    assert "strutsweep new-car" in text


@pytest.mark.parametrize("name", ss.demos())
def test_new_car_is_the_demo_car_with_comments(tmp_path: Path, name: str) -> None:
    file = tmp_path / "my_car.toml"
    fine("new-car", file, "--like", f"demo:{name}")
    car, demo = ss.load(file), ss.demo(name)
    assert car.name == "My car"
    assert car.left.replace(name="") == demo.left.replace(name="")
    assert (car.limits, car.rack) == (demo.limits, demo.rack)
    assert car.top_plate == demo.top_plate
    assert (car.dimensions, car.envelope) == (demo.dimensions, demo.envelope)
    assert "invented" in (car.note or "")

    # What is commented out is a true example of a field: it must be read, and change the right corner alone.
    text = re.sub(r"^# (\[[a-z_.]+\]|[a-z_]+ = )", r"\1", file.read_text(encoding="utf-8"), flags=re.MULTILINE)
    full = ss.Axle.from_toml(text)
    assert (full.left.camber, full.right.camber) == (-0.5, -0.7)
    assert full.right.point("strut_top")[1] == -demo.left.point("strut_top")[1] - 3.0


def test_new_car_does_not_overwrite_unasked(tmp_path: Path) -> None:
    file = tmp_path / "my_car.toml"
    file.write_text("mine", encoding="utf-8")
    refused = run("new-car", file)
    assert refused.exit_code == 1
    assert "--force" in refused.stderr
    assert file.read_text(encoding="utf-8") == "mine"
    fine("new-car", file, "--force")
    assert ss.load(file).name == "My car"


# Help


def examples_of(command: str) -> list[str]:
    text = ANSI.sub("", fine(command, "--help", env={"COLUMNS": "80", "TERM": "dumb"}).stdout)
    return [line.strip() for line in text.partition("Examples")[2].splitlines() if line.strip()]


@pytest.mark.parametrize("command", COMMANDS)
def test_help_shows_examples_that_run(command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    examples = examples_of(command)
    assert len(examples) >= 2
    for example in examples:
        program, *arguments = example.split()
        assert program == "strutsweep"
        assert arguments[0] == command
        assert fine(*arguments).output


@pytest.mark.parametrize("command", COMMANDS)
def test_help_teaches(command: str) -> None:
    text = fine(command, "--help", env={"COLUMNS": "200", "TERM": "dumb"}).stdout
    assert re.search(r"^ [A-Z][^.]*\?", text, re.MULTILINE), "the question that it answers"
    assert "mm" in text and "deg" in text
    assert "positive" in text
    if command in SWEEPS:
        for words in (
            words for name, words in SETTINGS.items() if command != "map" or name not in ("mount_in", "mount_back")
        ):
            assert words["positive"] in text


def test_help_of_the_program_names_every_command() -> None:
    text = fine("--help").stdout
    assert all(re.search(rf"\b{command}\b", text) for command in COMMANDS)
    assert [name for name in app.registered_commands if name.name not in (*COMMANDS, *ELSEWHERE)] == []


def test_version() -> None:
    assert fine("--version").stdout == f"strutsweep {ss.__version__}\n"


def test_readings_are_the_engines() -> None:
    text = fine("readings").stdout
    rows = {row["name"]: row for row in records(fine("readings", "--format", "csv").stdout)}
    document = strict_json(fine("readings", "--format", "json").stdout)
    assert list(rows) == list(document) == list(READINGS)
    for name, words in READINGS.items():
        assert words["definition"] in text
        assert words["positive"] in text
        assert rows[name]["definition"] == words["definition"]
        assert rows[name]["units"] == document[name]["units"] == words["units"]
    assert "caster" not in fine("readings", "scrub-radius").stdout


@pytest.mark.parametrize("spelled", ["scrub_radius", "scrub-radius", "Scrub radius"])
def test_readings_may_be_spelled_as_tables_show_them(spelled: str) -> None:
    rows = records(fine("bump", "demo:gravel_hatch", "--reading", spelled, "--format", "csv").stdout)
    assert "scrub_radius_mm" in rows[0]


# Ends


def test_wrong_car_files_end_in_one_with_file_line_field_and_limit(tmp_path: Path) -> None:
    file = tmp_path / "broken.toml"
    for broken, said in [
        (("ball_joint", "ball_jiont"), ["line 6", "ball_jiont", "did you mean `ball_joint`"]),
        (("radius = 307.0", "radius = -3.0"), ["line 15", "wheel.radius", "-3", "mm"]),
        (("radius = 307.0", "radius = ["), ["line 1", "TOML"]),
    ]:
        file.write_text(ASYMMETRIC.replace(*broken), encoding="utf-8")
        result = run("static", file)
        assert result.exit_code == 1
        assert result.stdout == ""
        assert result.stderr.startswith("error: ")
        assert result.stderr.count("\n") == 1
        for words in [str(file), *said]:
            assert words in result.stderr


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["static", "nowhere.toml"], "nowhere.toml"),
        (["static", "gravel_hatch"], "demo:gravel_hatch"),
        (["bump", "demo:nobodys"], "demo:hillclimb_saloon"),
        (["demo", "--car", "nobodys"], "demo:hillclimb_saloon"),
        (["bump", "demo:gravel_hatch", "--reading", "cambr"], "did you mean 'camber'"),
        (["readings", "cambr"], "cambr"),
        (["bump", "demo:gravel_hatch", "--mount-in", "nan"], "mount_in"),
        (["bump", "demo:gravel_hatch", "--from", "5", "--to", "3"], "from 5 to 3 mm"),
        (["bump", "demo:gravel_hatch", "--to", "inf"], "not finite"),
        (["bump", "demo:gravel_hatch", "--step", "0"], "0 mm"),
        (["bump", "demo:gravel_hatch", "--step=-1"], "-1 mm"),
        (["rack", "demo:gravel_hatch", "--steps", "0"], "0 steps"),
        (["rack", "demo:gravel_hatch", "--step", "1e-9"], "10000000"),
        (["map", "demo:gravel_hatch", "--in-step", "1e-3", "--back-step", "1e-3"], "10000000"),
        (["bump", "demo:gravel_hatch", "--output", "x.txt"], ".csv, .json, .nc"),
        (["bump", "demo:gravel_hatch", "--plot", "x.gif"], ".png, .svg, .pdf"),
        (["bump", "demo:gravel_hatch", "--output", "no/folder/x.csv"], "no/folder/x.csv: cannot be written"),
        (["bump", "demo:gravel_hatch", "--output", "no/folder/x.nc"], "no/folder/x.nc: cannot be written"),
        (["bump", "demo:gravel_hatch", "--plot", "no/folder/x.png"], "no/folder/x.png: cannot be written"),
        (["new-car", "no/folder/x.toml"], "no/folder/x.toml: cannot be written"),
    ],
)
def test_wrong_values_end_in_one(
    arguments: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run(*arguments)
    assert result.exit_code == 1
    assert result.stderr.startswith("error: ")
    assert said in result.stderr
    assert result.stdout == ""
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "arguments",
    [
        ["nothing"],
        ["bump"],
        ["bump", "demo:gravel_hatch", "--nothing"],
        ["bump", "demo:gravel_hatch", "--format", "xml"],
        ["bump", "demo:gravel_hatch", "--mount-in", "much"],
        ["bump", "demo:gravel_hatch", "--side", "middle"],
        ["bump", "demo:gravel_hatch", "--step", "1", "--steps", "2"],
        ["map", "demo:gravel_hatch", "--mount-in", "3"],
    ],
)
def test_unreadable_command_lines_end_in_two(arguments: list[str]) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr


@pytest.mark.parametrize("form", ["table", "csv", "json"])
@pytest.mark.parametrize("command", SWEEPS)
def test_nothing_reached_ends_in_three(command: str, form: str, tmp_path: Path) -> None:
    file = tmp_path / "plot.png"
    ends = (
        ["--from", OUT_OF_REACH_MM, "--to", OUT_OF_REACH_MM + 20.0]
        if command == "bump"
        else ["--travel", OUT_OF_REACH_MM]
    )
    result = run(command, "demo:gravel_hatch", *ends, "--format", form, "--plot", file)
    assert result.exit_code == 3
    assert STATUSES["lower_arm"]["reason"] in result.stderr
    assert not file.exists()
    if form == "json":
        assert {pose["camber"] for pose in strict_json(result.stdout)["poses"]} == {None}
    if form == "csv":
        assert {row["status"] for row in records(result.stdout)} == {"lower_arm"}


def test_one_side_out_of_reach_is_told_beside_the_other(car_file: Path) -> None:
    car = ss.load(car_file)
    rack = next(r for r in np.arange(100.0, 300.0, 1.0) if _reaches(car.left, r) != _reaches(car.right, r))
    plot = car_file.with_suffix(".svg")
    result = fine("static", car_file, "--rack", rack, "--reading", "camber", "--format", "csv", "--plot", plot)
    assert ("left corner" in plot.read_text(encoding="utf-8")) == _reaches(car.left, rack)
    assert sorted(row["status"] for row in records(result.stdout)) == ["reached", "tie_rod"]
    assert "1 of 2 poses is out of reach" in result.stderr
    table = fine("static", car_file, "--rack", rack, "--reading", "camber").stdout
    assert "1 of 2 poses is out of reach" in table
    assert ("left corner" in table) == _reaches(car.left, rack)


def _reaches(corner: ss.Corner, rack: float) -> bool:
    try:
        corner.solve(rack=rack)
    except ss.ReachError:
        return False
    return True


def test_interrupted_ends_in_130(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("strutsweep.command_line.sweeps.sweep", interrupt)
    result = run("bump", "demo:gravel_hatch")
    assert result.exit_code == 130
    assert result.stdout == ""
    assert "Traceback" not in result.stderr


# A shell


def test_shell_gets_clean_data_and_exit_status(car_file: Path) -> None:
    done = shell("map", str(car_file), "--format", "csv", env={**os.environ, "FORCE_COLOR": "1"})
    assert done.returncode == 0
    rows = records(done.stdout)
    assert len(rows) == 25
    assert all(None not in row and row["status"] == "reached" for row in rows)
    assert "\x1b" not in done.stdout

    wrong = shell("static", "nowhere.toml")
    assert (wrong.returncode, wrong.stdout) == (1, "")
    assert wrong.stderr.startswith("error: nowhere.toml")
    assert shell("static", str(car_file), "--side", "middle").returncode == 2
    assert shell("static", str(car_file), "--travel", "900").returncode == 3


def test_shell_may_stop_reading() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "strutsweep", "map", "demo:gravel_hatch", "--in-step", "0.2", "--format", "csv"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        assert "Traceback" not in process.stderr.read()
        assert process.wait(timeout=30) in (0, 1)


@POSIX
def test_ctrl_c_ends_a_long_sweep(tmp_path: Path) -> None:
    # The progress bar, here without its usual delay, says that the sweep is running. A program started in the
    # background of a shell ignores the signal unless it asks for it.
    program = (
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
        "import strutsweep.sweeping as s; s._SHOW_PROGRESS_AFTER_S = 0.0; import strutsweep.command_line as c; c.main()"
    )
    size = ["--in-steps", "9998", "--back-steps", "999", "--reading", "camber", "--format", "csv"]
    printed = tmp_path / "printed.csv"
    with (
        printed.open("w") as out,
        subprocess.Popen(
            [sys.executable, "-c", program, "map", "demo:gravel_hatch", *size],
            stdout=out,
            stderr=subprocess.PIPE,
            text=True,
        ) as process,
    ):
        assert process.stderr is not None
        assert process.stderr.read(1)
        process.send_signal(signal.SIGINT)
        error = process.stderr.read()
        assert process.wait(timeout=30) == 130
    assert printed.read_text() == ""
    assert "interrupted" in error
    assert "Traceback" not in error


@POSIX
def test_a_terminal_gets_its_width_and_no_color_is_heeded(car_file: Path) -> None:
    """A true pseudo-terminal, 80 columns wide."""
    import pty

    for no_color in ("", "1"):
        master, slave = pty.openpty()
        env = {**os.environ, "COLUMNS": "80", "TERM": "xterm-256color", "NO_COLOR": no_color}
        env.pop("FORCE_COLOR", None)
        with subprocess.Popen(
            [sys.executable, "-m", "strutsweep", "bump", str(car_file)], stdout=slave, stderr=slave, env=env
        ) as process:
            os.close(slave)
            text = _read_all(master)
            assert process.wait(timeout=30) == 0
        assert max(len(line) for line in ANSI.sub("", text).splitlines()) <= 80
        assert "roll" in text
        assert not re.search(r"\x1b\[[0-9;]*3[0-9]", text) or not no_color


def _read_all(descriptor: int) -> str:
    parts = []
    while True:
        try:
            part = os.read(descriptor, 65536)
        except OSError:  # how Linux tells that the other end has closed
            break
        if not part:
            break
        parts.append(part)
    os.close(descriptor)
    return b"".join(parts).decode()
