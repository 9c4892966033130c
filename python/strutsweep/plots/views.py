"""A corner in one pose as a drawing: front, side and top view at one scale, and the ground seen closer."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from strutsweep._core import Axle, Corner, Pose
from strutsweep._inputs import TravelAt
from strutsweep.errors import InputError
from strutsweep.plots import selection
from strutsweep.plots.parts import DISC, GHOST, ROLL_CENTRE_RING, Places, Vector, View, draw, draw_design, legend
from strutsweep.plots.sheet import (
    ARROW,
    FAINT,
    INK,
    LABEL_PT,
    MARGIN_IN,
    PENCIL,
    PLAIN,
    PURPLE,
    RED,
    SMALL,
    TICK_PT,
    dress,
    foot,
    header,
    header_height_in,
    number,
    renderer,
    sheet,
    with_unit,
    wrapped,
)
from strutsweep.words import READINGS, TRAVEL_AT, attributes

__all__ = ["three_views"]

_VIEWS_IN: Final = 7.6
"""Width of front and side view together."""
_LEFT_IN: Final = 0.62
_BETWEEN_IN: Final = 0.72
_TITLE_IN: Final = 0.46
_BELOW_IN: Final = 0.52
_ROW_IN: Final = 0.168
"""Pitch of the lines of the table."""
_LEAST_AXES_IN: Final = 3.2
"""The corner with the table and the close view of the ground needs this much in height."""

_BORDER_MM: Final = 45.0
_UNDERGROUND_MM: Final = 110.0
"""Room under the ground for dimensions."""
_TRUE_SIZE_DEG: Final = 2.0
"""Scrub radius and trail are dimensioned in front and side view up to this toe; beyond, only the close view shows
them in true size."""
_NEAREST_MM: Final = 8.0
"""The close view of the ground shows at least this much each way."""

_TABLE: Final = (
    "camber",
    "toe",
    "caster",
    "kingpin_inclination",
    "scrub_radius",
    "mechanical_trail",
    "strut_compression",
    "half_track",
    "roll_centre_height",
    "swing_arm_length",
)


def three_views(
    corner: Corner,
    *,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    mount_in: float = 0.0,
    mount_back: float = 0.0,
    mount_up: float = 0.0,
    tie_rod: float = 0.0,
    clamp: float = 0.0,
    arm: float = 0.0,
    tie_outer_up: float = 0.0,
    ball_joint_down: float = 0.0,
    hub_spacer: float = 0.0,
    travel_at: TravelAt = "ground",
) -> Figure:
    """Front, side and top view of a corner in a pose, at one scale, with its main readings.

    The top view stands above the front view; the side view, seen from outboard, stands beside it, where the wheel is.
    The front view is seen from the front: the car's left is on the right. The wheel is a disc of the loaded radius,
    since its width is not known; the shapes of the strut's tube and of the knuckle are indicative. Where the pose is
    not the design position, that is drawn in grey. A closer view of the ground shows scrub radius and trail in true
    size, in the wheel's own directions.

    Parameters
    ----------
    corner : Corner
        ``car.left`` or ``car.right``.
    travel, rack, roll, mount_in, mount_back, mount_up, tie_rod, clamp, arm, tie_outer_up, ball_joint_down, hub_spacer
        Motion and setting, in mm (`roll` and `clamp` in deg), as in `Corner.solve`.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, as in `Corner.solve`.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    ReachError
        The pose is out of reach.
    InputError
        A number is not finite, or `travel_at` is no such word.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import plots
    >>> figure = plots.three_views(ss.demo("hillclimb_saloon").left, travel=30.0, mount_in=10.0)
    >>> [axes.get_label() for axes in figure.axes]
    ['top', 'front', 'side', 'table', 'ground']
    """
    if isinstance(corner, Axle):
        raise InputError("a drawing takes one corner: give car.left or car.right", name="corner", value=corner)
    if not isinstance(corner, Corner):
        raise TypeError(f"a drawing takes a Corner, not {type(corner).__name__}")
    pose = corner.solve(
        travel=travel,
        rack=rack,
        roll=roll,
        mount_in=mount_in,
        mount_back=mount_back,
        mount_up=mount_up,
        tie_rod=tie_rod,
        clamp=clamp,
        arm=arm,
        tie_outer_up=tie_outer_up,
        ball_joint_down=ball_joint_down,
        hub_spacer=hub_spacer,
        travel_at=travel_at,
    )
    now = Places.of(corner, pose)
    changed = {name: selection.changed_input(name, value) for name, value in pose.inputs.items() if value != 0.0}
    design = Places.of(corner, corner.solve()) if changed else None

    left = corner.side == "left"
    views = {
        "front": View("front view", "from the front: the car's left is on the right", 1, 2, 1.0, 1.0),
        "side": View(
            "side view",
            f"from the {corner.side}: the front of the car is on the {corner.side}",
            0,
            2,
            -1.0 if left else 1.0,
            1.0,
        ),
        "top": View("top view", "from above: the front of the car is down, its left on the right", 1, 0, 1.0, -1.0),
    }
    lows, highs = zip(*(drawn.extent() for drawn in (now, design) if drawn is not None), strict=True)
    low, high = np.min(lows, axis=0) - _BORDER_MM, np.max(highs, axis=0) + _BORDER_MM
    low[2] += _BORDER_MM - _UNDERGROUND_MM
    size = high - low
    mm_per_in = float(size[0] + size[1]) / _VIEWS_IN
    x_in, y_in, z_in = (float(mm) / mm_per_in for mm in size)
    upper_in = max(x_in, _LEAST_AXES_IN)

    width_in = 2.0 * MARGIN_IN + _LEFT_IN + y_in + _BETWEEN_IN + x_in
    what = f"{corner.name}, {corner.side} corner"
    said = [
        selection.held(TRAVEL_AT[travel_at], travel_at),
        *selection.sentences(changed),
        "All three views at one scale.",
    ]
    figure = sheet(width_in)
    foot_in = foot(figure, [legend(design is not None)])
    head_in = header_height_in(what, said, width_in)
    height_in = head_in + upper_in + z_in + 2.0 * (_TITLE_IN + _BELOW_IN) + foot_in
    figure.set_size_inches(width_in, height_in)
    header(figure, what, said)

    # The side view stands on the wheel's side of the front view.
    first_in = MARGIN_IN + _LEFT_IN
    y_left_in, x_left_in = (
        (first_in, first_in + y_in + _BETWEEN_IN) if left else (first_in + x_in + _BETWEEN_IN, first_in)
    )
    lower_in = foot_in + _BELOW_IN
    middle_in = lower_in + z_in + _TITLE_IN + _BELOW_IN

    def place(label: str, left_in: float, below_in: float, across_in: float, up_in: float) -> Axes:
        share = (left_in / width_in, below_in / height_in, across_in / width_in, up_in / height_in)
        return figure.add_axes(share, label=label)

    frames = {
        "top": place("top", y_left_in, middle_in + upper_in - x_in, y_in, x_in),
        "front": place("front", y_left_in, lower_in, y_in, z_in),
        "side": place("side", x_left_in, lower_in, x_in, z_in),
    }
    for key, axes in frames.items():
        view = views[key]
        _frame(axes, view, low, high)
        if design is not None:
            draw_design(axes, view, design)
        draw(axes, view, now)
        _arrows(axes, view, now)
    _ground_and_centre(frames, now)
    _instant_centre(frames["front"], now, pose)
    if abs(pose.toe) <= _TRUE_SIZE_DEG:
        _dimension(frames["front"], now, 1, "scrub_radius", pose)
        _dimension(frames["side"], now, 0, "mechanical_trail", pose)
    table_in = _ROW_IN * (len(_TABLE) + 1.3)
    top_in = middle_in + upper_in + 0.36
    _table(place("table", x_left_in, top_in - table_in, x_in, table_in), pose)
    ground_in = top_in - table_in - middle_in - 0.45
    _close_view(place("ground", x_left_in, middle_in - 0.05, x_in, ground_in), now, pose, mm_per_in)
    return figure


_AXIS_WORDS: Final = ("X (mm), + forward", "Y (mm), + left", "Z (mm), + up")


def _frame(axes: Axes, view: View, low: Vector, high: Vector) -> None:
    """Limits, scales, arrows of the axes, and the view's name."""
    dress(axes)
    axes.grid(True, color=FAINT, linewidth=0.5)
    for spine in axes.spines.values():
        spine.set_visible(True)
        spine.set_color(GHOST)
    across = (low[view.across], high[view.across])
    up = (low[view.up], high[view.up])
    axes.set_xlim(*(across if view.rightward > 0.0 else across[::-1]))
    axes.set_ylim(*(up if view.upward > 0.0 else up[::-1]))
    axes.set_xlabel(_AXIS_WORDS[view.across], fontsize=TICK_PT, color=PENCIL, labelpad=2.0)
    axes.set_ylabel(_AXIS_WORDS[view.up], fontsize=TICK_PT, color=PENCIL, labelpad=1.0)
    axes.locator_params(axis="both", nbins=6, steps=[1, 2, 5, 10])
    axes.ticklabel_format(axis="both", style="plain", useOffset=False)
    room_in = axes.get_position().width * float(axes.figure.get_size_inches()[0])  # type: ignore[union-attr]
    lines = wrapped(view.seen, room_in + 0.1, TICK_PT)
    axes.set_title("\n".join(lines), loc="left", pad=4.0, linespacing=1.15, **SMALL)
    axes.annotate(
        view.name,
        (0.0, 1.0),
        (0.0, 4.0 + 1.2 * TICK_PT * len(lines)),
        "axes fraction",
        "offset points",
        fontsize=LABEL_PT,
        fontweight="bold",
        color=INK,
        va="bottom",
    )


