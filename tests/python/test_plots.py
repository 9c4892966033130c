"""Figures: what is drawn is what the numbers say, it is labelled, it is legible, and a file of it can be reproduced.

Numbers are deliberately unlike left and right, fore and aft, so that swapped axes are caught.
"""

from __future__ import annotations

import itertools
import math
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from functools import cache

import matplotlib as mpl
import numpy as np
import pytest
import xarray as xr
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.contour import ContourSet
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Annotation, Text
from scipy.interpolate import RegularGridInterpolator

import strutsweep as ss
from strutsweep import plots
from strutsweep.words import MOTIONS, READINGS, SETTINGS, STATUSES, attributes

ROUND_OFF_MM = 1e-9
"""Drawn places are copied or come of a few additions of numbers below 1e4 mm: 1e-12 mm apiece."""
ROUND_OFF_DEG = 1e-9
"""Angles and directions taken back from drawn places: those, over arms of 300 mm."""
SAME_SCALE = 1e-9
"""Relative: lengths on the sheet come of a chain of some ten products."""
PROJECTED_MM = 1e-6
"""A line of some 1e3 mm, prolonged from an instant centre up to 1e5 mm away whose place bears 1e-10 of it."""
SHARE_OF_A_STEP = 0.05
"""A contour is straight between the lines of the grid, the reading is not: how far a label on it may be off, in steps
from contour to contour. The grid's own steps are 2 mm, over which camber's slope changes by some thousandths."""

CORNERS = {
    f"{name}-{side}": getattr(ss.demo(name), side)
    for name in ("gravel_hatch", "hillclimb_saloon")
    for side in ("left", "right")
}
LEFT = CORNERS["gravel_hatch-left"]
RIGHT = CORNERS["hillclimb_saloon-right"]

TRAVEL = np.linspace(-30.0, 50.0, 17)
ACROSS = np.linspace(-8.0, 16.0, 13)
BACK = np.linspace(-12.0, 6.0, 10)


def sentence(figure: Figure) -> str:
    """Title and notes of a figure, on one line."""
    return " ".join(text.get_text() for text in figure.texts)


def legend_words(figure: Figure) -> list[str]:
    """Every entry and heading of the figure's legends, each on one line."""
    return [
        " ".join(text.get_text().split())
        for legend in figure.legends
        for text in (legend.get_title(), *legend.get_texts())
        if text.get_text()
    ]


def minus(text: str) -> str:
    """Printed numbers have a true minus sign; Python reads a hyphen."""
    return text.replace("\u2212", "-")


def curves(axes, count=None):
    """The lines of readings on a panel: those that are neither marks nor the lines through zero."""
    found = [line for line in axes.get_lines() if line.get_linestyle() == "-" and not line.get_label().startswith("_")]
    assert count is None or len(found) == count
    return found


def marks(axes, shape):
    """Places of all marks of one shape on a panel."""
    found = [
        line.get_xydata() for line in axes.get_lines() if line.get_linestyle() == "None" and line.get_marker() == shape
    ]
    return np.vstack(found) if found else np.empty((0, 2))


# Labels


def test_every_reading_is_labelled_with_its_unit_and_its_sign():
    dataset = ss.sweep(LEFT, travel=TRAVEL)
    figure = plots.against_travel(dataset, readings=READINGS)
    assert len(figure.axes) == len(READINGS)
    for axes, (name, words) in zip(figure.axes, READINGS.items(), strict=True):
        unit = "no unit" if words["units"] == "1" else words["units"]
        assert " ".join(axes.get_ylabel().split()) == f"{words['long_name']} ({unit})", name
        sign = " ".join(axes.get_title(loc="left").split())
        assert sign.removeprefix("+ ").startswith(words["positive"]), name
        assert sign.startswith("+ ") == (not words["positive"].startswith("never negative")), name


@pytest.mark.parametrize("axis", ["travel", "rack"])
def test_the_axis_along_is_labelled_with_its_unit_and_its_sign(axis):
    figure = {"travel": plots.against_travel, "rack": plots.against_rack}[axis](
        ss.sweep(LEFT, **{axis: TRAVEL}), readings=["toe", "camber"]
    )
    words = MOTIONS[axis]
    for axes in figure.axes:
        assert axes.get_xlabel().startswith(f"{words['long_name']} ({words['units']})\n+ {words['positive']}")


def test_the_header_names_car_side_what_is_held_and_what_is_not_zero():
    dataset = ss.sweep(RIGHT, travel=TRAVEL, rack=7.5, mount_back=-3.25, hub_spacer=4.0, travel_at="hub")
    said = minus(sentence(plots.against_travel(dataset, readings="toe")))
    assert "Hill-climb saloon, right corner" in said
    assert "hub height" in said and "measured at the hub" in said
    lower = said.lower()
    assert f"{MOTIONS['rack']['long_name']} +7.5 mm (+ {MOTIONS['rack']['positive']})" in lower
    assert f"{SETTINGS['mount_back']['long_name']} -3.25 mm (+ {SETTINGS['mount_back']['positive']})" in lower
    assert f"{SETTINGS['hub_spacer']['long_name']} +4 mm (+ {SETTINGS['hub_spacer']['positive']})" in lower
    for name in set(SETTINGS) - {"mount_back", "hub_spacer"}:
        assert f"{SETTINGS[name]['long_name']} " not in lower, name


def test_all_zero_is_said_and_moved_hard_points_are_named():
    moved = xr.DataArray(LEFT.points["ball_joint"] + [0.0, 2.0, 1.0], dims="xyz")
    said = sentence(plots.against_travel(ss.sweep(LEFT, travel=TRAVEL, points={"ball_joint": moved}), readings="toe"))
    assert "All settings zero." in said
    assert "Hard points moved: ball_joint." in said


def test_a_name_with_dollar_signs_is_no_formula():
    figure = plots.three_views(LEFT.replace(name="a $10 car, or $x^2$"))
    assert figure.texts[0].get_text().startswith("a $10 car, or $x^2$")
    assert not figure.texts[0].get_parse_math()


# Curves


