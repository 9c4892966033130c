"""The commands ``search``, ``trade-off`` and ``next-measurements``: what they print is the package's, and how they
end."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner, Result

import strutsweep as ss
from strutsweep.command_line import app, how_sure, searches

CAR = "demo:gravel_hatch"
PNG = b"\x89PNG\r\n\x1a\n"
WRONG_INPUT, UNREADABLE, OUT_OF_REACH = 1, 2, 3
TRAVEL = np.linspace(-40.0, 40.0, 9)
RANGE = ["--from", -40, "--to", 40]


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def rows(result: Result) -> list[dict[str, str]]:
    assert result.exit_code == 0, result.output
    return list(csv.DictReader(io.StringIO(result.stdout)))


@pytest.fixture
def candidates(tmp_path: Path) -> Path:
    """Toe over travel, and caster."""
    path = tmp_path / "candidates.csv"
    toe = ss.Measurements.curve("toe", np.zeros(9), 0.02, travel=TRAVEL, name="bump steer")
    (toe + ss.Measurements.curve("caster", 0.0, 0.1)).save(path)
    return path


def test_a_search_is_that_of_the_package(tmp_path: Path) -> None:
    corner = ss.demo("gravel_hatch").left
    travel = {"travel": TRAVEL, "rack": 5.0}
    limits = [
        ss.Limit(ss.Quantity("caster", "value", {"rack": 5.0}), 2.5),
        ss.Limit(ss.Quantity("camber", "largest", travel), high=2.0),
    ]
    expected = ss.search(
        corner,
        ss.Quantity("toe", "range", travel),
        {"tie_rod.inner.z": (-8.0, 8.0), "mount_in": (-5.0, 5.0)},
        limits=limits,
        seed=3,
    )
    words = [
        "search",
        CAR,
        "--goal",
        "range:toe",
        "--move",
        "tie_rod.inner.z=-8:8",
        "--move",
        "mount_in=-5:5",
        "--seed",
        3,
    ]
    words += ["--limit", "caster=2.5:", "--limit", "largest:camber=:2", "--rack", 5, *RANGE]
    found = rows(run(*words, "--format", "csv"))
    assert [float(row["move"]) for row in found] == expected.data.move.values.tolist()
    assert {(row["before"], row["after"], row["seed"]) for row in found} == {
        (repr(expected.before), repr(expected.after), "3")
    }
    printed = run(*words)
    assert "open no top nut" in printed.stdout
    assert "a car built so" in " ".join(printed.stdout.split())
    assert run(*words, "--output", tmp_path / "found.json").stdout == ""
    assert json.loads((tmp_path / "found.json").read_text(encoding="utf-8"))["seed"] == 3


def test_the_moved_car_is_written_once(tmp_path: Path) -> None:
    mended = tmp_path / "moved.toml"
    words = ["search", CAR, "--goal", "range:toe", "--move", "tie_rod.inner.z=-8:8", "--move", "tie_rod=-1:1"]
    words += ["--starts", 1, "--mended", mended, *RANGE]
    done = run(*words)
    assert done.exit_code == 0, done.output
    car, original = ss.load(mended), ss.demo("gravel_hatch").left
    moved = car.left.points["tie_rod_inner"] - original.points["tie_rod_inner"]
    assert moved[2] != 0.0
    assert car.right == car.left.mirror()
    assert "a car file holds no settings; moved: tie_rod" in done.stderr
    assert run(*words).exit_code == WRONG_INPUT
    assert run(*words, "--force").exit_code == 0


def test_a_value_is_aimed_at() -> None:
    words = [
        "search",
        CAR,
        "--goal",
        "camber",
        "--aim",
        "-1.2",
        "--move",
        "mount_in=-15:15",
        "--starts",
        1,
        "--format",
        "csv",
    ]
    (row,) = rows(run(*words))
    assert float(row["after"]) == pytest.approx(-1.2, abs=1e-6)
    at = ss.demo("gravel_hatch").left.solve(mount_in=float(row["move"]))
    assert at.camber == pytest.approx(-1.2, abs=1e-6)


def test_a_trade_off_is_that_of_the_package(tmp_path: Path) -> None:
    moves = {"tie_rod.inner.z": (-8.0, 8.0), "lower_arm.ball_joint.z": (-10.0, 10.0)}
    goals = [ss.Quantity(name, "range", {"travel": TRAVEL}) for name in ("toe", "camber")]
    expected = ss.trade_off(ss.demo("gravel_hatch").left, *goals, moves, points=3, seed=1)
    words = ["trade-off", CAR, "--goal", "range:toe", "--goal", "range:camber", "--points", 3, "--seed", 1, *RANGE]
    for name, (low, high) in moves.items():
        words += ["--move", f"{name}={low:g}:{high:g}"]
    found = rows(run(*words, "--format", "csv", "--plot", tmp_path / "a.png"))
    assert [float(row["first"]) for row in found] == expected.data["first"].values.tolist()
    assert [float(row["second"]) for row in found] == expected.data.second.values.tolist()
    assert [float(row["move tie_rod.inner.z"]) for row in found] == expected.data.move[:, 0].values.tolist()
    assert (tmp_path / "a.png").read_bytes().startswith(PNG)
    assert "The corner as it is" in run(*words).stdout


def test_what_to_measure_next_is_that_of_the_package(candidates: Path, tmp_path: Path) -> None:
    corner = ss.demo("gravel_hatch").right
    measured = tmp_path / "measured.toml"
    ss.Measurements.from_sweep(ss.sweep(corner, travel=TRAVEL), ["camber"], 0.03).save(measured)
    priors = {"points": ss.normal(1.5)}
    known = ss.fit(corner, ss.Measurements.load(measured), priors)
    table = ss.next_measurements(known, ss.Measurements.load(candidates), "toe", travel=60.0)
    words = ["next-measurements", CAR, candidates, "--reading", "toe", "--travel", 60, "--measured", measured]
    words += ["--prior", "points=normal:1.5", "--side", "right"]
    found = rows(run(*words, "--format", "csv"))
    assert [row["candidate"] for row in found] == [row[0] for row in table.rows] == ["bump steer", "caster"]
    assert [f"{float(row['standard_deviation_left']):.3g}" for row in found] == [row[2] for row in table.rows]
    # SECOND METHOD: what is known now is the spread of a prediction.
    now = known.predict("toe", travel=60.0).standard_deviation.item()
    assert float(found[0]["standard_deviation_now"]) == pytest.approx(now, rel=1e-9)
    assert "What to measure next to know toe, travel 60 mm" in run(*words).stdout


EXAMPLES = (*searches.SEARCH_EXAMPLES, *searches.TRADE_OFF_EXAMPLES, *how_sure.NEXT_EXAMPLES)


@pytest.mark.parametrize("example", EXAMPLES)
def test_examples_of_the_help_run(
    example: str, candidates: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    car = ss.demo("gravel_hatch")
    car.save("car.toml")
    ss.Measurements.load(candidates).save("candidates.toml")
    ss.Measurements.from_sweep(ss.sweep(car.left, travel=TRAVEL), ["toe"], 0.02).save("measured.csv")
    words = example.split()
    done = run(*words[1:])
    assert done.exit_code == 0, done.output
    help_text = CliRunner().invoke(app, [words[1], "--help"], env={"COLUMNS": "240", "TERM": "dumb"}).stdout
    assert example in help_text


MOVE = ["--move", "tie_rod.inner.z=-8:8"]
SEARCH = ["search", CAR, "--goal", "range:toe"]


@pytest.mark.parametrize(
    ("words", "status", "told"),
    [
        (["search", CAR, *MOVE, "--goal", "range:too"], WRONG_INPUT, "did you mean 'toe'"),
        (["search", CAR, *MOVE, "--goal", "sum:toe"], UNREADABLE, "nor one of range:"),
        (["search", CAR, *MOVE, "--goal", ":toe"], UNREADABLE, "nor one of range:"),
        (["search", CAR, "--goal", "range:toe"], UNREADABLE, "--move"),
        ([*SEARCH, "--move", "tie_rod.inner.z=8:-8"], WRONG_INPUT, "upside down"),
        ([*SEARCH, "--move", "tie_rod.inner.z=8"], UNREADABLE, "NAME=LOW:HIGH"),
        ([*SEARCH, "--move", "tie_rod.inner.z=a:b"], UNREADABLE, "NAME=LOW:HIGH"),
        ([*SEARCH, *MOVE, *MOVE], WRONG_INPUT, "given twice"),
        ([*SEARCH, *MOVE, "--aim", "most"], WRONG_INPUT, "cannot be made most"),
        ([*SEARCH, *MOVE, "--aim", "better"], UNREADABLE, "neither least, most nor a number"),
        ([*SEARCH, *MOVE, "--seed", "-1"], WRONG_INPUT, "at least 0"),
        ([*SEARCH, *MOVE, "--starts", "0"], WRONG_INPUT, "at least 1"),
        ([*SEARCH, *MOVE, "--limit", "caster=:"], UNREADABLE, "LOW: or :HIGH"),
        ([*SEARCH, *MOVE, "--limit", "range:toe=0.1:"], WRONG_INPUT, "upper limit only"),
        ([*SEARCH, *MOVE, "--from", "40", "--to", "-40"], WRONG_INPUT, "begins above its end"),
        ([*SEARCH, *MOVE, "--from", "900", "--to", "910"], OUT_OF_REACH, "no start could be followed"),
        ([*SEARCH, *MOVE, "--output", "a.nc"], WRONG_INPUT, ".csv, .json"),
        (["trade-off", CAR, *MOVE, "--goal", "range:toe"], UNREADABLE, "between two"),
        (["next-measurements", CAR, "nowhere.csv", "--reading", "toe"], WRONG_INPUT, "cannot be read"),
        (["next-measurements", CAR, "c.csv", "--reading", "too"], WRONG_INPUT, "did you mean 'toe'"),
        (["next-measurements", CAR, "c.csv"], UNREADABLE, "--reading"),
        (["next-measurements", CAR, "c.csv", "--reading", "toe", "--travel", "900"], OUT_OF_REACH, "lower arm"),
    ],
)
def test_trouble_is_told_in_a_line_with_its_exit_status(
    words: list[str], status: int, told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ss.Measurements.curve("caster", 5.0, 0.1).save("c.csv")
    done = run(*words)
    assert done.exit_code == status, done.output
    assert told in " ".join(done.stderr.replace("\u2502", " ").split())
    assert done.stdout == ""
