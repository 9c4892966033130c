"""The commands for adjustable strut tops, as a shell sees them."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import ezdxf
import pytest
import strutsweep as ss
from strutsweep import top_plates
from strutsweep.command_line import app
from typer.testing import CliRunner, Result

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
        (("reach", "demo:gravel_hatch", "--output", "reach.nc"), 1, ".csv, .json"),
        (("reach", "demo:gravel_hatch", "--ride-height", "nan"), 1, "--ride-height = nan mm is not finite"),
        (("reach", "demo:gravel_hatch", "--ride-height", "4000"), 1, "--ride-height = 4000 mm is more than 1000 mm"),
        (("slots", "no.toml", *BOX, "--builds", "-5"), 1, "--builds = -5 must be 0, or 10 or more"),
        (("slots", "no.toml", *BOX, "--builds", "9"), 1, "--builds = 9"),
        (("slots", "no.toml", *BOX, "--tolerance", "-1"), 1, "--tolerance = -1 mm must be 0 or more"),
        (("slots", "no.toml", *BOX, "--seating", "inf"), 1, "--seating = inf mm is not finite"),
        (("slots", "no.toml", *BOX, "--ride-heights", "5", "-5"), 1, "--ride-heights 5 -5: the lesser first"),
        (("slots", "demo:gravel_hatch", *BOX, "--offset", "-2"), 1, "--offset = -2 mm must be 0 or more"),
        (("slots", "demo:gravel_hatch", "--camber", "nan", "0", "--caster", "2", "3"), 1, "--camber = nan deg"),
        (
            ("slots", "demo:gravel_hatch", "--camber", "-1", "0", "--caster-by", "1", "-1"),
            1,
            "--caster-by 1 -1: the lesser",
        ),
        (("drawing", "no.toml", "--output", "a.dxf", "--edge", "-1"), 1, "--edge = -1 mm must be 0 or more"),
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


def test_reach_and_slots_give_data(tmp_path: Path) -> None:
    """What is written reads back as what the package computes, by name and unit."""
    car = ss.demo("hillclimb_saloon")
    assert car.top_plate is not None
    printed = run("reach", "demo:hillclimb_saloon", "--ride-height", "-5", "--ride-height", "5", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(printed.stdout)))
    found = ss.reach(car.left, car.top_plate, ride_height=[-5.0, 5.0])
    assert len(rows) == found.edges.camber.size
    for row in rows[:: len(rows) // 40]:
        pose = top_plates.readings_at(
            car.left,
            car.top_plate,
            plate=float(row["plate_mm"]),
            insert=float(row["insert_mm"]),
            position="AB".index(row["position"]),
            ride_height=float(row["ride_height_mm"]),
            readings=["camber", "caster"],
        )
        assert float(row["camber_deg"]) == pytest.approx(float(pose.camber), abs=1e-9)
        assert float(row["caster_deg"]) == pytest.approx(float(pose.caster), abs=1e-9)
        assert float(row["tie_rod_mm"]) == pytest.approx(float(pose.tie_rod), abs=1e-8)
    output = tmp_path / "slots.json"
    done = run(
        "slots", "demo:hillclimb_saloon", *BOX, "--ride-heights", "-10", "10", "--output", output, "--builds", "20"
    )
    assert done.exit_code == 0, done.output
    assert done.stdout == ""
    told = json.loads(output.read_text())
    static = car.left.solve().caster
    plan = ss.slots(
        (car.left, car.right),
        car.top_plate,
        camber=(-2.5, -0.5),
        caster=(static - 0.5, static + 0.5),
        ride_heights=(-10.0, 10.0),
    )
    slots = {row["of"]: row for row in told["rows"] if row["what"] == "slot"}
    for slot in plan.slots:
        assert slots[slot.name]["length_mm"] == pytest.approx(slot.length, abs=1e-9)
        assert (slots[slot.name]["from_mm"], slots[slot.name]["to_mm"]) == pytest.approx(slot.reach, abs=1e-9)
    ladder = top_plates.marks(plan.corners_of, plan.top_plate, of="plate", also_at=(-10.0, 10.0))
    marks = [row for row in told["rows"] if row["what"] == "mark" and row["of"] == "plate"]
    assert [row["label"] for row in marks] == ladder.label.values.tolist()
    assert [row["slide_mm"] for row in marks] == pytest.approx(ladder.slide.values.tolist(), abs=1e-9)
    assert all(record["clears"] for record in told["clearances"])
    assert told["chance"]["builds"] == 20
    assert told["held"] == plan.held
    # What does not pass is told beside data too.
    fouls = run("slots", "demo:gravel_hatch", *BOX, "--format", "csv")
    assert "DOES NOT PASS" in fouls.stderr
    assert "DOES NOT PASS" not in fouls.stdout
    table = list(csv.DictReader(io.StringIO(fouls.stdout)))
    assert {row["what"] for row in table} == {"slot", "mark"}


def test_drawing_takes_offset_and_where_travel_is_measured(tmp_path: Path) -> None:
    car = ss.demo("gravel_hatch")
    assert car.top_plate is not None
    told = set()
    for travel_at in ("ground", "strut"):
        file = tmp_path / f"{travel_at}.dxf"
        words = ("drawing", "demo:gravel_hatch", "--side", "left", *BOX, "--offset", "8", "--travel-at", travel_at)
        assert run(*words, "--output", file).exit_code == 0
        static = car.left.solve().caster
        plan = ss.slots(
            (car.left, car.right),
            car.top_plate.replace(insert={"offset": 8.0}),
            camber=(-2.5, -0.5),
            caster=(static - 0.5, static + 0.5),
            travel_at=travel_at,  # type: ignore[arg-type]
        )
        texts = [text.dxf.text for text in ezdxf.readfile(file).modelspace().query("TEXT")]
        assert "e = 8.00" in texts
        spans = [f"slides {slot.reach[0]:+.2f} to {slot.reach[1]:+.2f}" for slot in plan.slots]
        assert all(any(span in text for text in texts) for span in spans)
        told.add(tuple(spans))
    assert len(told) == 2


def test_slots_tell_what_to_trim() -> None:
    done = run("slots", "demo:gravel_hatch", *BOX)
    assert "to trim, outside the opening:" in done.output
    assert "licensed engineer" in done.output
