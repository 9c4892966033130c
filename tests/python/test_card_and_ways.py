"""The card, the ways to one camber, the map of settings, and their commands."""

from __future__ import annotations

import json
import math
from pathlib import Path

import constraint_solver
import numpy as np
import pytest
import xarray as xr
from typer.testing import CliRunner

import strutsweep as ss
from strutsweep import plots
from strutsweep.command_line import app
from strutsweep.words import READINGS, SETTINGS

run = CliRunner()

# The card.


@pytest.fixture(scope="module")
def carded() -> ss.Card:
    """The card of one corner, every adjuster."""
    return ss.card(ss.demo("hillclimb_saloon").right)


def test_card_slopes_are_those_of_a_second_method(carded: ss.Card) -> None:
    # SECOND METHOD: differences of the constraint solver; step 0.1 leaves 1e-9 of truncation, its poses 1e-9 per step.
    step = 0.1
    table = ss.demo("hillclimb_saloon").right.to_dict()
    for adjuster in SETTINGS:
        low, high = (constraint_solver.solve(table, **{adjuster: by}) for by in (-step, step))
        for figure in map(str, carded.dataset.figure.values):
            if figure == "hub_forward":
                change = high.points["wheel_centre"][0] - low.points["wheel_centre"][0]
            else:
                change = high.readings[figure] - low.readings[figure]
            found = float(carded.dataset.slope.sel(adjuster=adjuster, figure=figure))
            assert found == pytest.approx(change / (2.0 * step), rel=2e-4, abs=2e-6), (adjuster, figure)


def test_card_ranges_hold_to_two_per_cent_and_no_farther(carded: ss.Card) -> None:
    corner = ss.demo("hillclimb_saloon").right
    now = corner.solve().readings
    checked = 0
    for adjuster in ("mount_in", "mount_back", "tie_rod", "arm"):
        for figure in ("camber", "toe", "mechanical_trail", "half_track"):
            cell = carded.dataset.sel(adjuster=adjuster, figure=figure)
            for end in (float(cell.holds_from), float(cell.holds_to)):
                if not math.isfinite(end):
                    continue

                def missed(
                    move: float, figure: str = figure, adjuster: str = adjuster, slope: float = float(cell.slope)
                ) -> float:
                    change = corner.solve(**{adjuster: move}).readings[figure] - now[figure]
                    return abs(change / (slope * move) - 1.0)

                # The end is found between places of the sweep 0.125 mm apart, by a straight line.
                assert missed(0.95 * end) < 0.02, (adjuster, figure, end)
                assert missed(1.05 * end) > 0.02, (adjuster, figure, end)
                checked += 1
    assert checked > 10


def test_card_says_what_holds_all_the_way_and_what_does_not_change(carded: ss.Card) -> None:
    ds = carded.dataset
    assert float(ds.holds_to.sel(adjuster="mount_in", figure="camber")) == math.inf
    assert float(ds.looked_to.sel(adjuster="mount_in")) == 25.0
    assert float(ds.looked_to.sel(adjuster="clamp")) == 3.0
    assert np.isnan(ds.holds_to.sel(adjuster="hub_spacer", figure="toe"))
    text = str(carded)
    for words in ("ride height", "at this ride height", ">=+25", "kingpin", *SETTINGS):
        assert words in text
    assert carded._repr_html_().count("<table>") == 2


def test_card_about_another_setting_and_hold(corner: ss.Corner) -> None:
    here = ss.card(
        corner, "mount_in", start={"mount_in": 10.0}, travel=-15.0, travel_at="strut", spans={"mount_in": 4.0}
    )
    exact = corner.derivatives(["mount_in"], mount_in=10.0, travel=-15.0, travel_at="strut")
    assert float(here.dataset.slope.sel(figure="camber")[0]) == float(exact.camber[0])
    assert here.dataset.attrs["held"] == "spring length"
    assert float(here.dataset.looked_to[0]) == 4.0


