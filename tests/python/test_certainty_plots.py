"""Pictures of how sure: bars, bells, bands and curves are where the numbers say, and words say what they are."""

from __future__ import annotations

import re

import numpy as np
import pytest
from matplotlib.figure import Figure

import strutsweep as ss
from strutsweep import plots

TRAVEL = {"travel": np.linspace(-40.0, 40.0, 9)}
# Heights of a histogram's bars sum to one over the axis, but for round-off.
ROUND_OFF = 1e-9


@pytest.fixture(scope="module")
def saloon() -> ss.Corner:
    return ss.demo("hillclimb_saloon").left


@pytest.fixture(scope="module")
def found(saloon: ss.Corner) -> ss.Spread:
    return ss.spread(saloon, {"points": 1.0}, limits={"caster": (5.3, 5.4)}, mount_in=5.0, samples=4096, seed=1)


@pytest.fixture(scope="module")
def fit(saloon: ss.Corner) -> ss.Fit:
    truth = saloon.replace(tie_rod_inner=saloon.points["tie_rod_inner"] + [0.0, 0.0, 2.0])
    swept = ss.sweep(truth, travel=np.linspace(-60.0, 60.0, 7))
    sheet = ss.Measurements.from_sweep(swept, ["toe", "camber"], 0.02, seed=3)
    zeroed = ss.Measurements.curve(
        "toe", swept.toe.values + 3.0, 0.02, travel=swept.travel.values, zeroed=True, name="bump"
    )
    return ss.fit(saloon, sheet + zeroed, {"points": ss.normal(1.5), "wheel.toe": ss.normal(0.1)})


def words(figure: Figure) -> str:
    return " ".join(text.get_text() for text in figure.texts)


def labels(figure: Figure) -> list[str]:
    return [text.get_text() for legend in figure.legends for text in legend.get_texts()]


def test_bars_are_as_long_as_the_scatter_that_each_source_gives(saloon: ss.Corner) -> None:
    slopes = ss.sensitivities(saloon, {"points": 1.0}, readings="bump_steer")
    figure = plots.tornado(slopes, "bump_steer", most=3)
    (axes,) = figure.axes
    names = [label.get_text() for label in axes.get_yticklabels()]
    assert names[0] == "tie_rod.inner.z"
    assert names[3].endswith("others together")
    effects = slopes.data.effect.sel(reading="bump_steer")
    for name, bar in zip(names[:3], axes.patches, strict=False):
        effect = effects.sel(source=name).item()
        assert bar.get_width() == pytest.approx(2.0 * abs(effect))
        assert bar.get_x() == pytest.approx(-abs(effect))
    # A reading that falls has another colour than one that grows.
    signs = {
        bool(effects.sel(source=name).item() < 0.0): bar.get_facecolor()
        for name, bar in zip(names[:3], axes.patches, strict=False)
    }
    assert len(set(signs.values())) == len(signs) == 2
    assert "ride height held" in words(figure)
    assert "(deg/mm)" in axes.get_xlabel()


def test_a_tornado_of_a_spread_says_at_which_pose(found: ss.Spread) -> None:
    figure = plots.tornado(found, "caster")
    assert "mount_in +5 mm" in words(figure)
    with pytest.raises(ss.InputError, match="'hub_trail' was not computed"):
        plots.tornado(found, "hub_trail")
    with pytest.raises(ss.InputError, match="without tolerances"):
        plots.tornado(ss.sensitivities(ss.demo().left), "toe")


def test_histograms_hold_all_samples_and_the_bell(found: ss.Spread) -> None:
    figure = plots.histograms(found, readings=["caster", "toe"])
    for name, axes in zip(("caster", "toe"), figure.axes, strict=True):
        one = found.data.sel(reading=name)
        bars = axes.containers[0].patches
        assert sum(bar.get_height() * bar.get_width() for bar in bars) == pytest.approx(1.0, abs=ROUND_OFF)
        bell = axes.lines[0]
        assert bell.get_xdata()[bell.get_ydata().argmax()] == pytest.approx(
            one.linear_mean.item(), abs=0.1 * one.standard_deviation.item()
        )
        assert axes.lines[1].get_xdata()[0] == one.nominal.item()
    heading = figure.axes[0].get_title(loc="left")
    met = re.search(r"limit met by ([0-9.]+) \N{PLUS-MINUS SIGN} ([0-9.]+) %", heading.replace("\n", " "))
    assert met is not None
    caster = found.data.sel(reading="caster")
    told = [float(number) for number in met.groups()]
    assert told == pytest.approx([100.0 * caster.chance.item(), 100.0 * caster.chance_error.item()], abs=0.06)
    assert "beyond the limit" in labels(figure)
    assert "seed 1" in words(figure)