@pytest.mark.parametrize("order", [("travel", "mount_in"), ("mount_in", "travel")])
def test_lines_carry_the_data(order):
    dataset = ss.sweep(RIGHT, travel=TRAVEL, mount_in=[-7.0, 0.0, 13.0]).transpose(*order)
    figure = plots.against_travel(dataset, readings=("camber", "half_track"))
    for axes, name in zip(figure.axes, ("camber", "half_track"), strict=True):
        for line, value in zip(curves(axes, 3), (-7.0, 0.0, 13.0), strict=True):
            assert np.array_equal(line.get_xdata(), TRAVEL)
            assert np.array_equal(line.get_ydata(), dataset[name].sel(mount_in=value).values)
    assert [minus(text) for text in legend_words(figure)][:4] == [
        f"{SETTINGS['mount_in']['long_name']} (mm), + {SETTINGS['mount_in']['positive']}",
        "-7",
        "0",
        "+13",
    ]


def test_each_legend_entry_has_the_colour_of_its_line():
    dataset = ss.sweep(LEFT, rack=TRAVEL, mount_back=[-9.0, 2.0, 4.0, 11.0])
    figure = plots.against_rack(dataset, readings="toe")
    (legend, *_) = figure.legends
    named = {
        text.get_text(): handle.get_color()
        for text, handle in zip(legend.get_texts(), legend.legend_handles, strict=True)
    }
    assert {minus(text) for text in named} == {"-9", "+2", "+4", "+11"}
    for line in curves(figure.axes[0], 4):
        assert line.get_color() == named[line.get_label()]
        value = float(minus(line.get_label()))
        assert np.array_equal(line.get_ydata(), dataset.toe.sel(mount_back=value).values)


@pytest.mark.parametrize("count", [3, 8, 40])
def test_colours_follow_the_order_of_the_values_in_grey_too(count):
    figure = plots.against_travel(
        ss.sweep(LEFT, travel=TRAVEL, mount_in=np.linspace(-20, 20, count)), readings="camber"
    )
    # Relative luminance, ITU-R BT.709 (PUBLISHED): what a grey print, and nearly what the colour-blind, see.
    grey = [float(np.dot(to_rgb(line.get_color()), (0.2126, 0.7152, 0.0722))) for line in curves(figure.axes[0], count)]
    assert np.all(np.diff(grey) > 0.0)


def test_many_lines_have_a_scale_of_colours_instead_of_a_legend():
    values = np.linspace(-20, 30, 11)
    figure = plots.against_travel(ss.sweep(LEFT, travel=TRAVEL, mount_in=values), readings="camber")
    panel, bar = figure.axes
    curves(panel, 11)
    assert bar.get_xlim() == (-20.0, 30.0)
    assert "11 lines" in bar.get_xlabel() and SETTINGS["mount_in"]["long_name"] in bar.get_xlabel()


def test_droop_is_left_and_bump_right_whatever_the_order_of_the_sweep():
    dataset = ss.sweep(LEFT, travel=[50.0, -30.0, 0.0, 20.0])
    axes = plots.against_travel(dataset, readings="camber").axes[0]
    (line,) = curves(axes, 1)
    assert np.array_equal(line.get_xdata(), [-30.0, 0.0, 20.0, 50.0])
    assert np.array_equal(line.get_ydata(), dataset.camber.sel(travel=[-30.0, 0.0, 20.0, 50.0]).values)
    low, high = axes.get_xlim()
    assert low < -30.0 and high > 50.0


def test_the_design_position_is_ringed_on_its_line_only():
    dataset = ss.sweep(RIGHT, travel=TRAVEL, mount_in=[-7.0, 0.0, 13.0])
    axes = plots.against_travel(dataset, readings="camber").axes[0]
    assert np.array_equal(marks(axes, "o"), [[0.0, float(dataset.camber.sel(travel=0.0, mount_in=0.0))]])
    widths = [line.get_linewidth() for line in curves(axes, 3)]
    assert widths[1] > max(widths[0], widths[2])


def test_no_design_position_is_ringed_where_a_setting_is_not_zero():
    figure = plots.against_travel(ss.sweep(RIGHT, travel=TRAVEL, tie_rod=1.0), readings="camber")
    assert not marks(figure.axes[0], "o").size
    assert not any("design" in words for words in legend_words(figure))


@pytest.mark.parametrize("name", CORNERS)
def test_lines_end_where_the_pose_is_out_of_reach_and_the_legend_says_why(name):
    rack = np.linspace(-200.0, 180.0, 77)
    dataset = ss.sweep(CORNERS[name], rack=rack, travel=[-20.0, 40.0])
    figure = plots.against_rack(dataset, readings="toe")
    axes = figure.axes[0]
    ends = []
    for line, travel in zip(curves(axes, 2), (-20.0, 40.0), strict=True):
        reached = dataset.status.sel(travel=travel).values == STATUSES["reached"]["code"]
        assert np.array_equal(np.isfinite(line.get_ydata()), reached)
        for index in (np.argmax(reached), len(rack) - 1 - np.argmax(reached[::-1])):
            ends.append([rack[index], float(dataset.toe.sel(travel=travel)[index])])
    assert sorted(ends) == sorted(marks(axes, "X").tolist())
    assert any(STATUSES["tie_rod"]["reason"] in words for words in legend_words(figure))
    nowhere = (dataset.status != 0).all("travel").values
    bands = [patch for patch in axes.patches if isinstance(patch, Rectangle) and patch.get_hatch()]
    covered = np.zeros(rack.shape, dtype=bool)
    for band in bands:
        covered |= (rack > band.get_x()) & (rack < band.get_x() + band.get_width())
    # The two ends of the axis lie on a band's edge.
    assert np.array_equal(covered[1:-1], nowhere[1:-1]) and nowhere[0] and nowhere[-1]


def test_each_part_that_ran_out_has_a_mark_of_its_own():
    dataset = ss.sweep(RIGHT, travel=np.linspace(-420.0, 420.0, 85))
    assert set(np.unique(dataset.status)) == {STATUSES["reached"]["code"], STATUSES["lower_arm"]["code"]}
    figure = plots.against_travel(dataset, readings="camber")
    assert len(marks(figure.axes[0], "^")) == 2
    assert any(STATUSES["lower_arm"]["reason"] in words for words in legend_words(figure))


def test_a_line_of_hard_points_that_make_no_corner_is_said_to_be_missing():
    places = np.stack([LEFT.points["ball_joint"], LEFT.points["arm_front"]])
    moved = xr.DataArray(places, dims=("sample", "xyz"), coords={"sample": ["drawn", "wrong"]})
    figure = plots.against_travel(ss.sweep(LEFT, travel=TRAVEL, points={"ball_joint": moved}), readings="camber")
    words = legend_words(figure)
    assert "wrong (out of reach)" in words and "drawn" in words
    assert any(STATUSES["hard_points"]["reason"] in entry for entry in words)