def test_card_of_a_car_follows_the_face_of_its_tower() -> None:
    car = ss.demo("gravel_hatch")
    found = ss.card(car, ["mount_in", "mount_up", "tie_rod"], side="right").dataset
    level = ss.card(car.right, ["mount_in", "mount_up", "tie_rod"]).dataset
    # IDENTITY: along a face that falls 5 deg inboard a slope is that inboard less tan(5 deg) of that upward.
    fall = math.tan(math.radians(5.0))
    expected = level.slope.sel(adjuster="mount_in") - fall * level.slope.sel(adjuster="mount_up")
    np.testing.assert_allclose(found.slope.sel(adjuster="mount_in"), expected, rtol=0.0, atol=1e-9)
    np.testing.assert_array_equal(found.slope.sel(adjuster="tie_rod"), level.slope.sel(adjuster="tie_rod"))
    # SECOND METHOD: the constraint solver along the face.
    low, high = (constraint_solver.solve(car.right.to_dict(), mount_in=x, mount_up=-fall * x) for x in (-0.1, 0.1))
    change = (high.readings["camber"] - low.readings["camber"]) / 0.2
    assert float(found.slope.sel(adjuster="mount_in", figure="camber")) == pytest.approx(change, rel=2e-4)
    assert "Goes along: mount_up by -0.0875 per mm of mount_in" in str(ss.card(car, "mount_in"))
    assert "Goes along" not in str(ss.card(car, "mount_in", along={}))
    with pytest.raises(ss.InputError, match="side"):
        ss.card(car, side="middle")


def test_wrong_words_of_a_card_are_refused(corner: ss.Corner) -> None:
    with pytest.raises(ss.InputError, match="did you mean 'mount_in'"):
        ss.card(corner, "mount_inn")
    with pytest.raises(ss.InputError, match="spans"):
        ss.card(corner, spans={"mount_in": 0.0})
    with pytest.raises(ss.InputError, match="start"):
        ss.card(corner, start={"rake": 1.0})
    with pytest.raises(ss.ReachError):
        ss.card(corner, "mount_in", travel=900.0)


# The ways.


@pytest.mark.parametrize("side", ["left", "right"])
def test_ways_meet_the_camber_and_cost_what_the_trade_knows(side: str) -> None:
    car = ss.demo("hillclimb_saloon")
    found = ss.ways(car, -1.0, side=side)
    assert [one.outcome for one in found.plans.values()] == ["reached"] * 3
    change = found.dataset.change
    np.testing.assert_allclose(change.sel(cost="camber"), -0.5, rtol=0.0, atol=1e-8)
    np.testing.assert_allclose(change.sel(cost="toe"), 0.0, rtol=0.0, atol=1e-8)
    # IDENTITY: with a rigid knuckle the included angle is kept but for what the steer turns; a clamp changes it.
    assert abs(float(change.sel(way="mount_in", cost="included_angle"))) < 0.02
    assert float(change.sel(way="clamp", cost="included_angle")) == pytest.approx(-0.5, abs=0.02)
    assert abs(float(change.sel(way="clamp", cost="kingpin_inclination"))) < 0.03
    # IDENTITY: strut line and wheel are fixed in the knuckle; only the clamp turns one against the other.
    room = change.sel(cost="strut_to_wheel")
    assert abs(float(room.sel(way="mount_in"))) < 1e-9
    assert abs(float(room.sel(way="arm"))) < 1e-9
    assert float(room.sel(way="clamp")) < -1.0
    loose = found.plans["mount_in"]
    left_alone = loose.corner.solve(**{**loose.setting, "tie_rod": 0.0}).toe
    assert float(found.dataset.toe_untouched.sel(way="mount_in")) == pytest.approx(left_alone, abs=1e-12)


def test_room_between_strut_and_wheel_is_what_a_search_finds(each_corner: ss.Corner) -> None:
    # SECOND METHOD: walk up the strut axis to where it is a tyre's radius from the spin axis, in the solver's own pose.
    found = constraint_solver.solve(each_corner.to_dict(), clamp=1.0, travel=20.0)
    low, top, hub = (found.points[name] for name in ("strut_low", "strut_top", "wheel_centre"))
    along = np.linspace(0.0, 1.0, 400_001)[:, None]
    places = low + along * (top - low) - hub
    outward = places @ found.spin_axis
    radius = np.linalg.norm(places - outward[:, None] * found.spin_axis, axis=1)
    at = int(np.argmin(np.abs(radius - 300.0)))
    # Places stand 0.001 mm apart.
    assert each_corner.strut_to_wheel(300.0, clamp=1.0) == pytest.approx(-outward[at], abs=0.002)
    assert math.isnan(each_corner.strut_to_wheel(0.01))
    with pytest.raises(ss.InputError, match="radius = NaN is not a finite number"):
        each_corner.strut_to_wheel(math.nan)