def _arrows(axes: Axes, view: View, now: Places) -> None:
    """A view's two axes as arrows, where a strut corner leaves the sheet empty: inboard, or over the wheel's front."""
    figure = axes.get_figure(root=True)
    assert figure is not None
    size_in = np.array(figure.get_size_inches()) * axes.get_position().size
    if view.across == 0:
        share_across, share_up = (0.22 if view.rightward < 0.0 else 0.78), 0.86
    else:
        # In the top view, on the other side of the ball joint than the rack, which comes inboard at lock.
        rack_behind = now.inner[0] < now.ball_joint[0]
        share_up = 0.8 if view.up == 2 else 0.3 if rack_behind else 0.8
        share_across = 0.16 if now.contact[1] > 0.0 else 0.76
    foot_of = np.array([share_across, share_up])
    for letter, way in (
        ("XYZ"[view.across], np.array([view.rightward, 0.0])),
        ("XYZ"[view.up], np.array([0.0, view.upward])),
    ):
        tip = foot_of + _ARROW_IN * way / size_in
        axes.annotate("", tuple(tip), tuple(foot_of), "axes fraction", "axes fraction", arrowprops=ARROW, zorder=2.0)
        word = foot_of + (_ARROW_IN + 0.08) * way / size_in
        axes.text(
            word[0], word[1], letter, transform=axes.transAxes, ha="center", va="center", fontsize=TICK_PT, color=PENCIL
        )