def test_a_reading_that_passes_through_infinity_is_broken_there_and_kept_in_sight():
    travel = np.linspace(-100.0, 150.0, 251)
    dataset = ss.sweep(RIGHT, travel=travel)
    length = dataset.swing_arm_length.values
    pole = np.flatnonzero(np.diff(np.sign(length)))
    assert len(pole) == 1  # one travel at which camber does not change
    axes = plots.against_travel(dataset, readings="swing_arm_length").axes[0]
    (line,) = curves(axes, 1)
    drawn = np.isfinite(line.get_ydata())
    assert not drawn[pole[0]] and drawn.sum() == len(travel) - 1
    assert np.array_equal(line.get_ydata()[drawn], length[drawn])
    assert np.ptp(axes.get_ylim()) < 0.5 * np.ptp(length)
    assert "runs off the scale" in axes.get_title(loc="left")


def test_what_is_constant_looks_constant():
    axes = plots.against_travel(ss.sweep(LEFT, travel=TRAVEL, travel_at="strut"), readings="half_track").axes[0]
    assert np.ptp(axes.get_ylim()) > 0.1
    dataset = ss.sweep(LEFT, rack=TRAVEL, travel_at="strut")
    assert np.ptp(dataset.strut_compression.values) < ROUND_OFF_MM
    axes = plots.against_rack(dataset, readings="strut_compression").axes[0]
    assert np.ptp(axes.get_ylim()) > 0.01


def test_paired_inputs_are_a_path_and_are_told():
    time = np.linspace(0.0, 1.0, 21)
    travel = xr.DataArray(40.0 * np.sin(2.0 * np.pi * time), dims="time", coords={"time": time})
    dataset = ss.sweep(LEFT, travel=travel, rack=0.5 * travel + 3.0)
    figure = plots.against_travel(dataset, readings="toe")
    (line,) = curves(figure.axes[0], 1)
    assert np.array_equal(line.get_xdata(), travel.values)
    assert np.array_equal(line.get_ydata(), dataset.toe.values)
    assert f"{MOTIONS['rack']['long_name']} from -17 mm to +23 mm" in minus(sentence(figure)).lower()


def test_paired_settings_label_their_lines_with_all_their_values():
    sample = xr.DataArray([0.0, 2.0], dims="sample")
    dataset = ss.sweep(LEFT, travel=TRAVEL, mount_in=sample, tie_rod=-0.5 * sample)
    figure = plots.against_travel(dataset, readings="toe")
    assert minus(curves(figure.axes[0], 2)[1].get_label()) == "mount_in +2 mm, tie_rod -1 mm"


def test_a_further_dimension_is_held_where_it_is_told():
    dataset = ss.sweep(LEFT, travel=TRAVEL, mount_in=[-7.0, 0.0, 13.0], mount_back=np.linspace(0.0, 0.3, 4))
    figure = plots.against_travel(dataset, readings="camber", at={"mount_in": 13, "mount_back": 0.1})
    (line,) = curves(figure.axes[0], 1)
    assert np.array_equal(line.get_ydata(), dataset.camber.isel(mount_in=2, mount_back=1).values)
    assert f"{SETTINGS['mount_in']['long_name']} +13 mm" in sentence(figure).lower()


# Maps


def arrow_way(figure, word):
    """Which way the arrow points that bears this word, on the sheet: right and up are positive."""
    (compass,) = [axes for axes in figure.axes if axes.get_label() == "compass"]
    words = {text.get_text(): text for text in compass.texts if text.get_text()}
    arrows = [text for text in compass.texts if isinstance(text, Annotation) and not text.get_text()]
    place = np.array(words[word].get_position())
    arrow = min(arrows, key=lambda one: np.linalg.norm(np.array(one.xy) - place))
    ends = compass.transData.transform([arrow.xyann, arrow.xy])
    return ends[1] - ends[0]


@pytest.mark.parametrize("name", CORNERS)
def test_a_map_lies_as_the_car_does_seen_from_above(name):
    corner = CORNERS[name]
    figure = plots.mount_map(ss.sweep(corner, mount_in=ACROSS, mount_back=BACK))
    axes = figure.axes[-1] if figure.axes[0].get_label() == "compass" else figure.axes[0]
    zero, inboard, back = axes.transData.transform([[0.0, 0.0], [5.0, 0.0], [0.0, 5.0]])
    # From above with the front up, the car's left is on the left: the sheet's right is -Y, its top +X (IDENTITY).
    design = corner.solve().point("strut_top")
    for moved, drawn in ((corner.solve(mount_in=5.0), inboard - zero), (corner.solve(mount_back=5.0), back - zero)):
        step = moved.point("strut_top") - design
        sheet = np.array([-step[1], step[0]])
        assert np.allclose(drawn / np.linalg.norm(drawn), sheet / np.linalg.norm(sheet), atol=SAME_SCALE)
    assert np.dot(arrow_way(figure, "inboard"), inboard - zero) > 0.0
    assert np.dot(arrow_way(figure, "front"), back - zero) < 0.0
    assert ("right" if corner.side == "left" else "left") in sentence(figure).split("inboard to the ")[1][:6]


def lines_of(axes):
    """The contour lines of a panel: the contour set that is not filled."""
    (lines,) = [child for child in axes.get_children() if isinstance(child, ContourSet) and not child.filled]
    return lines


@pytest.mark.parametrize("corner", [LEFT, RIGHT], ids=["left", "right"])
def test_contours_lie_where_the_data_say_and_their_labels_tell_the_level(corner):
    dataset = ss.sweep(corner, mount_back=BACK, mount_in=ACROSS, travel=[0.0, 25.0])
    names = ("camber", "caster", "toe", "half_track")
    figure = plots.mount_map(dataset, readings=names, at={"travel": 25.0})
    panels = [axes for axes in figure.axes if axes.get_label() != "compass"]
    for axes, name in zip(panels, names, strict=True):
        grid = dataset[name].sel(travel=25.0).transpose("mount_in", "mount_back")
        between = RegularGridInterpolator(
            (grid.mount_in.values, grid.mount_back.values), grid.values, bounds_error=False, fill_value=None
        )
        lines = lines_of(axes)
        drawn = {}
        for level, path in zip(lines.levels, lines.get_paths(), strict=True):
            # A contour's corners lie on the lines of the grid, where it is interpolated linearly.
            assert len(path.vertices) and np.allclose(
                between(path.vertices), level, atol=SAME_SCALE * np.ptp(grid.values)
            )
            drawn[float(level)] = path.vertices
        unit = attributes(name)["units"]
        labels = [
            text for text in axes.texts if text.get_rotation_mode() and text.get_ha() == "center" and text.get_text()
        ]
        assert len(labels) >= 2
        step = float(np.min(np.diff(lines.levels)))
        for text in labels:
            value, _, printed_unit = minus(text.get_text()).partition(" ")
            assert printed_unit == unit
            assert float(value) in drawn or min(abs(float(value) - level) for level in drawn) < SAME_SCALE
            # Between the corners of a contour its label strays from the curved surface by less than this.
            assert abs(float(between(text.get_position())) - float(value)) < SHARE_OF_A_STEP * step