def test_room_to_the_tyre_is_that_of_the_car_file() -> None:
    car = ss.demo("hillclimb_saloon")
    found = ss.ways(car, -1.0)
    # The car file's tyre: radius 308 mm, width 205 mm.
    now = car.left.strut_to_wheel(308.0) - 102.5
    turned = car.left.strut_to_wheel(308.0, clamp=found.plans["clamp"].setting["clamp"]) - 102.5
    assert float(found.dataset.tyre_room_now) == pytest.approx(now, abs=1e-12)
    assert float(found.dataset.tyre_room.sel(way="clamp")) == pytest.approx(turned, abs=1e-12)
    assert float(found.dataset.tyre_room.sel(way="mount_in")) == pytest.approx(now, abs=1e-12)
    assert f"{now:.2f} now" in str(found) and "308 mm" in str(found)
    wide = ss.ways(car, -1.0, tyre_width=225.0).dataset
    assert float(wide.tyre_room_now) == pytest.approx(now - 10.0, abs=1e-12)
    # A corner by itself knows no tyre: only the change is told, at the loaded radius.
    alone = ss.ways(car.left, -1.0)
    assert math.isnan(float(alone.dataset.tyre_room_now))
    assert "loaded radius" in str(alone) and "tyre's wall" not in str(alone)
    with pytest.raises(ss.InputError, match="tyre_width"):
        ss.ways(car, -1.0, tyre_width=-1.0)


def test_a_way_that_stops_short_says_so() -> None:
    found = ss.ways(ss.demo("hillclimb_saloon"), -2.2)
    assert found.plans["mount_in"].reached
    assert found.plans["clamp"].outcome == "limited"
    assert "clamp: a limit of an adjuster" in str(found)
    assert "limited" in found._repr_html_()
    free = ss.ways(ss.demo("hillclimb_saloon").left, -2.2, ["clamp"], tie_rod="untouched")
    assert free.plans["clamp"].reached
    assert float(free.dataset.tie_rod[0]) == 0.0


def test_wrong_words_of_ways_are_refused() -> None:
    car = ss.demo("gravel_hatch")
    with pytest.raises(ss.InputError, match="sets toe"):
        ss.ways(car, -1.0, ["tie_rod"])
    with pytest.raises(ss.InputError, match="no adjuster"):
        ss.ways(car, -1.0, [])
    with pytest.raises(ss.InputError, match="side"):
        ss.ways(car, -1.0, side="middle")
    with pytest.raises(ss.InputError, match="another unit"):
        ss.ways(car, -90.0)


# The map.


def test_map_of_settings_draws_a_panel_for_each_adjuster_and_hatches_what_stops(tmp_path: Path) -> None:
    car = ss.demo("hillclimb_saloon")
    want = {"camber": np.linspace(-3.0, 2.0, 21), "caster": np.linspace(3.5, 7.2, 17), "toe": 0.1}
    ds = ss.plan_map(car.left, want, {"mount_in": 25.0, "mount_back": 15.0})
    figure = plots.settings_map(ds)
    assert len(figure.axes) == 3
    labels = [text.get_text() for legend in figure.legends for text in legend.get_texts()]
    assert "stopped by mount in at its limit" in labels
    assert "as it is now" in labels
    texts = " ".join(text.get_text() for text in figure.texts)
    assert "ride height" in texts
    assert "toe put back by the tie rod" in texts
    assert plots.save(figure, tmp_path / "map.png").stat().st_size > 10_000
    with pytest.raises(ss.InputError, match="two readings wanted"):
        plots.settings_map(ds.isel(wanted_caster=0))
    with pytest.raises(ss.InputError, match="nothing that is wanted"):
        plots.settings_map(
            ss.plan_map(car.left, {"camber": [9.0, 9.5], "caster": [1.0, 2.0]}, {"mount_in": 1.0, "mount_back": 1.0})
        )


