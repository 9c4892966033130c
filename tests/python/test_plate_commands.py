"""The commands for adjustable strut tops, as a shell sees them."""

from __future__ import annotations

import re
from pathlib import Path

import ezdxf
import pytest
from typer.testing import CliRunner, Result

import strutsweep as ss
from strutsweep.command_line import app

BOX = ("--camber", "-2.5", "-0.5", "--caster-by", "-0.5", "0.5")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def test_reach_tells_angles_joins_and_what_passes(tmp_path: Path) -> None:
    plot = tmp_path / "reach.png"
    done = run("reach", "demo:gravel_hatch", "--ride-height", "-15", "--ride-height", "15", *BOX, "--plot", plot)
    assert done.exit_code == 0, done.output
    car = ss.demo("gravel_hatch")
    assert car.top_plate is not None
    found = ss.reach(car.left, car.top_plate, ride_height=[-15.0, 15.0])
    for line in str(found).splitlines():
        assert line in done.output
    static = car.left.solve().caster
    missing = found.missing((-2.5, -0.5), (static - 0.5, static + 0.5)).area / 2.0
    told = re.search(r"of the box, ([\d.]+) % is out of reach", done.output)
    assert told is not None
    assert float(told[1]) == pytest.approx(100.0 * missing, abs=0.06)
    assert "insert: smallest gap -" in done.output
    assert "DOES NOT PASS" in done.output
    assert "licensed engineer" in done.output
    assert "A spring under load can kill" in done.output
    assert plot.read_bytes().startswith(b"\x89PNG")


def test_slots_tells_slots_proof_marks_and_chance() -> None:
    done = run("slots", "demo:hillclimb_saloon", *BOX, "--ride-heights", "-10", "10", "--builds", "50")
    assert done.exit_code == 0, done.output
    car = ss.demo("hillclimb_saloon")
    assert car.top_plate is not None
    static = car.left.solve().caster
    plan = ss.slots(
        (car.left, car.right),
        car.top_plate,
        camber=(-2.5, -0.5),
        caster=(static - 0.5, static + 0.5),
        ride_heights=(-10.0, 10.0),
    )
    for line in str(plan).splitlines()[:-1]:
        assert line in done.output
    assert "bolts stay 1.500 mm or more" in done.output
    assert "Marks for the change of camber beside the insert slot, insert position A" in done.output
    assert "Marks for the change of caster beside the plate slot" in done.output
    assert "chance that the whole box can be reached" in done.output
    shorter = run("slots", "demo:hillclimb_saloon", *BOX, "--offset", "0")
    assert "insert offset 0 mm" in shorter.output


def test_drawing_writes_both_sides_and_overwrites_only_when_told(tmp_path: Path) -> None:
    done = run("drawing", "demo:gravel_hatch", *BOX, "--output", tmp_path / "top.dxf", "--output", tmp_path / "top.svg")
    assert done.exit_code == 0, done.output
    assert {path.name for path in tmp_path.iterdir()} == {
        f"top-{side}.{form}" for side in ("left", "right") for form in ("dxf", "svg")
    }
    texts = [text.dxf.text for text in ezdxf.readfile(tmp_path / "top-right.dxf").modelspace().query("TEXT")]
    assert any("Invented" in text for text in texts), "the note of the car file stands on the drawing"
    again = run("drawing", "demo:gravel_hatch", "--output", tmp_path / "top.dxf")
    assert again.exit_code == 1
    assert "--force" in again.output
    one = run(
        "drawing", "demo:gravel_hatch", "--side", "left", "--marks", "millimetres", "--output", tmp_path / "one.pdf"
    )
    assert one.exit_code == 0
    assert (tmp_path / "one.pdf").read_bytes().startswith(b"%PDF")
    assert run("drawing", "demo:gravel_hatch", "--output", tmp_path / "top.dxf", "--force").exit_code == 0


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (("slots", "demo:gravel_hatch"), 1, "a box needs --camber and --caster"),
        (("slots", "demo:gravel_hatch", "--camber", "-1", "0"), 1, "a box needs"),
        (("slots", "demo:gravel_hatch", *BOX, "--caster", "2", "3"), 1, "not both"),
        (("slots", "demo:gravel_hatch", "--camber", "0", "-1", "--caster", "2", "3"), 1, "the lesser first"),
        (("slots", "demo:gravel_hatch", "--camber", "-40", "0", "--caster", "2", "3"), 3, "however long the slots"),
        (("slots", "demo:gravel_hatch", *BOX, "--toe", "no"), 2, "put_back"),
        (("drawing", "demo:gravel_hatch", "--output", "plate.png"), 1, ".dxf, .svg or .pdf"),
        (("drawing", "demo:gravel_hatch"), 2, "--output"),
        (("reach", "demo:gravel_hatch", "--plot", "plate.txt"), 1, "plate.txt"),
    ],
)
def test_trouble_ends_with_its_status_and_a_reason(words: tuple[str, ...], code: int, message: str) -> None:
    done = run(*words)
    assert done.exit_code == code, done.output
    assert message in done.output


def test_a_car_without_a_top_plate_says_so(tmp_path: Path) -> None:
    tables = ss.demo("gravel_hatch").to_dict()
    del tables["top_plate"]
    path = tmp_path / "car.toml"
    ss.Axle.from_dict(tables).save(path)
    for command in (("reach",), ("slots", *BOX), ("drawing", "--output", str(tmp_path / "plate.dxf"))):
        done = run(command[0], path, *command[1:])
        assert done.exit_code == 1
        assert "no [top_plate]" in done.output


def test_slots_and_drawing_tell_what_does_not_pass(tmp_path: Path) -> None:
    box = ("--camber", "-3.5", "-0.5", "--caster-by", "-0.75", "0.75")
    planned = run("slots", "demo:gravel_hatch", *box)
    assert planned.exit_code == 0, planned.output
    assert planned.output.count("DOES NOT PASS") == 6  # nut, insert and rod, left and right
    drawn = run("drawing", "demo:gravel_hatch", *box, "--side", "left", "--output", str(tmp_path / "plate.svg"))
    assert drawn.exit_code == 0, drawn.output
    assert "look: DOES NOT PASS the tower's opening: nut by" in drawn.output
    assert "LOOK: DOES NOT PASS" in (tmp_path / "plate.svg").read_text(encoding="utf-8").replace("&apos;", "'")


def test_a_box_the_wrong_way_round_is_refused() -> None:
    done = run("reach", "demo:gravel_hatch", "--camber", "0", "-3", "--caster", "2", "3")
    assert done.exit_code == 1
    assert "the lesser first" in done.output