def test_what_passes_through_infinity_is_not_drawn(saloon: ss.Corner) -> None:
    across = ss.spread(saloon, {"strut.top": 20.0}, readings=["swing_arm_length"], travel=50.0, samples=1024, seed=5)
    with pytest.raises(ss.InputError, match="pass through infinity"):
        plots.histograms(across, readings="swing_arm_length")


def test_bars_of_sources_that_go_together_are_those_of_each_alone(saloon: ss.Corner) -> None:
    # IDENTITY: what a source alone gives does not hang on what it goes together with; what all give does.
    pair = ("tie_rod.inner.z", "tie_rod.outer.z")
    given = {"readings": "bump_steer", "samples": 64, "seed": 1}
    free = ss.spread(saloon, {"points": 1.0}, **given)
    tied = ss.spread(saloon, {"points": 1.0}, correlation={pair: 0.9}, **given)
    widths = [
        [bar.get_width() for bar in plots.tornado(found, "bump_steer", most=4).axes[0].patches][:4]
        for found in (free, tied)
    ]
    assert widths[0] == pytest.approx(widths[1], rel=1e-9)
    assert "takes back" in words(plots.tornado(tied, "bump_steer"))
    assert "takes back" not in words(plots.tornado(free, "bump_steer"))


def test_what_does_not_scatter_is_left_out_of_histograms(saloon: ss.Corner) -> None:
    still = ss.spread(saloon, {"points": 1.0}, readings=["camber", "caster"], samples=64, seed=1)
    assert len(plots.histograms(still).axes) == 1
    with pytest.raises(ss.InputError, match="none of them scatters"):
        plots.histograms(still, readings="camber")
    with pytest.raises(ss.InputError, match="'toe' was not computed"):
        plots.histograms(still, readings="toe")


def test_measured_numbers_stand_beside_the_curves(fit: ss.Fit) -> None:
    figure = plots.fitted(fit)
    assert len(figure.axes) == 3
    toe = figure.axes[0]
    points = toe.containers[0].lines[0]
    np.testing.assert_array_equal(
        points.get_xdata(), fit.measurements.rows[:7, list(ss.fitting.FIELDS).index("travel")]
    )
    given, middle = toe.lines[:2]
    assert middle.get_ydata()[0] == pytest.approx(fit.corner.solve(travel=-60.0).toe, abs=1e-12)
    assert given.get_ydata()[0] == pytest.approx(fit.start.solve(travel=-60.0).toe, abs=1e-12)
    # The zero of a gauge is taken off, so that its numbers lie by the curve.
    bump = figure.axes[2]
    assert np.abs(bump.containers[0].lines[0].get_ydata()).max() < 1.0
    assert "gauge zeroed" in bump.get_title(loc="left")
    with pytest.raises(ss.InputError, match="no curve runs along rack"):
        plots.fitted(fit, along="rack")
    with pytest.raises(ss.InputError, match="no 'lap'"):
        plots.fitted(fit, along="lap")


def test_what_was_learned_stands_in_units_of_what_was_known(fit: ss.Fit) -> None:
    figure = plots.learned(fit, most=5)
    (axes,) = figure.axes
    names = [label.get_text() for label in axes.get_yticklabels()]
    bars = axes.patches[5:]
    for name, bar in zip(names, bars, strict=True):
        one = fit.unknowns.sel(source=name)
        assert bar.get_width() == pytest.approx(2.0 * (one.after / one.before).item())
    assert "20 more" in words(figure)


def test_a_trade_off_shows_both_goals_and_the_moves(saloon: ss.Corner) -> None:
    goals = ss.Quantity("toe", "range", TRAVEL), ss.Quantity("camber", "range", TRAVEL)
    found = ss.trade_off(saloon, *goals, {"tie_rod.inner.z": (-8, 8), "strut.top.y": (-10, 10)}, points=3, seed=1)
    curve, moves = plots.trade_off_curve(found).axes
    np.testing.assert_array_equal(curve.lines[0].get_xdata(), found.data["first"])
    np.testing.assert_array_equal(curve.lines[0].get_ydata(), found.data.second)
    assert curve.lines[1].get_xdata()[0] == found.data.attrs["first_as_it_is"]
    np.testing.assert_array_equal(moves.lines[0].get_ydata(), found.data.move.isel(variable=0))
    assert "(deg)" in curve.get_xlabel()
    assert moves.get_legend().get_texts()[0].get_text() == "tie_rod.inner.z (mm)"