_ARROW_IN: Final = 0.36


def _ground_and_centre(frames: dict[str, Axes], now: Places) -> None:
    """The ground in front and side view, the car's centre line in front and top view."""
    for key in ("front", "side"):
        frames[key].axhline(now.contact[2], color=INK, linewidth=1.4, zorder=2.9, label="ground", **PLAIN)
    for key in ("front", "top"):
        frames[key].axvline(
            0.0, color=PENCIL, linewidth=0.9, dashes=(12, 3, 3, 3), marker="", zorder=1.3, label="centre_line"
        )


_PILL: Final[dict[str, Any]] = {"boxstyle": "round,pad=0.15", "facecolor": "#ffffffd0", "edgecolor": "none"}


def _instant_centre(axes: Axes, now: Places, pose: Pose) -> None:
    """The line from the contact centre to the instant centre, and where it crosses the centre line: the roll centre."""
    contact, centre, roll = now.contact[1:], now.instant_centre[1:], now.roll_centre[1:]
    near, far = np.sort(axes.get_xlim()), np.sort(axes.get_ylim())
    frame_low, frame_high = np.array([near[0], far[0]]), np.array([near[1], far[1]])

    def inside(point: Vector) -> bool:
        return bool(np.all(np.isfinite(point)) and np.all(point >= frame_low) and np.all(point <= frame_high))

    if not np.all(np.isfinite(roll)):
        return  # the contact centre moves straight sideways: no line, and the table says "none"
    style: dict[str, Any] = {"color": PURPLE, "linewidth": 1.2, "zorder": 2.8, "marker": ""}
    finite = bool(np.all(np.isfinite(centre)))
    # Parallel lines meet nowhere: the line still leaves the contact centre toward the roll centre.
    toward = (centre if finite else roll) - contact
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = np.where(toward > 0.0, (frame_high - contact) / toward, (frame_low - contact) / toward)
    edge = contact + float(np.nanmin(shares)) * toward
    end = centre if inside(centre) else edge
    axes.plot(*zip(contact, end, strict=True), dashes=(5, 3), label="to_instant_centre", **style)
    if inside(roll):
        if inside(centre) or float(np.dot(roll - contact, toward)) < 0.0:
            axes.plot(*zip(contact, roll, strict=True), linestyle=":", label="to_roll_centre", **style)
        axes.plot(*roll[:, None], linestyle="none", zorder=3.7, label="roll_centre", **ROLL_CENTRE_RING)
    height = pose.roll_centre_height
    below = "below" if height < 0.0 else "above"
    words = ["roll centre", f"{number(abs(height), 0)} mm {below} ground", "instant centre at"]
    words.append(f"Y {number(centre[0], 0)}, Z {number(centre[1], 0)} mm" if finite else "infinity")
    if not inside(centre):
        words.append("along the broken line")
    left = contact[0] > 0.0
    axes.annotate(
        "\n".join(words),
        # Inboard at half height: over the arm, away from the strut's lean.
        (0.0, frame_low[1] + 0.64 * (frame_high[1] - frame_low[1])),
        (8.0 if left else -8.0, 0.0),
        textcoords="offset points",
        ha="left" if left else "right",
        va="top",
        fontsize=TICK_PT,
        color=PURPLE,
        linespacing=1.3,
        bbox=_PILL,
        zorder=1.4,  # over the grid, under the metal
    )
    if inside(centre):
        axes.plot(
            *centre[:, None],
            marker="o",
            markersize=6.0,
            color=PURPLE,
            linestyle="none",
            zorder=3.7,
            label="instant_centre",
        )