@pytest.mark.parametrize("corner", [LEFT, RIGHT], ids=["left", "right"])
def test_the_top_mount_as_measured_is_ringed_with_its_reading(corner):
    dataset = ss.sweep(corner, mount_in=ACROSS, mount_back=BACK)
    figure = plots.mount_map(dataset, "camber")
    (axes,) = [axes for axes in figure.axes if axes.get_label() != "compass"]
    assert np.array_equal(marks(axes, "o"), [[0.0, 0.0]])
    assert "\u22120.50 deg" in [text.get_text() for text in axes.texts]
    assert math.isclose(corner.solve().camber, -0.5, abs_tol=ROUND_OFF_DEG)


def test_maps_of_several_readings_share_their_axes_and_their_scale():
    figure = plots.mount_map(ss.sweep(LEFT, mount_in=ACROSS, mount_back=BACK), readings=["camber", "toe", "caster"])
    panels = [axes for axes in figure.axes if axes.get_label() != "compass"]
    assert len(panels) == 3
    for axes in panels:
        assert axes.get_xlim() == (-8.0, 16.0) and axes.get_ylim() == (6.0, -12.0)
        right, up = np.diff(axes.transData.transform([[0.0, 0.0], [1.0, -1.0]]), axis=0)[0]
        assert math.isclose(right, up, rel_tol=SAME_SCALE)  # one millimetre is as long across as up
    assert panels[0].get_ylabel().startswith(f"{SETTINGS['mount_back']['long_name']} (mm)")
    for axes in panels:
        assert axes.get_xlabel().startswith(f"{SETTINGS['mount_in']['long_name']} (mm)")


def test_what_is_out_of_reach_is_hatched_and_explained():
    across, back = np.linspace(-120.0, 90.0, 22), np.linspace(-100.0, 110.0, 22)
    dataset = ss.sweep(RIGHT, rack=115.0, mount_in=across, mount_back=back)
    reached = (dataset.status == 0).transpose("mount_back", "mount_in").values
    assert 0.1 < reached.mean() < 0.9
    figure = plots.mount_map(dataset, "camber")
    (axes,) = [axes for axes in figure.axes if axes.get_label() != "compass"]
    sets = [child for child in axes.get_children() if isinstance(child, ContourSet) and child.filled]
    (hatched,) = [one for one in sets if any(one.hatches)]
    (bands,) = [one for one in sets if not any(one.hatches)]
    for row, column in itertools.product(range(1, 21), range(1, 21)):
        place = (across[column], back[row])
        inside = any(path.contains_point(place) for path in hatched.get_paths() if len(path.vertices))
        mapped = any(path.contains_point(place) for path in bands.get_paths() if len(path.vertices))
        around = reached[row - 1 : row + 2, column - 1 : column + 2]
        if not reached[row, column]:
            assert inside and not mapped, place
        elif around.all():
            assert mapped and not inside, place
    assert any(words == f"out of reach: {STATUSES['tie_rod']['reason']}" for words in legend_words(figure))


def test_a_map_shows_no_false_contours_beside_infinity():
    grid = np.linspace(-300.0, 300.0, 61)
    dataset = ss.sweep(RIGHT, rack=40.0, mount_in=grid, mount_back=grid)
    length = dataset.swing_arm_length.values
    assert length.min() < -1e5 and length.max() > 1e5 and (dataset.status == 0).all()
    figure = plots.mount_map(dataset, "swing_arm_length")
    (axes,) = [axes for axes in figure.axes if axes.get_label() != "compass"]
    lines = lines_of(axes)
    assert 0.0 in lines.levels
    # The swing arm has no zero here: it changes sign through infinity.
    assert not len(lines.get_paths()[list(lines.levels).index(0.0)].vertices)
    assert any("infinite" in words for words in legend_words(figure))
    assert "contour of zero" not in legend_words(figure)


def test_a_constant_reading_is_said_to_be_so():
    dataset = ss.sweep(LEFT, mount_in=ACROSS, mount_back=BACK, travel_at="strut")
    figure = plots.mount_map(dataset, "strut_compression")
    assert any("everywhere" in text.get_text() for axes in figure.axes for text in axes.texts)


# Three views

POSES = {
    "design": {},
    "bump, mount in": {"travel": 35.0, "mount_in": 12.0, "mount_back": -4.0},
    "lock, clamp": {"travel": -25.0, "rack": 30.0, "clamp": 1.5, "arm": 3.0, "tie_rod": -2.0, "travel_at": "hub"},
}
VIEWED = {"front": (1, 2), "side": (0, 2), "top": (1, 0)}
"""Which coordinates run across and up in each view."""


@cache
def posed(name, pose_name):
    """A corner, its pose and the drawing of it; no test changes one."""
    corner, inputs = CORNERS[name], POSES[pose_name]
    return corner, corner.solve(**inputs), plots.three_views(corner, **inputs)


def views_of(figure):
    return {axes.get_label(): axes for axes in figure.axes}


def drawn(axes, name):
    """The points of what bears this name in a view."""
    (line,) = [line for line in axes.get_lines() if line.get_label() == name]
    return np.asarray(line.get_xydata())


def in_space(figure, name):
    """Points in the car's coordinates, put together of front and side view; the top view must agree."""
    views = views_of(figure)
    front, side, top = (drawn(views[key], name) for key in ("front", "side", "top"))
    assert np.array_equal(front[:, 1], side[:, 1]) and np.array_equal(top, np.column_stack([front[:, 0], side[:, 0]]))
    return np.column_stack([side[:, 0], front])


