"""The commands ``sensitivities``, ``spread`` and ``fit``: what they print is what the package gives, and how they
end."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner, Result

import strutsweep as ss
from strutsweep.command_line import app, how_sure

CAR = "demo:hillclimb_saloon"
PNG = b"\x89PNG\r\n\x1a\n"
WRONG_INPUT, UNREADABLE, OUT_OF_REACH = 1, 2, 3


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def rows(result: Result) -> list[dict[str, str]]:
    assert result.exit_code == 0, result.output
    return list(csv.DictReader(io.StringIO(result.stdout)))


@pytest.fixture
def measured(tmp_path: Path) -> Path:
    """Toe and camber over travel of a corner whose inner tie-rod joint sits 2 mm higher than the car file says."""
    corner = ss.demo("hillclimb_saloon").right
    truth = corner.replace(tie_rod_inner=corner.points["tie_rod_inner"] + [0.0, 0.0, 2.0])
    swept = ss.sweep(truth, travel=np.linspace(-60.0, 60.0, 9))
    path = tmp_path / "measured.csv"
    ss.Measurements.from_sweep(swept, ["toe", "camber"], 0.005).save(path)
    return path


def test_sensitivities_are_those_of_the_package() -> None:
    options = ["--tolerance", "points=1", "--tolerance", "strut.top=normal:2", "--travel", 30, "--side", "right"]
    found = rows(run("sensitivities", CAR, *options, "--reading", "toe", "--format", "csv"))
    corner = ss.demo("hillclimb_saloon").right
    expected = ss.sensitivities(corner, {"points": 1.0, "strut.top": ss.normal(2.0)}, readings="toe", travel=30.0).data
    assert [row["source"] for row in found] == expected.source.values.tolist()
    for row in found:
        one = expected.sel(reading="toe", source=row["source"])
        assert float(row["effect"]) == one.effect.item()
        assert float(row["share"]) == one.share.item()


def test_a_spread_is_that_of_the_package(tmp_path: Path) -> None:
    words = ["spread", CAR, "--seed", 4, "--samples", 2048, "--limit", "caster=5.3:", "--mount-in", 5]
    corner = ss.demo("hillclimb_saloon").left
    expected = ss.spread(
        corner, {"points": 1.0}, limits={"caster": (5.3, None)}, samples=2048, seed=4, mount_in=5.0
    ).data
    for row in rows(run(*words, "--format", "csv")):
        one = expected.sel(reading=row["reading"])
        assert float(row["standard_deviation"]) == one.standard_deviation.item()
        assert float(row["percentile_97.5"]) == one.percentiles.sel(percentile=97.5).item()
        assert row["chance"] == ("" if row["reading"] != "caster" else repr(one.chance.item()))
        assert row["chance_error"] == ("" if row["reading"] != "caster" else repr(one.chance_error.item()))
        assert (row["seed"], row["samples"], row["method"]) == ("4", "2048", "sobol")
    written = run(*words, "--output", tmp_path / "spread.json")
    assert written.stdout == ""
    document = json.loads((tmp_path / "spread.json").read_text(encoding="utf-8"))
    assert (document["seed"], document["samples"], document["side"]) == (4, 2048, "left")
    assert document["chance_of_all"] == expected.chance.sel(reading="caster").item()
    assert len(document["rows"]) == 8
    table = run(*words).stdout
    assert "open no top nut" in table
    assert "open no top nut" not in run(*words[:-2]).stdout
    assert "2,048 samples (sobol, seed 4)." in table
    assert "deg/m" in table


def test_a_drawn_seed_is_in_the_data(tmp_path: Path) -> None:
    words = ["spread", CAR, "--samples", 256, "--format", "csv"]
    drawn = rows(run(*words))
    again = rows(run(*words, "--seed", drawn[0]["seed"]))
    assert drawn == again


def test_a_limit_in_the_wrong_unit_shows(tmp_path: Path) -> None:
    # Data keep deg/mm, the table shows deg/m: the limits are told in the table's unit.
    table = run("spread", CAR, "--samples", 256, "--limit", "bump_steer=-2:2").stdout
    assert "Limits: bump steer -2000 to 2000 deg/m." in table


def test_a_ratio_has_no_dash_for_a_unit() -> None:
    assert " - " not in run("sensitivities", CAR, "--reading", "tie_rod_margin").stdout
    assert "0.0000" in run("spread", CAR, "--reading", "tie_rod_margin", "--seed", 1).stdout.split("mean lies ")[1][:6]
    assert " - " not in run("spread", CAR, "--reading", "tie_rod_margin", "--seed", 1).stdout.split("seed 1")[1]


def test_a_fit_mends_the_car(measured: Path, tmp_path: Path) -> None:
    mended = tmp_path / "mended.toml"
    words = ["fit", CAR, measured, "--side", "right", "--prior", "tie_rod.inner=normal:3", "--mended", mended]
    printed = run(*words)
    assert printed.exit_code == 0, printed.output
    assert "The measurements tell" in printed.stdout
    assert f"wrote {mended}" in printed.stderr
    assert "open no top nut" in printed.stderr
    assert "improbable" not in printed.output
    car, original = ss.load(mended), ss.demo("hillclimb_saloon")
    assert car.left == original.left
    moved = car.right.points["tie_rod_inner"] - original.right.points["tie_rod_inner"]
    assert moved[2] == pytest.approx(2.0, abs=0.3)
    assert car.limits == original.limits
    again = run(*words)
    assert again.exit_code == WRONG_INPUT
    assert "--force overwrites it" in again.stderr
    assert run(*words, "--force").exit_code == 0
    for row in rows(run(*words[:-2], "--format", "csv")):
        assert float(row["standard_deviation_after"]) <= float(row["standard_deviation_before"])


def test_a_mended_left_corner_takes_the_right_one_with_it(tmp_path: Path) -> None:
    path, mended = tmp_path / "sheet.toml", tmp_path / "mended.toml"
    ss.Measurements.curve("camber", -1.5, 0.01).save(path)
    done = run("fit", CAR, path, "--prior", "wheel.camber=normal:2", "--mended", mended)
    assert done.exit_code == 0, done.output
    car = ss.load(mended)
    assert car.left.camber == pytest.approx(-1.5, abs=0.01)
    assert car.right == car.left.mirror()


def test_a_car_mended_by_curves_of_the_other_side_is_doubted_where_it_is_written(tmp_path: Path) -> None:
    # The rack's way is the car's left for both wheels: what steers one wheel in steers the other out.
    swept = ss.sweep(ss.demo("hillclimb_saloon").right, rack=np.linspace(-20.0, 20.0, 5))
    path = tmp_path / "right.csv"
    measured = ss.Measurements.from_sweep(swept, "toe", 0.05)
    measured.save(path)
    assert run("fit", CAR, path, "--prior", "wheel.toe=normal:1").exit_code == 0
    refused = run("fit", CAR, path, "--prior", "wheel.toe=normal:1", "--side", "left")
    assert refused.exit_code != 0
    assert "of the right corner, and this is the left one: take car.right (--side right)" in refused.stderr
    # A sheet that does not say its side cannot be refused.
    dataclasses.replace(measured, side=None).save(path)
    for side, is_doubted in (("right", False), ("left", True)):
        words = [
            "fit",
            CAR,
            path,
            "--side",
            side,
            "--prior",
            "wheel.toe=normal:1",
            "--mended",
            tmp_path / f"{side}.toml",
        ]
        done = run(*words)
        assert done.exit_code == 0, done.output
        assert ("of the other side of the car" in done.stdout) is is_doubted
        assert ("the fit is improbable" in done.stderr) is is_doubted


@pytest.mark.parametrize("command", ["sensitivities", "spread", "fit"])
def test_pictures(command: str, measured: Path, tmp_path: Path) -> None:
    picture = tmp_path / "a.png"
    words = [command, CAR, *([measured] if command == "fit" else []), "--plot", picture]
    done = run(*words)
    assert done.exit_code == 0, done.output
    assert picture.read_bytes().startswith(PNG)
    assert run(*words[:-1], tmp_path / "a.gif").exit_code == WRONG_INPUT


EXAMPLES = (*how_sure.SENSITIVITY_EXAMPLES, *how_sure.SPREAD_EXAMPLES, *how_sure.FIT_EXAMPLES)


@pytest.mark.parametrize("example", EXAMPLES)
def test_examples_of_the_help_run(example: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    car = ss.demo("gravel_hatch")
    car.save("car.toml")
    sheet = ss.Measurements.from_sweep(ss.sweep(car.left, travel=np.linspace(-40, 40, 5)), ["toe", "camber"], 0.02)
    sheet.save("measured.toml")
    sheet.save("measured.csv")
    words = example.split()
    assert words[0] == "strutsweep"
    done = run(*words[1:])
    assert done.exit_code == 0, done.output
    help_text = CliRunner().invoke(app, [words[1], "--help"], env={"COLUMNS": "200", "TERM": "dumb"}).stdout
    assert example in help_text


@pytest.mark.parametrize(
    ("words", "status", "told"),
    [
        (["spread", CAR, "--tolerance", "points=-1"], WRONG_INPUT, "not above 0"),
        (["spread", CAR, "--tolerance", "pints=1"], WRONG_INPUT, "did you mean 'points'"),
        (["spread", CAR, "--tolerance", "points=normal:0"], WRONG_INPUT, "not above 0"),
        (["spread", CAR, "--tolerance", "points=1", "--tolerance", "points=2"], WRONG_INPUT, "given twice"),
        (["spread", CAR, "--tolerance", "points"], UNREADABLE, "NAME=NUMBER"),
        (["spread", CAR, "--tolerance", "points=bell:1"], UNREADABLE, "normal:NUMBER"),
        (["spread", CAR, "--limit", "camber=1"], UNREADABLE, "READING=LOW:HIGH"),
        (["spread", CAR, "--limit", "camber=:"], UNREADABLE, "LOW: or :HIGH"),
        (["spread", CAR, "--limit", "camber=1:-1"], WRONG_INPUT, "upside down"),
        (["spread", CAR, "--samples", "1"], WRONG_INPUT, "at least 2"),
        (["spread", CAR, "--output", "a.nc"], WRONG_INPUT, ".csv, .json"),
        (["sensitivities", CAR, "--reading", "cambre"], WRONG_INPUT, "did you mean 'camber'"),
        (["sensitivities", CAR, "--travel", "900"], OUT_OF_REACH, "lower arm"),
        (["fit", CAR, "nowhere.csv"], WRONG_INPUT, "cannot be read"),
        (["fit", CAR, "sheet.csv", "--prior", "points=inf"], WRONG_INPUT, "cannot settle"),
    ],
)
def test_trouble_is_told_in_a_line_with_its_exit_status(
    words: list[str], status: int, told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ss.Measurements.curve("caster", 5.0, 0.1).save("sheet.csv")
    done = run(*words)
    assert done.exit_code == status, done.output
    assert told in " ".join(done.stderr.replace("\u2502", " ").split())
    assert done.stdout == ""