def _dimension(axes: Axes, now: Places, coordinate: int, name: str, pose: Pose) -> None:
    """Scrub radius or trail under the ground, between the contact centre and the steering axis."""
    contact, ground = float(now.contact[coordinate]), float(now.axis_at_ground[coordinate])
    if not math.isfinite(ground):
        return
    level = float(now.contact[2])
    low, high = sorted((contact, ground))
    beyond = 30.0
    for at in (contact, ground):
        axes.plot(
            [at, at], [level - 6.0, level - 46.0], color=PENCIL, linewidth=0.8, linestyle="-", marker="", zorder=2.9
        )
    # Too narrow for arrows between: they point at the two lines from outside.
    inner = high - low > 70.0
    for tip, tail in (
        (low, 0.5 * (low + high) if inner else low - beyond),
        (high, 0.5 * (low + high) if inner else high + beyond),
    ):
        axes.annotate("", (tip, level - 36.0), (tail, level - 36.0), arrowprops=ARROW, zorder=2.9)
    text = axes.text(
        0.5 * (contact + ground),
        level - 56.0,
        f"{attributes(name)['long_name']} {with_unit(name, pose.readings[name], 1)}",
        ha="center",
        va="top",
        fontsize=TICK_PT,
        color=INK,
        zorder=4.0,
    )
    _keep_inside(axes, text)


def _keep_inside(axes: Axes, text: Any) -> None:
    """Move a text sideways into its frame."""
    pen = renderer(axes.figure)
    box, frame = text.get_window_extent(pen).padded(3.0), axes.get_window_extent(pen)
    shift = max(frame.x0 - box.x0, 0.0) + min(frame.x1 - box.x1, 0.0)
    place = axes.transData.transform(text.get_position())
    text.set_position(axes.transData.inverted().transform((place[0] + shift, place[1])))