@pytest.mark.parametrize("pose_name", POSES)
@pytest.mark.parametrize("name", CORNERS)
def test_the_drawing_puts_points_where_the_pose_says(name, pose_name):
    corner, pose, figure = posed(name, pose_name)
    for place in ("ball_joint", "strut_top", "wheel_centre", "contact_centre", "steering_axis_at_ground"):
        assert np.array_equal(in_space(figure, place), [pose.point(place)]), place
    joints = [pose.point("tie_rod_inner"), pose.point("tie_rod_outer")]
    assert np.array_equal(in_space(figure, "tie_rod"), joints)
    front, rear = corner.points["arm_front"], corner.points["arm_rear"]
    assert np.array_equal(in_space(figure, "lower_arm"), [front, pose.point("ball_joint"), rear, front])
    assert np.array_equal(in_space(figure, "strut_rod"), [pose.point("strut_low"), pose.point("strut_top")])
    level = pose.point("contact_centre")[2]
    for key in ("front", "side"):
        assert np.array_equal(drawn(views_of(figure)[key], "ground")[:, 1], [level, level])
    assert np.array_equal(drawn(views_of(figure)["front"], "centre_line")[:, 0], [0.0, 0.0])


def apart_mm(point, start, end):
    """Distance of a point from a line."""
    along = (end - start) / np.linalg.norm(end - start)
    return np.linalg.norm(np.cross(point - start, along))


@pytest.mark.parametrize("pose_name", POSES)
@pytest.mark.parametrize("name", CORNERS)
def test_strut_and_steering_axis_are_two_lines(name, pose_name):
    corner, pose, figure = posed(name, pose_name)
    low, top, ball = (pose.point(place) for place in ("strut_low", "strut_top", "ball_joint"))
    for end in (*in_space(figure, "strut_tube"), *in_space(figure, "strut_axis")):
        assert apart_mm(end, low, top) < ROUND_OFF_MM
    beyond, ground = in_space(figure, "steering_axis")
    for point in (ball, top):
        assert apart_mm(point, beyond, ground) < ROUND_OFF_MM
    assert math.isclose(ground[2], pose.point("contact_centre")[2], abs_tol=ROUND_OFF_MM)
    assert apart_mm(ball, low, top) > 10.0  # the demo cars' ball joints stand off the strut axis


@pytest.mark.parametrize("pose_name", POSES)
@pytest.mark.parametrize("name", CORNERS)
def test_the_wheel_is_a_disc_with_the_camber_and_the_toe_of_the_pose(name, pose_name):
    corner, pose, figure = posed(name, pose_name)
    rim = in_space(figure, "wheel")
    spokes = rim - pose.point("wheel_centre")
    assert np.allclose(np.linalg.norm(spokes, axis=1), corner.wheel_radius, atol=ROUND_OFF_MM)
    # The plane of the drawn rim, by its own normal (SECOND METHOD).
    normal = np.cross(spokes[0], spokes[30])
    normal *= np.sign(normal[1]) * (1.0 if corner.side == "left" else -1.0) / np.linalg.norm(normal)
    assert np.max(abs(spokes @ normal)) < ROUND_OFF_MM
    outboard = 1.0 if corner.side == "left" else -1.0
    assert math.isclose(math.degrees(math.asin(-normal[2])), pose.camber, abs_tol=ROUND_OFF_DEG)
    assert math.isclose(math.degrees(math.atan2(normal[0], outboard * normal[1])), pose.toe, abs_tol=ROUND_OFF_DEG)
    # A disc touches the ground at its lowest point (IDENTITY).
    lowest = rim[np.argmin(rim[:, 2])]
    assert np.allclose(lowest, pose.point("contact_centre"), atol=ROUND_OFF_MM)


@pytest.mark.parametrize("name", CORNERS)
def test_views_are_turned_as_they_say_and_have_one_scale(name):
    corner, _, figure = posed(name, "design")
    views = views_of(figure)
    scales = {}
    for key, (across, up) in VIEWED.items():
        axes = views[key]
        (x0, y0), (x1, y1) = axes.transData.transform([[0.0, 0.0], [100.0, 100.0]])
        scales[key] = (x1 - x0, y1 - y0)
        assert axes.get_xlabel().startswith(f"{'XYZ'[across]} (mm), + ")
        assert axes.get_ylabel().startswith(f"{'XYZ'[up]} (mm), + ")
    one = abs(scales["front"][0])
    assert all(math.isclose(abs(length), one, rel_tol=SAME_SCALE) for pair in scales.values() for length in pair)
    left = corner.side == "left"
    assert scales["front"][0] > 0.0 and scales["front"][1] > 0.0  # Y, the car's left, to the right
    assert (scales["side"][0] < 0.0) == left and scales["side"][1] > 0.0  # seen from outboard
    assert scales["top"][0] > 0.0 and scales["top"][1] < 0.0  # the front down
    assert "the car's left is on the right" in views["front"].get_title(loc="left")
    assert f"from the {corner.side}" in views["side"].get_title(loc="left")
    # Third-angle arrangement: top view over the front view, side view beside the wheel, all in line.
    boxes = {key: views[key].get_position() for key in VIEWED}
    assert boxes["top"].x0 == boxes["front"].x0 and boxes["top"].y0 > boxes["front"].y1
    assert boxes["side"].y0 == boxes["front"].y0 and boxes["side"].y1 == boxes["front"].y1
    assert (boxes["side"].x0 > boxes["front"].x1) == left
    assert views["top"].get_xlim() == views["front"].get_xlim()
    assert views["side"].get_ylim() == views["front"].get_ylim()


@pytest.mark.parametrize("key", VIEWED)
@pytest.mark.parametrize("name", CORNERS)
def test_arrows_of_the_axes_point_where_the_coordinates_grow(name, key):
    axes = views_of(posed(name, "design")[2])[key]
    letters = {
        text.get_text(): np.array(text.get_position())
        for text in axes.texts
        if text.get_text() in "XYZ" and text.get_text()
    }
    across, up = ("XYZ"[coordinate] for coordinate in VIEWED[key])
    assert set(letters) == {across, up}
    apart = letters[across] - letters[up]
    (x0, y0), (x1, y1) = axes.transData.transform([[0.0, 0.0], [1.0, 1.0]])
    assert np.sign(apart[0]) == np.sign(x1 - x0)
    assert np.sign(apart[1]) == -np.sign(y1 - y0)