def test_map_of_settings_of_one_side_of_a_car_names_it_and_what_goes_along() -> None:
    car = ss.demo("hillclimb_saloon")
    ds = ss.plan_map(car, {"camber": np.linspace(-2, 0, 5), "caster": np.linspace(5, 6, 4)}, ["mount_in", "mount_back"])
    with pytest.raises(ss.InputError, match=r"sel\(side='left'\)"):
        plots.settings_map(ds)
    figure = plots.settings_map(ds.sel(side="right"))
    texts = " ".join(" ".join(text.get_text().split()) for text in figure.texts)
    assert "Right corner. Held" in texts
    assert "mount_up by -0.1405 per mm of mount_in" in texts


# The commands.


def test_plan_command_shows_the_plan_and_writes_it(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    asked = ["plan", "demo:gravel_hatch", "--want", "camber=-1.5", "--want", "toe=0.05", "--free", "mount-in"]
    done = run.invoke(app, [*asked, "--output", str(path)])
    assert done.exit_code == 0, done.output
    for words in ("mount_in", "ride height", "puts toe back", "alike", "A spring under load can kill"):
        assert words in done.stdout
    left, right = json.loads(path.read_text(encoding="utf-8"))
    planned = ss.plan(ss.demo("gravel_hatch"), {"camber": -1.5, "toe": 0.05}, ["mount_in"])
    assert left["setting"] == planned.left.setting
    assert right["side"] == "right"
    assert left["limits"]["mount_in"] == [-20.0, 20.0]
    one = run.invoke(app, [*asked, "--side", "right", "--mount-in", "3", "--travel-at", "hub"])
    assert "right corner" in one.stdout
    assert "3.000" in one.stdout
    assert "hub height" in one.stdout
    moved = run.invoke(app, ["plan", "demo:gravel_hatch", "--want", "toe=0.1@travel=30", "--free", "tie_rod=-5:5"])
    assert moved.exit_code == 0
    assert "toe at travel +30" in moved.stdout


PLAN_ENDINGS = {
    "beyond a limit": (["--want", "camber=-9", "--free", "mount_in"], 3),
    "one side alone": (["--want", "left.camber=-1", "--free", "mount_in"], 0),
    "wanted twice": (["--camber", "-1", "--want", "camber=-2", "--free", "mount_in"], 1),
    "a length": (["--toe", "2 mm", "--free", "tie_rod"], 1),
    "another unit": (["--want", "camber=90", "--free", "mount_in"], 1),
    "no value": (["--want", "camber", "--free", "mount_in"], 1),
    "no number": (["--want", "camber=much", "--free", "mount_in"], 1),
    "no motion": (["--want", "camber=-1@speed=3", "--free", "mount_in"], 1),
    "nothing wanted": (["--free", "mount_in"], 1),
    "nothing free": (["--want", "camber=-1"], 1),
    "unknown option": (["--wanted", "camber=-1"], 2),
    "unknown form": (["--want", "camber=-1", "--free", "mount_in", "--output", "plan.txt"], 1),
    "motion out of reach": (["--want", "camber=-1@travel=900", "--free", "mount_in"], 3),
}


@pytest.mark.parametrize(("more", "status"), PLAN_ENDINGS.values(), ids=PLAN_ENDINGS)
def test_plan_command_ends_as_commands_do(more: list[str], status: int) -> None:
    done = run.invoke(app, ["plan", "demo:gravel_hatch", *more])
    assert done.exit_code == status, done.output


def test_card_and_ways_commands_print_and_write(tmp_path: Path) -> None:
    done = run.invoke(
        app, ["card", "demo:gravel_hatch", "--adjuster", "mount-in", "--output", str(tmp_path / "card.nc")]
    )
    assert done.exit_code == 0, done.output
    assert "Holds to 2 %" in done.stdout
    with xr.open_dataset(tmp_path / "card.nc", engine="scipy") as written:
        # The first figure is camber: inboard leans the wheel in.
        assert float(written.slope[0, 0]) < 0.0
    done = run.invoke(app, ["ways", "demo:gravel_hatch", "--camber", "-1", "--output", str(tmp_path / "ways.csv")])
    assert done.exit_code == 0, done.output
    assert "strut to wheel" in done.stdout
    assert READINGS["camber"]["positive"] in done.stdout
    assert "kingpin_inclination" in (tmp_path / "ways.csv").read_text(encoding="utf-8")
    assert run.invoke(app, ["ways", "demo:gravel_hatch", "--camber", "-9"]).exit_code == 3
    assert run.invoke(app, ["ways", "demo:gravel_hatch", "--camber", "-1", "--output", "a.txt"]).exit_code == 1