def _table(axes: Axes, pose: Pose) -> None:
    """The main readings."""
    axes.set_axis_off()
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(0.0, 1.0)
    axes.text(0.0, 1.0, "readings", fontsize=LABEL_PT, fontweight="bold", color=INK, va="top")
    pitch = 1.0 / (len(_TABLE) + 1.3)
    for row, name in enumerate(_TABLE):
        value = pose.readings[name]
        units = READINGS[name]["units"]
        level = 1.0 - (row + 1.8) * pitch
        shown = with_unit(name, value, 2 if units == "deg" else 1) if math.isfinite(value) else "none"
        axes.text(0.0, level, attributes(name)["long_name"], fontsize=TICK_PT, color=PENCIL, va="center")
        axes.text(0.85, level, shown, fontsize=TICK_PT, color=INK, va="center", ha="right")


def _close_view(axes: Axes, now: Places, pose: Pose, mm_per_in: float) -> None:
    """Contact centre and steering axis on the ground, from above as in the top view, with both offsets in true size."""
    dress(axes, grid=False)
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(True)
        spine.set_color(GHOST)
    figure = axes.get_figure(root=True)
    assert figure is not None
    width_in, height_in = np.array(figure.get_size_inches()) * axes.get_position().size
    heading: dict[str, Any] = {"fontsize": LABEL_PT, "fontweight": "bold", "color": INK, "va": "bottom"}
    axes.annotate("ground, closer", (0.0, 1.0), (0.0, 4.0 + 1.2 * TICK_PT), "axes fraction", "offset points", **heading)
    if not math.isfinite(pose.scrub_radius + pose.mechanical_trail):
        axes.set_title("the steering axis does not meet it", loc="left", pad=4.0, **SMALL)
        return
    # In the wheel's own directions: its axle lies across, its heading points down, as the front does in the top view.
    outboard = math.copysign(1.0, now.contact[1])
    contact, corner = np.zeros(2), np.array([-outboard * pose.scrub_radius, 0.0])
    ground = corner + np.array([0.0, pose.mechanical_trail])
    beside = math.copysign(1.0, corner[0])
    close_mm_per_in = max(
        abs(ground[0]) / (width_in - 2.5), abs(ground[1]) / (height_in - 0.7), 2.0 * _NEAREST_MM / height_in
    )
    half = 0.5 * close_mm_per_in * np.array([width_in, height_in])
    # Off the middle, to leave room for the words beside the trail.
    middle = 0.5 * ground + np.array([beside * 0.65 * close_mm_per_in, 0.0])
    axes.set_xlim(middle[0] - half[0], middle[0] + half[0])
    axes.set_ylim(middle[1] + half[1], middle[1] - half[1])
    closer = mm_per_in / close_mm_per_in
    axes.set_title(
        f"from above, wheel heading down, \u00d7 {number(closer, 0 if closer >= 3.0 else 1)}",
        loc="left",
        pad=4.0,
        **SMALL,
    )
    for rule in (axes.axhline, axes.axvline):
        rule(0.0, color=DISC, linewidth=0.9, dashes=(8, 2, 2, 2), marker="", zorder=1.5)
    below = ground[1] >= 0.0
    words: dict[str, Any] = {
        "textcoords": "offset points",
        "fontsize": TICK_PT,
        "color": INK,
        "bbox": _PILL,
        "zorder": 4.0,
    }
    for name, start, end, offset, ha, va in (
        ("scrub_radius", contact, corner, (0.0, 9.0 if below else -9.0), "center", "bottom" if below else "top"),
        ("mechanical_trail", corner, ground, (9.0 * beside, 0.0), "left" if beside > 0.0 else "right", "center"),
    ):
        axes.plot(
            *zip(start, end, strict=True), color=RED, linewidth=2.0, linestyle="-", marker="", label=name, zorder=2.5
        )
        text = f"{attributes(name)['long_name']} {with_unit(name, pose.readings[name], 1)}"
        label = axes.annotate(text, tuple(0.5 * (start + end)), offset, ha=ha, va=va, **words)
        label.set_label(name)
    mark: dict[str, Any] = {"linestyle": "none", "zorder": 3.6}
    axes.plot(*contact[:, None], marker="^", color=INK, markersize=7.0, label="contact_centre", **mark)
    axes.plot(*ground[:, None], marker="D", color=RED, markersize=6.0, label="steering_axis_at_ground", **mark)