@pytest.mark.parametrize("pose_name", POSES)
@pytest.mark.parametrize("name", CORNERS)
def test_the_instant_centre_line_meets_the_centre_line_at_the_roll_centre(name, pose_name):
    corner, pose, figure = posed(name, pose_name)
    axes = views_of(figure)["front"]
    start, end = drawn(axes, "to_instant_centre")
    contact, centre = pose.point("contact_centre")[1:], pose.point("instant_centre")[1:]
    assert np.array_equal(start, contact)
    way, wanted = end - start, centre - contact
    assert np.allclose(way / np.linalg.norm(way), wanted / np.linalg.norm(wanted), atol=SAME_SCALE)
    # Similar triangles (IDENTITY): the line's height over the ground where Y is zero.
    height = -start[0] * way[1] / way[0]
    assert math.isclose(height, pose.roll_centre_height, abs_tol=PROJECTED_MM)
    assert np.allclose(drawn(axes, "roll_centre"), [[0.0, contact[1] + pose.roll_centre_height]], atol=ROUND_OFF_MM)
    words = minus(" ".join(text.get_text() for text in axes.texts)).replace("\n", " ")
    assert f"instant centre at Y {centre[0]:.0f}, Z {centre[1]:.0f} mm along the broken line" in words
    assert f"roll centre {abs(pose.roll_centre_height):.0f} mm " in words
    assert ("below" in words) == (pose.roll_centre_height < 0.0)


def test_an_instant_centre_within_the_picture_is_marked_itself():
    corner = LEFT.replace(
        arm_front=[10.0, 360.0, 620.0], arm_rear=[-290.0, 372.0, 620.0], tie_rod_inner=[-128.0, 330.0, 640.0]
    )
    pose, axes = corner.solve(), views_of(plots.three_views(corner))["front"]
    centre = pose.point("instant_centre")[1:]
    assert 0.0 < centre[0] < 700.0
    assert np.array_equal(drawn(axes, "instant_centre"), [centre])
    assert np.array_equal(drawn(axes, "to_instant_centre")[1], centre)


@pytest.mark.parametrize("pose_name", POSES)
@pytest.mark.parametrize("name", CORNERS)
def test_the_close_view_shows_scrub_radius_and_trail_in_true_size(name, pose_name):
    corner, pose, figure = posed(name, pose_name)
    views = views_of(figure)
    axes = views["ground"]
    (contact,), (ground,) = drawn(axes, "contact_centre"), drawn(axes, "steering_axis_at_ground")
    # Distance on the ground, whatever the directions (SECOND METHOD).
    true = np.linalg.norm(pose.point("steering_axis_at_ground") - pose.point("contact_centre"))
    assert math.isclose(np.linalg.norm(ground - contact), true, abs_tol=PROJECTED_MM)
    assert math.isclose(
        np.linalg.norm(np.diff(drawn(axes, "scrub_radius"), axis=0)), abs(pose.scrub_radius), abs_tol=ROUND_OFF_MM
    )
    assert math.isclose(
        np.linalg.norm(np.diff(drawn(axes, "mechanical_trail"), axis=0)),
        abs(pose.mechanical_trail),
        abs_tol=ROUND_OFF_MM,
    )
    place, other = axes.transData.transform([ground, contact])
    inboard = 1.0 if (corner.side == "left") == (pose.scrub_radius < 0.0) else -1.0
    assert np.sign(place[0] - other[0]) == inboard  # the car's left is on the right, as in the top view
    assert np.sign(place[1] - other[1]) == -np.sign(pose.mechanical_trail)  # ahead is down
    (x0, y0), (x1, y1) = axes.transData.transform([[0.0, 0.0], [1.0, 1.0]])
    assert math.isclose(abs(x1 - x0), abs(y1 - y0), rel_tol=SAME_SCALE)
    words = minus(" ".join(text.get_text() for text in axes.texts))
    for reading in ("scrub_radius", "mechanical_trail"):
        assert f"{READINGS[reading]['long_name']} {pose.readings[reading]:.1f} mm" in words
    dimensioned = [
        text
        for key in ("front", "side")
        for text in views[key].texts
        if "radius" in text.get_text() or "trail" in text.get_text()
    ]
    assert len(dimensioned) == (2 if abs(pose.toe) <= 2.0 else 0)


def test_the_table_tells_the_readings_of_the_pose():
    pose, figure = RIGHT.solve(travel=35.0), plots.three_views(RIGHT, travel=35.0)
    words = [minus(text.get_text()) for text in views_of(figure)["table"].texts]
    for name in ("camber", "toe", "caster", "kingpin_inclination"):
        assert words[words.index(READINGS[name]["long_name"]) + 1] == f"{pose.readings[name]:.2f} deg"
    for name in ("scrub_radius", "mechanical_trail", "roll_centre_height", "half_track", "strut_compression"):
        assert words[words.index(READINGS[name]["long_name"]) + 1] == f"{pose.readings[name]:.1f} mm"


def test_another_pose_shows_the_design_position_behind_it():
    assert not any("design" in words for words in legend_words(plots.three_views(LEFT)))
    figure = plots.three_views(LEFT, travel=40.0)
    assert "design position" in legend_words(figure)
    ghosts = [line.get_xydata() for line in views_of(figure)["front"].get_lines() if line.get_label() == "_design"]
    design = LEFT.solve()
    tie_rod = np.stack([design.point("tie_rod_inner")[1:], design.point("tie_rod_outer")[1:]])
    assert any(np.array_equal(ghost, tie_rod) for ghost in ghosts)


# Wrong input

GOOD = ss.sweep(LEFT, travel=[0.0, 10.0], mount_in=[-5.0, 0.0, 5.0], mount_back=[0.0, 3.0], readings=["camber", "toe"])
CURVE = GOOD.isel(mount_in=0, mount_back=0)


@pytest.mark.parametrize(
    ("draw", "words"),
    [
        (lambda: plots.against_travel(CURVE, readings="cambre"), "did you mean 'camber'"),
        (
            lambda: plots.against_travel(CURVE, readings="caster"),
            "this dataset has no caster; its readings: camber, toe",
        ),
        (lambda: plots.against_travel(CURVE, readings=[]), "name at least one"),
        (lambda: plots.against_travel(GOOD, readings="toe"), "it also varies along mount_in, mount_back"),
        (lambda: plots.against_travel(GOOD.isel(travel=1), readings="toe"), "travel is one number in it (10 mm)"),
        (lambda: plots.against_travel(GOOD.isel(travel=[1]), readings="toe"), "travel has one value in it"),
        (lambda: plots.against_travel(GOOD.isel(mount_in=[]), readings="toe"), "it is empty along mount_in"),
        (lambda: plots.against_rack(CURVE, readings="toe"), "rack is one number in it (0 mm)"),
        (lambda: plots.against_travel(CURVE.drop_vars("status"), readings="toe"), "it lacks status"),
        (lambda: plots.against_travel(CURVE.drop_attrs(), readings="toe"), "the attribute car"),
        (
            lambda: plots.against_travel(GOOD, readings="toe", at={"mount_in": 4.0}),
            "no mount_in = 4.0; the nearest is 5",
        ),
        (lambda: plots.against_travel(GOOD, readings="toe", at={"mount_inn": 5.0}), "no 'mount_inn'"),
        (lambda: plots.against_travel(GOOD, readings="toe", at={"mount_in": "five"}), "'five' is not a number"),
        (lambda: plots.mount_map(GOOD), "it also varies along travel"),
        (lambda: plots.mount_map(GOOD.isel(travel=0, mount_back=0)), "mount_back is one number in it (0 mm)"),
        (lambda: plots.mount_map(GOOD, "cambre", at={"travel": 0.0}), "did you mean 'camber'"),
        (lambda: plots.mount_map(GOOD, at={"travel": 5.0}), "no travel = 5.0"),
        (lambda: plots.three_views(ss.demo("gravel_hatch")), "give car.left or car.right"),
        (lambda: plots.three_views(LEFT, travel=math.nan), "travel"),
        (lambda: plots.save(plots.three_views(LEFT), "corner.jpeg"), "'corner.jpeg' ends in none of .png, .svg, .pdf"),
        (lambda: plots.save(plots.three_views(LEFT), "corner.png", dpi=0.0), "dpi = 0.0 is not above 0"),
    ],
)
def test_wrong_input_is_told_plainly(draw, words):
    with pytest.raises(ss.InputError) as told:
        draw()
    assert words in str(told.value)


def test_a_sweep_of_which_nothing_can_be_reached_says_why():
    dataset = ss.sweep(LEFT, rack=[300.0, 310.0])
    with pytest.raises(ss.InputError, match="the tie rod runs out"):
        plots.against_rack(dataset, readings="toe")


def test_mounts_that_move_together_make_no_map():
    sample = xr.DataArray([0.0, 1.0, 2.0], dims="sample")
    with pytest.raises(ss.InputError, match="vary together along sample"):
        plots.mount_map(ss.sweep(LEFT, mount_in=sample, mount_back=sample))


def test_a_pose_out_of_reach_is_no_drawing():
    with pytest.raises(ss.ReachError) as told:
        plots.three_views(LEFT, rack=250.0)
    assert told.value.part == "tie_rod"


@pytest.mark.parametrize("wrong", [None, 3, "dataset"])
def test_what_is_no_dataset_and_no_corner_is_a_type_error(wrong):
    for draw in (plots.against_travel, plots.against_rack, plots.mount_map, plots.three_views):
        with pytest.raises(TypeError):
            draw(wrong)


# Legibility

LEAST_PT = 8.0
"""At a notebook's 100 pixels per inch, eleven pixels: as small as its own interface goes."""
LONG = "A car of an uncommonly long name, built for the rally of the thousand lakes, the second chassis of three"
WIDE = {"rack": np.linspace(-200.0, 200.0, 81)}
ALL_SET = dict(
    mount_in=4.0,
    mount_back=-3.0,
    mount_up=2.0,
    tie_rod=1.25,
    clamp=0.5,
    arm=3.0,
    tie_outer_up=4.0,
    ball_joint_down=5.0,
    hub_spacer=6.0,
)


def sampled(count):
    """A sweep along a dimension whose labels are long words, with signs in them that a formula would have."""
    moved = LEFT.points["ball_joint"] + np.linspace(0.0, 5.0, count)[:, None] * [0.0, 0.3, 1.0]
    labels = [
        f"measured on day {day} of the test in the wet, for $5 or $6 an hour, by the second of the two crews"
        for day in range(count)
    ]
    points = {"ball_joint": xr.DataArray(moved, dims=("sample", "xyz"), coords={"sample": labels})}
    return ss.sweep(LEFT, travel=TRAVEL, points=points)


FIGURES = {
    "one line": lambda: plots.against_travel(ss.sweep(LEFT, travel=TRAVEL), readings="camber"),
    "five lines": lambda: plots.against_travel(ss.sweep(LEFT, travel=TRAVEL, mount_in=[-20, -10, 0, 10, 20])),
    "many lines": lambda: plots.against_rack(ss.sweep(LEFT, **WIDE, travel=np.linspace(-60, 60, 21))),
    "out of reach": lambda: plots.against_rack(ss.sweep(RIGHT, **WIDE, travel=[-50.0, 0.0, 50.0])),
    "every reading": lambda: plots.against_travel(ss.sweep(LEFT, travel=TRAVEL), readings=READINGS),
    "long words": lambda: plots.against_travel(
        ss.sweep(LEFT.replace(name=LONG), travel=TRAVEL, **ALL_SET), readings=["toe"]
    ),
    "one word": lambda: plots.against_travel(ss.sweep(LEFT.replace(name="x" * 150), travel=TRAVEL), readings=["toe"]),
    "lines with long names": lambda: plots.against_travel(sampled(5), readings="toe"),
    "many lines with long names": lambda: plots.against_travel(sampled(12), readings="toe"),
    "many lines with long names, wide": lambda: plots.against_travel(sampled(12)),
    "map": lambda: plots.mount_map(ss.sweep(LEFT, mount_in=ACROSS, mount_back=BACK)),
    "maps": lambda: plots.mount_map(
        ss.sweep(RIGHT, mount_in=ACROSS, mount_back=BACK), readings=["camber", "bump_steer", "half_track"]
    ),
    "narrow maps": lambda: plots.mount_map(
        ss.sweep(LEFT, mount_in=ACROSS, mount_back=10 * BACK),
        readings=["camber", "bump_steer", "scrub_radius", "wheelbase_shift"],
    ),
    "flat map": lambda: plots.mount_map(ss.sweep(RIGHT, mount_in=ACROSS, mount_back=0.1 * BACK, **{"tie_rod": 3.0})),
    "map out of reach": lambda: plots.mount_map(
        ss.sweep(RIGHT, rack=115.0, mount_in=10 * ACROSS, mount_back=10 * BACK), readings=["camber", "toe"]
    ),
    "views": lambda: plots.three_views(LEFT),
    "views, long words": lambda: plots.three_views(RIGHT.replace(name=LONG), travel=20.0, **ALL_SET),
    "views, lock": lambda: plots.three_views(LEFT, rack=-95.0),
    "views, other lock": lambda: plots.three_views(RIGHT, travel=-60.0, rack=55.0),
}


@cache
def figure_of(name):
    """One of these figures; no test changes one."""
    return FIGURES[name]()


def texts_shown(figure):
    """Every text that is printed, with its box in pixels."""
    canvas = figure.canvas if isinstance(figure.canvas, FigureCanvasAgg) else FigureCanvasAgg(figure)
    canvas.draw()
    hidden = set()
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            slack = SAME_SCALE * (high - low)
            for tick in axis.get_major_ticks():
                if not axes.axison or not low - slack <= tick.get_loc() <= high + slack:
                    hidden.update({tick.label1, tick.label2})
            if not axes.axison:
                hidden.update({axis.label, axis.offsetText})
    shown = []
    for text in figure.findobj(Text):
        if text not in hidden and text.get_visible() and text.get_text().strip():
            shown.append((text, text.get_window_extent(canvas.get_renderer())))
    return shown


@pytest.mark.parametrize("name", FIGURES)
def test_no_text_touches_another_leaves_the_sheet_or_is_too_small_for_a_notebook(name):
    figure = figure_of(name)
    shown = texts_shown(figure)
    assert len(shown) > 8
    sheet = figure.bbox
    for text, box in shown:
        assert sheet.x0 <= box.x0 and box.x1 <= sheet.x1 and sheet.y0 <= box.y0 and box.y1 <= sheet.y1, text.get_text()
        assert text.get_fontsize() >= LEAST_PT, text.get_text()
    for (one, first), (other, second) in itertools.combinations(shown, 2):
        # Boxes of lines of text hold a pixel of air above and below the letters.
        assert not first.padded(-1.0).overlaps(second.padded(-1.0)), (one.get_text(), other.get_text())


@pytest.mark.parametrize("name", [name for name in FIGURES if name.startswith("views")])
def test_no_part_runs_through_the_words_in_a_view(name):
    views = views_of(figure_of(name))
    for key in VIEWED:
        axes = views[key]
        pen = FigureCanvasAgg(axes.figure).get_renderer()
        words = [text for text in axes.texts if text.get_text() and text.get_text() != f"{key} view"]
        assert len(words) >= 2
        for text, line in itertools.product(words, axes.get_lines()):
            if line.get_label() in (
                "lower_arm",
                "tie_rod",
                "strut_rod",
                "steering_axis",
                "wheel",
                "ground",
                "centre_line",
            ):
                path = line.get_transform().transform_path(line.get_path())
                box = text.get_window_extent(pen)
                assert not path.intersects_bbox(box, filled=False), (key, text.get_text(), line.get_label())


# Files, notebooks, threads


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_the_same_figure_gives_the_same_bytes(ending, tmp_path):
    salt = mpl.rcParams["svg.hashsalt"]

    def figure():
        return plots.mount_map(ss.sweep(RIGHT, rack=115.0, mount_in=10 * ACROSS, mount_back=10 * BACK))

    one = figure()
    written = [
        plots.save(chosen, tmp_path / f"{index}.{ending}").read_bytes()
        for index, chosen in enumerate((one, one, figure()))
    ]
    assert written[0] == written[1] == written[2]
    assert written[0].startswith({"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}[ending])
    assert b"<dc:date>" not in written[0] and b"CreationDate" not in written[0]
    assert mpl.rcParams["svg.hashsalt"] == salt


def test_another_process_gives_the_same_bytes(tmp_path):
    words = (
        "import sys, numpy as np, strutsweep as ss; from strutsweep import plots; "
        "plots.save(plots.three_views(ss.demo('gravel_hatch').left, travel=20.0), sys.argv[1])"
    )
    subprocess.run([sys.executable, "-c", words, tmp_path / "there.svg"], check=True)
    here = plots.save(plots.three_views(LEFT, travel=20.0), tmp_path / "here.svg")
    assert here.read_bytes() == (tmp_path / "there.svg").read_bytes()


def test_a_png_has_the_pixels_that_were_asked_for(tmp_path):
    figure = plots.three_views(LEFT)
    for dpi, path in ((None, tmp_path / "a.png"), (60.0, tmp_path / "b.png")):
        plots.save(figure, path) if dpi is None else plots.save(figure, path, dpi=dpi)
        header = path.read_bytes()[16:24]
        pixels = int.from_bytes(header[:4], "big"), int.from_bytes(header[4:], "big")
        assert np.allclose(pixels, figure.get_size_inches() * (dpi or 150.0), atol=1.0)


def test_a_notebook_shows_a_figure_by_itself():
    from IPython.core.formatters import DisplayFormatter

    figure = plots.against_travel(ss.sweep(LEFT, travel=TRAVEL))
    data, metadata = DisplayFormatter().format(figure)
    assert data["image/png"].startswith(b"\x89PNG") and len(data["image/png"]) > 10_000
    assert metadata["image/png"]["width"] == round(figure.get_size_inches()[0] * figure.dpi)


def test_neither_pyplot_nor_a_default_is_touched():
    import matplotlib.pyplot as pyplot

    before = dict(mpl.rcParams)
    assert isinstance(plots.against_travel(ss.sweep(LEFT, travel=TRAVEL)), Figure)
    plots.mount_map(ss.sweep(LEFT, mount_in=ACROSS, mount_back=BACK))
    plots.three_views(LEFT)
    assert pyplot.get_fignums() == []
    assert dict(mpl.rcParams) == before


def test_other_defaults_do_not_spoil_a_figure(tmp_path):
    dataset = ss.sweep(RIGHT, **WIDE, travel=[-50.0, 0.0, 50.0])
    plain = plots.save(plots.against_rack(dataset), tmp_path / "plain.png").read_bytes()
    dark = {
        "figure.facecolor": "black",
        "savefig.facecolor": "black",
        "axes.facecolor": "black",
        "axes.edgecolor": "yellow",
        "axes.grid": True,
        "axes.titlesize": 30,
        "axes.titleweight": "bold",
        "font.size": 20,
        "lines.linestyle": "--",
        "lines.linewidth": 9,
        "lines.marker": "x",
        "text.color": "white",
        "xtick.top": True,
        "figure.constrained_layout.use": True,
    }
    with mpl.rc_context(dark):
        assert plots.save(plots.against_rack(dataset), tmp_path / "dark.png").read_bytes() == plain


def test_threads_draw_at_the_same_time(tmp_path):
    def drawn_by(index):
        figure = plots.against_travel(ss.sweep(LEFT, travel=TRAVEL, mount_in=float(index)), readings="camber")
        return plots.save(figure, tmp_path / f"{index}.svg").read_bytes()

    alone = [drawn_by(index) for index in range(4)]
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(drawn_by, range(4))) == alone
    assert len(set(alone)) == 4
