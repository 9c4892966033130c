"""The whole axle drawn: front view with its centres, top view at lock, carpets, the roll centre's path."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon

from strutsweep._core import Axle
from strutsweep.errors import InputError
from strutsweep.plots import selection
from strutsweep.plots.parts import DISC, Places, View, draw, legend
from strutsweep.plots.sheet import (
    BLUE,
    FAINT,
    GREEN,
    INK,
    LABEL_PT,
    MARGIN_IN,
    NOTE_PT,
    ORDERED,
    PAPER,
    PENCIL,
    PURPLE,
    RED,
    TICK_PT,
    dress,
    foot,
    header,
    header_height_in,
    name_with_unit,
    number,
    positive_way,
    sheet,
    with_unit,
)
from strutsweep.sweeping import sweep
from strutsweep.words import MOTIONS, SETTINGS, attributes

__all__ = ["axle_front_view", "carpet", "roll_centre_path", "turn_view"]

_WIDTH_IN: Final = 10.0
_BESIDE_MM: Final = 60.0
_TYRE_WIDTH_MM: Final = 180.0
_DEEP_MM: Final = 300.0
"""A roll centre this far below the ground still stretches the front view's sheet."""
_NAME_PT: Final = 21.0
"""How far below the roll centre its name stands."""
_LEAST_SPAN_MM: Final = 40.0
"""A path's axes span this much at least: a centre that stays where it is shall look so."""
_SIDES: Final = ("left", "right")
_INPUTS: Final = frozenset({*MOTIONS, *SETTINGS, "steer", "inner_steer", "turns"})
_PARALLEL: Final = 1e-4
"""Two axle lines with a smaller sine between them meet nowhere to speak of."""

Vector: TypeAlias = npt.NDArray[np.float64]


def axle_front_view(
    car: Axle, *, travel: float = 0.0, rack: float = 0.0, roll: float = 0.0, **settings: float
) -> Figure:
    """Both corners from the front, with instant centres, their lines to the contact centres, and the roll centre.

    The car's left is on the right, as one who stands before it sees it. Lines to an instant centre that lies off the
    sheet end at its edge with an arrow; a roll centre that is not there, or not on the sheet, is told in words.

    Parameters
    ----------
    car : Axle
    travel, rack : float
        Travel of both wheels and rack displacement, in mm.
    roll : float
        Roll of the body in deg, positive when it leans to the right.
    **settings : float
        As `Corner.solve` takes them, the same on both sides.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    ReachError
        The pose is out of reach.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import plots
    >>> figure = plots.axle_front_view(ss.demo("gravel_hatch"), roll=2.0)
    >>> figure.axes[0].get_label()
    'front'
    """
    inputs: dict[str, Any] = {"travel": travel, "rack": rack, "roll": roll, **settings}
    corners = {"left": car.left, "right": car.right}
    poses = {side: corner.solve(**inputs) for side, corner in corners.items()}
    both = sweep(car, **inputs)
    places = {side: Places.of(corner, poses[side]) for side, corner in corners.items()}
    view = View("front view", "from the front: the car's left is on the right", 1, 2, 1.0, 1.0)
    lows, highs = zip(*(place.extent() for place in places.values()), strict=True)
    low, high = np.min(lows, axis=0) - _BESIDE_MM, np.max(highs, axis=0) + _BESIDE_MM
    low[2] -= 40.0

    centre = np.array([float(both.axle_roll_centre_shift), float(both.axle_roll_centre_height)])
    ground = 0.5 * sum(poses[side].point("contact_centre")[2] for side in _SIDES)
    if -_DEEP_MM < centre[1] < 0.0:
        low[2] = min(low[2], ground + centre[1] - _BESIDE_MM)
    said = [
        "Seen from the front: the car's left is on the right.",
        *([] if travel or rack or roll else ["At design height, straight ahead, upright."]),
        *selection.notes(_with_moved_points(both), (), None),
        _roll_centre_words(both, centre),
        " ".join(
            f"{side.capitalize()} wheel:"
            f" camber to the ground {with_unit('camber', poses[side].camber, 2, signed=True)},"
            f" to the body {with_unit('camber', float(both.camber_to_body.sel(side=side)), 2, signed=True)},"
            f" {_arm_words(poses[side].swing_arm_length)}."
            for side in _SIDES
        ),
        f"Camber {positive_way('camber')}.",
    ]
    title = f"{car.name}, both corners, front view"
    figure = sheet(_WIDTH_IN)
    foot_in = foot(figure, [_front_legend()])
    head_in = header_height_in(title, said, _WIDTH_IN)
    across_in = _WIDTH_IN - 2.0 * MARGIN_IN - 0.5
    up_in = across_in * float((high[2] - low[2]) / (high[1] - low[1]))
    height_in = head_in + up_in + 0.55 + foot_in
    figure.set_size_inches(_WIDTH_IN, height_in)
    header(figure, title, said)
    axes = figure.add_axes(
        ((MARGIN_IN + 0.5) / _WIDTH_IN, (foot_in + 0.45) / height_in, across_in / _WIDTH_IN, up_in / height_in),
        label="front",
    )
    dress(axes, grid=False)
    axes.set_xlim(low[1], high[1])
    axes.set_ylim(low[2], high[2])
    axes.set_xlabel("Y (mm), + left of the car", fontsize=LABEL_PT, color=INK)
    axes.set_ylabel("Z (mm)", fontsize=LABEL_PT, color=INK)
    axes.axhline(ground, color=PENCIL, linewidth=1.2, zorder=0.5)
    axes.axvline(0.0, color=FAINT, linewidth=1.0, dashes=(8, 3, 2, 3), zorder=0.4)
    # The body's own upright, which leans with it.
    up = np.array([0.0, high[2] - ground]) * 0.96
    lean = math.radians(roll)
    axes.plot(
        [0.0, -up[1] * math.sin(lean)],
        [ground, ground + up[1] * math.cos(lean)],
        color=PENCIL,
        linewidth=1.0,
        dashes=(6, 3),
    )
    for side in _SIDES:
        draw(axes, view, places[side])
        _line_to_centre(axes, poses[side].point("contact_centre"), poses[side].point("instant_centre"))
    if np.isfinite(centre).all():
        at = np.array([centre[0], ground + centre[1]])
        for side in _SIDES:
            foot_at = poses[side].point("contact_centre")[1:]
            axes.plot(*zip(foot_at, at, strict=True), color=PURPLE, linewidth=1.3, zorder=4.0)
        if low[1] < at[0] < high[1]:
            axes.plot(
                *at,
                marker="o",
                markersize=11,
                markerfacecolor="none",
                markeredgecolor=PURPLE,
                markeredgewidth=1.8,
                zorder=5,
            )
            axes.plot(*at, marker="o", markersize=3, color=PURPLE, zorder=5)
            # Below the ring, but not on the ground line.
            above_pt = float(centre[1] / (high[1] - low[1]) * across_in * 72.0)
            aside_pt = 13.0 if _NAME_PT - 12.0 < above_pt < _NAME_PT + 12.0 else -_NAME_PT
            axes.annotate(
                "roll centre",
                (float(at[0]), float(at[1])),
                (0, aside_pt),
                textcoords="offset points",
                ha="center",
                fontsize=NOTE_PT,
                color=PURPLE,
                zorder=5,
            )
    return figure


def _with_moved_points(dataset: xr.Dataset) -> xr.Dataset:
    """A sweep as the words of the other figures take it, the hard points that move named in its attributes."""
    moved = [str(name).removesuffix("_moved") for name in dataset.coords if str(name).endswith("_moved")]
    return dataset.assign_attrs(_moved=moved)


def _roll_centre_words(both: xr.Dataset, centre: npt.NDArray[np.float64]) -> str:
    if int(both.roll_centre_status) != 0 or not np.isfinite(centre).all():
        return "Roll centre: none, the normals to the contact paths run parallel."
    side = "left" if centre[0] >= 0.0 else "right"
    line = "the car's centre line"
    where = f"on {line}" if abs(centre[0]) < 0.05 else f"{number(abs(centre[0]), 1)} mm to the {side} of {line}"
    if abs(centre[1]) < 0.05:
        return f"Roll centre at the ground, {where}."
    return f"Roll centre {number(abs(centre[1]), 1)} mm {'above' if centre[1] > 0.0 else 'below'} the ground, {where}."


def _arm_words(length: float) -> str:
    if not math.isfinite(length):
        return "no instant centre"
    return f"instant centre {number(abs(length) / 1000.0, 2)} m {'inboard' if length > 0.0 else 'outboard'}"


def _line_to_centre(axes: Axes, contact: npt.NDArray[np.float64], centre: npt.NDArray[np.float64]) -> None:
    """From a contact centre to its instant centre, or to the sheet's edge."""
    if not np.isfinite(centre).all():
        return
    ends = np.array([contact[1:], centre[1:]])
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    axes.plot(*ends.T, color=PURPLE, linewidth=1.0, dashes=(5, 3), zorder=3.9, clip_on=True)
    if left < ends[1, 0] < right and low < ends[1, 1] < high:
        axes.plot(*ends[1], marker="x", color=PURPLE, markersize=8, markeredgewidth=1.8, zorder=5)
        return
    # An arrow near the edge says that it goes on.
    way = ends[1] - ends[0]
    edge = right if way[0] > 0.0 else left
    share = 0.985 * (edge - ends[0, 0]) / way[0]
    at = ends[0] + share * way
    if low < at[1] < high:
        axes.annotate(
            "",
            at,
            at - 0.02 * way / np.linalg.norm(way) * (right - left),
            arrowprops={"arrowstyle": "-|>", "color": PURPLE},
        )


def _front_legend() -> tuple[Any, Any, str | None, bool]:
    handles, labels, heading, row = legend(False)
    own = [
        (Line2D([], [], color=PURPLE, linewidth=1.3, linestyle="-"), "normal to a contact path, to the roll centre"),
        (Line2D([], [], color=PENCIL, linewidth=1.0, dashes=(6, 3)), "upright of the body"),
    ]
    kept = [(h, t) for h, t in zip(handles, labels, strict=True) if not t.startswith("to the instant centre")]
    kept += [(Line2D([], [], color=PURPLE, linewidth=1.0, dashes=(5, 3)), "to the instant centre"), *own]
    new_handles, new_labels = zip(*kept, strict=True)
    return new_handles, new_labels, heading, row


@dataclass(frozen=True)
class _Turn:
    """A turn seen from above, X forward and Y left, mm and rad; pairs by side."""

    contacts: dict[str, Vector]
    steer: dict[str, float]
    """To the left positive."""
    kingpins: dict[str, Vector]
    """Where the steering axes meet the ground at design, on the line of the front axle."""
    front: float
    rear: float

    @property
    def is_left(self) -> bool:
        return sum(self.steer.values()) > 0.0

    @property
    def inner(self) -> str:
        return "left" if self.is_left else "right"

    @property
    def outer(self) -> str:
        return "right" if self.is_left else "left"

    def along(self, side: str) -> Vector:
        """The wheel's axle line, toward the inside of the turn."""
        way = 1.0 if self.is_left else -1.0
        return way * np.array([-math.sin(self.steer[side]), math.cos(self.steer[side])])

    def at_rear(self, side: str) -> Vector:
        """Where the wheel's axle line meets the rear axle's."""
        start, along = self.contacts[side], self.along(side)
        found: Vector = start + along * (self.rear - start[0]) / along[0]
        return found

    def crossing(self, starts: Mapping[str, Vector]) -> Vector | None:
        """Where two lines along the wheels' axles cross; none where they run parallel."""
        inner, outer = self.along(self.inner), self.along(self.outer)
        if abs(inner[0] * outer[1] - inner[1] * outer[0]) < _PARALLEL:
            return None
        shares = np.linalg.solve(np.column_stack([inner, -outer]), starts[self.outer] - starts[self.inner])
        found: Vector = starts[self.inner] + shares[0] * inner
        return found


def _turn_of(car: Axle, dataset: xr.Dataset, wheelbase: float) -> _Turn:
    corners = {"left": car.left, "right": car.right}
    design = {side: corner.solve() for side, corner in corners.items()}
    front = 0.5 * sum(float(pose.point("contact_centre")[0]) for pose in design.values())
    return _Turn(
        contacts={side: dataset.contact_centre.sel(side=side).values[:2] for side in _SIDES},
        steer={side: math.radians(float(dataset.wheel_steer.sel(side=side))) for side in _SIDES},
        kingpins={side: np.array([front, pose.point("steering_axis_at_ground")[1]]) for side, pose in design.items()},
        front=front,
        rear=front - wheelbase,
    )


def _flat(at: npt.ArrayLike) -> Vector:
    """From above on the sheet: X up, the car's left on the left."""
    array = np.asarray(at, dtype=np.float64)
    return np.stack([-array[..., 1], array[..., 0]], axis=-1)


def turn_view(car: Axle, *, rack: float | None = None, inner_steer: float | None = None, **inputs: Any) -> Figure:
    """The car from above in a turn: where the axle lines meet, and the turning circle.

    The front of the car is up, its left on the left. Two constructions are drawn and told apart. The wheels' axle lines
    run through the contact centres of the pose: the outer one meets the rear axle's line in the centre of the turning
    circle. The Ackermann percentages go by lines at the same steer angles through the points where the steering axes
    meet the ground at design, as their definition does; these meet elsewhere.

    Nothing is known of the rear axle but the wheelbase: its wheels are drawn straight, and as far apart as the front ones
    at design.

    Parameters
    ----------
    car : Axle
        With ``axle.wheelbase``.
    rack, inner_steer : float, optional
        One of the two: rack displacement in mm, toward the left of the car positive, or angle of the inner wheel in
        deg, to the left positive; 30 deg to the left unless given.
    **inputs : float
        Travel and roll of both wheels, settings, and ``travel_at``, as `strutsweep.sweep` takes them.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        The wheelbase is not known, the angle is not to be had, or the wheels hardly turn.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import plots
    >>> plots.turn_view(ss.demo("gravel_hatch"), inner_steer=25.0).axes[0].get_label()
    'top'
    """
    wheelbase = car.dimensions["wheelbase"]
    if wheelbase is None:
        raise InputError("the car file lacks axle.wheelbase", name="axle.wheelbase", value=None)
    if rack is not None and inner_steer is not None:
        raise InputError("rack and inner_steer are given: steer by one of them", name="rack", value=rack)
    name, value = ("rack", rack) if rack is not None else ("inner_steer", 30.0 if inner_steer is None else inner_steer)
    steered: dict[str, Any] = {name: value}
    ds = sweep(car, **inputs, **steered, places="contact_centre")
    if int(ds.status.max()) != 0:
        raise InputError("this lock is not to be had", name=name, value=value)
    if not np.isfinite(float(ds.turning_circle)):
        raise InputError(
            "the wheels hardly turn: no turn centre on any sheet", name=name, value=float(ds.mean_steer), unit="deg"
        )
    turn = _turn_of(car, ds, wheelbase)
    own, ackermann = turn.crossing(turn.contacts), turn.crossing(turn.kingpins)
    centre = turn.at_rear(turn.outer)
    said = [
        "Seen from above: the front of the car is up, its left on the left.",
        *_held_words(ds, ()),
        f"Inner wheel {number(abs(float(ds.inner_wheel_steer)), 1)} deg,"
        f" outer wheel {number(abs(float(ds.outer_wheel_steer)), 1)} deg."
        f" Turning circle {number(float(ds.turning_circle) / 1000.0, 2)} m, of the outer contact centre.",
        f"Axle lines, through the contact centres: {_meet_words(own, turn.front)}.",
        f"Ackermann's lines, at the same angles through the steering axes' points on the ground at design:"
        f" {_meet_words(ackermann, turn.front)}, so {number(float(ds.ackermann_by_cotangent), 0)} % by cotangents and"
        f" {number(float(ds.ackermann_by_angle), 0)} % by angle (100 where they meet on the rear axle's line,"
        f" {number(wheelbase / 1000.0, 2)} m behind).",
        "Assumed: rear wheels straight, their track as the front's.",
    ]
    points = [_flat(turn.contacts[side]) for side in _SIDES] + [_flat(turn.at_rear(side)) for side in _SIDES]
    shown = {}
    for key, at in (("own", own), ("ackermann", ackermann)):
        if at is not None and float(np.linalg.norm(at - centre)) < 2.0 * wheelbase:
            shown[key] = at
            points.append(_flat(at))
    cloud = np.vstack(points)
    low, high = cloud.min(axis=0) - 700.0, cloud.max(axis=0) + 700.0
    title = f"{car.name}, turning {'left' if turn.is_left else 'right'}"
    figure = sheet(_WIDTH_IN)
    foot_in = foot(figure, [_turn_legend(shown)])
    head_in = header_height_in(title, said, _WIDTH_IN)
    across_in = _WIDTH_IN - 2.0 * MARGIN_IN - 0.8
    up_in = min(across_in * float((high[1] - low[1]) / (high[0] - low[0])), 8.0)
    height_in = head_in + up_in + 0.55 + foot_in
    figure.set_size_inches(_WIDTH_IN, height_in)
    header(figure, title, said)
    axes = figure.add_axes(
        ((MARGIN_IN + 0.75) / _WIDTH_IN, (foot_in + 0.45) / height_in, across_in / _WIDTH_IN, up_in / height_in),
        label="top",
    )
    dress(axes, grid=False)
    axes.set_aspect("equal", adjustable="datalim")
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    axes.set_xlabel("\u2212Y (mm), + right of the car", fontsize=LABEL_PT, color=INK)
    axes.set_ylabel("X (mm), + forward", fontsize=LABEL_PT, color=INK)
    _draw_car(axes, car, turn)
    _draw_turn(axes, turn, shown, float(ds.turning_circle) / 2.0)
    return figure


def _meet_words(at: Vector | None, front: float) -> str:
    if at is None:
        return "parallel, they do not meet"
    behind = (front - float(at[0])) / 1000.0
    return f"they meet {number(abs(behind), 2)} m {'behind' if behind > 0.0 else 'ahead of'} the front axle"


def _draw_car(axes: Axes, car: Axle, turn: _Turn) -> None:
    """The wheels and the axles; of the rear one only its place is known."""
    width = car.envelope["tyre_width"] or _TYRE_WIDTH_MM
    half = {
        side: float(corner.solve().point("contact_centre")[1])
        for side, corner in (("left", car.left), ("right", car.right))
    }
    axes.axhline(turn.rear, color=PENCIL, linewidth=1.0, dashes=(8, 3), zorder=0.5)
    for side, corner in (("left", car.left), ("right", car.right)):
        _wheel(axes, _flat(turn.contacts[side]), turn.steer[side], corner.wheel_radius, width, DISC)
        _wheel(axes, _flat([turn.rear, half[side]]), 0.0, corner.wheel_radius, width, PAPER)
    for x in (turn.front, turn.rear):
        axes.plot(*_flat([[x, half["left"]], [x, half["right"]]]).T, color=PENCIL, linewidth=2.0, zorder=1)
    axes.plot(*_flat([[turn.front, 0.0], [turn.rear, 0.0]]).T, color=FAINT, linewidth=1.5, zorder=0.9)


def _draw_turn(axes: Axes, turn: _Turn, shown: Mapping[str, Vector], radius: float) -> None:
    """The lines to where they meet, and a piece of the turning circle."""
    for side, colour, mark in ((turn.inner, BLUE, "s"), (turn.outer, RED, "o")):
        ends = [_flat(turn.contacts[side]), _flat(turn.at_rear(side))]
        axes.plot(*np.array(ends).T, color=colour, linewidth=1.4, zorder=2)
        axes.plot(*ends[1], marker=mark, markersize=6, color=colour, zorder=4)
        if "own" in shown:
            on = np.array([ends[1], _flat(shown["own"])])
            axes.plot(*on.T, color=colour, linewidth=0.9, dashes=(3, 3), zorder=1.9)
        kingpin = _flat(turn.kingpins[side])
        axes.plot(*kingpin, marker="D", markersize=5, markerfacecolor=PAPER, markeredgecolor=PURPLE, zorder=4)
        if "ackermann" in shown:
            on = np.array([kingpin, _flat(shown["ackermann"])])
            axes.plot(*on.T, color=PURPLE, linewidth=0.9, dashes=(1.5, 2.5), zorder=2.1)
    if "own" in shown:
        axes.plot(*_flat(shown["own"]), marker="D", markersize=6, color=INK, zorder=4)
    if "ackermann" in shown:
        axes.plot(*_flat(shown["ackermann"]), marker="D", markersize=6, color=PURPLE, zorder=4)
    centre = _flat(turn.at_rear(turn.outer))
    sweep_rad = np.linspace(-0.5, 0.5, 121) * math.radians(70.0)
    start = math.atan2(*(_flat(turn.contacts[turn.outer]) - centre)[::-1])
    arc = centre + radius * np.stack([np.cos(start + sweep_rad), np.sin(start + sweep_rad)], axis=-1)
    axes.plot(*arc.T, color=GREEN, linewidth=1.2, zorder=1.5)
    axes.plot(*centre, marker="+", markersize=13, markeredgewidth=1.8, color=INK, zorder=5)


def _wheel(axes: Axes, at: npt.NDArray[np.float64], steer: float, radius: float, width: float, colour: str) -> None:
    """A wheel from above: as long as its loaded diameter, steered to the left by an angle in rad."""
    box = np.array([[-0.5 * width, -radius], [0.5 * width, -radius], [0.5 * width, radius], [-0.5 * width, radius]])
    sine, cosine = math.sin(steer), math.cos(steer)
    turned = box @ np.array([[cosine, sine], [-sine, cosine]])
    axes.add_patch(
        Polygon(at + turned, closed=True, facecolor=colour, edgecolor=INK, alpha=0.55, linewidth=1.0, zorder=3)
    )


def _turn_legend(shown: Mapping[str, Vector]) -> tuple[Any, Any, str | None, bool]:
    mark: dict[str, Any] = {"linestyle": "none", "marker": "D"}
    entries = [
        (Line2D([], [], color=BLUE, linewidth=1.4, marker="s", markersize=6), "axle line of the inner wheel"),
        (Line2D([], [], color=RED, linewidth=1.4, marker="o", markersize=6), "axle line of the outer wheel"),
        (
            Line2D([], [], color=INK, linestyle="none", marker="+", markersize=11, markeredgewidth=1.8),
            "centre of the turning circle",
        ),
        (Line2D([], [], color=GREEN, linewidth=1.2), "turning circle: path of the outer contact centre"),
        (Line2D([], [], color=PENCIL, linewidth=1.0, dashes=(8, 3)), "line of the rear axle"),
        (
            Line2D([], [], **mark, markersize=5, markerfacecolor=PAPER, markeredgecolor=PURPLE),
            "steering axes on the ground, at design",
        ),
    ]
    if "own" in shown:
        entries.append((Line2D([], [], **mark, color=INK, markersize=6), "where the axle lines meet"))
    if "ackermann" in shown:
        line = Line2D([], [], color=PURPLE, linewidth=0.9, dashes=(1.5, 2.5), marker="D", markersize=6)
        entries.append((line, "Ackermann's lines, and where they meet"))
    handles, labels = zip(*entries, strict=True)
    return handles, labels, None, True


def carpet(dataset: xr.Dataset, reading: str) -> Figure:
    """A carpet plot: one reading over two inputs, whose lines cross like a net.

    The level axis carries neither input by itself: each of the second input's lines is the first one's curve, moved
    aside. Values are read off the upright axis; on the net itself both inputs are.

    Parameters
    ----------
    dataset : xarray.Dataset
        Of a sweep over two inputs, of one corner or of one side of an axle.
    reading : str
        A reading of the dataset.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        The dataset lacks the reading, or varies along anything but two inputs.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> from strutsweep import plots
    >>> ds = ss.sweep(ss.demo("gravel_hatch").left, roll=np.linspace(-3, 3, 7), rack=np.linspace(-40, 40, 9))
    >>> plots.carpet(ds, "camber").axes[0].get_label()
    'carpet'
    """
    if reading not in dataset:
        raise InputError(f"this dataset has no {reading}", name="reading", value=reading)
    array = dataset[reading]
    names = [str(dim) for dim in array.dims]
    if len(names) != 2 or not set(names) <= _INPUTS:
        raise InputError(
            f"a carpet is woven of two inputs; {reading} varies along {', '.join(names) or 'none'}",
            name="dataset",
            value=names,
        )
    if min(array.shape) < 2:
        raise InputError("a carpet needs two values at least of either input", name="dataset", value=array.shape)
    first, second = names
    a, b = array.coords[first].values, array.coords[second].values
    values = array.transpose(first, second).values
    # Each input spans its share of the level axis.
    x = (a - a.min())[:, None] / np.ptp(a) + 0.62 * (b - b.min())[None, :] / np.ptp(b)
    side = (
        str(dataset.side.values)
        if "side" in dataset.coords and dataset.side.ndim == 0
        else str(dataset.attrs.get("side", ""))
    )
    title = f"{dataset.attrs.get('car', '')}, {side} corner: {name_with_unit(reading)}"
    said = [
        f"Lines of one colour have one {_words(second)} ({_way(second)}); they run along {_words(first)} ({_way(first)}).",
        *_held_words(dataset, (first, second)),
    ]
    figure = sheet(_WIDTH_IN)
    head_in = header_height_in(title, said, _WIDTH_IN)
    height_in = head_in + 5.6
    figure.set_size_inches(_WIDTH_IN, height_in)
    header(figure, title, said)
    axes = figure.add_axes((0.085, 0.5 / height_in, 0.80, (height_in - head_in - 0.75) / height_in), label="carpet")
    dress(axes)
    axes.grid(False, axis="x")
    axes.set_xticks([])
    axes.spines["bottom"].set_visible(False)
    axes.set_ylabel(f"{name_with_unit(reading)}\n{positive_way(reading)}", fontsize=LABEL_PT, color=INK)
    for j in range(b.size):
        axes.plot(x[:, j], values[:, j], color=ORDERED(j / max(b.size - 1, 1)), linewidth=1.6)
    for i in range(a.size):
        axes.plot(x[i], values[i], color=PENCIL, linewidth=0.8)
    _net_labels(axes, x, values, a, b, first, second)
    axes.margins(x=0.09, y=0.08)
    return figure


_OF_STEER: Final[Mapping[str, str]] = {"steer": "mean_steer", "inner_steer": "inner_wheel_steer"}
"""Readings that an input which steers by an angle asks for."""


def _words(name: str) -> str:
    return "turns of the steering wheel" if name == "turns" else attributes(_OF_STEER.get(name, name))["long_name"]


def _unit_of(name: str) -> str:
    return "turns" if name == "turns" else attributes(_OF_STEER.get(name, name))["units"]


def _way(name: str) -> str:
    """Which way of an input is positive."""
    return "+ to the left" if name == "turns" else positive_way(_OF_STEER.get(name, name))


def _held_words(dataset: xr.Dataset, along: tuple[str, ...]) -> list[str]:
    """What is held, every input that is neither zero nor along the figure, and that the tie rod stays as it is."""
    if not {"held", "travel_at"} <= set(dataset.attrs):
        return []
    data = _with_moved_points(dataset)
    if "rack" in data.coords:
        # Found from a steer angle it has no end of digits.
        data = data.assign_coords(rack=data.rack.round(1))
    data = data.drop_vars([name for name in data.coords if data[name].ndim and set(data[name].dims) - set(along)])
    said = selection.notes(data, along, None)
    rod = dataset.coords.get("tie_rod")
    if rod is not None and rod.ndim == 0 and float(rod) == 0.0:
        said.append("The tie rod keeps its length: toe is not put back.")
    return said


def _net_labels(
    axes: Axes,
    x: npt.NDArray[np.float64],
    values: npt.NDArray[np.float64],
    a: npt.NDArray[np.float64],
    b: npt.NDArray[np.float64],
    first: str,
    second: str,
) -> None:
    """Values of either input at the ends of its lines, and their names once."""
    style: dict[str, Any] = {"textcoords": "offset points", "fontsize": TICK_PT, "annotation_clip": False}
    for j in range(b.size):
        text = number(float(b[j]), signed=True) + (f" {_unit_of(second)}" if j == b.size - 1 else "")
        axes.annotate(
            text, (x[-1, j], values[-1, j]), (6, 0), va="center", color=ORDERED(j / max(b.size - 1, 1)), **style
        )
    # Beyond the first line, on the side to which it does not run.
    below = -1.0 if np.nanmean(np.gradient(values, axis=1)) >= 0.0 else 1.0
    slopes = np.gradient(values[:, 0])
    for i in range(a.size):
        text = number(float(a[i]), signed=True) + (f" {_unit_of(first)}" if i == a.size - 1 else "")
        aside = -below if slopes[i] >= 0.0 else below
        axes.annotate(
            text,
            (x[i, 0], values[i, 0]),
            (4.0 * aside, 10.0 * below),
            ha="left" if aside > 0.0 else "right",
            va="center",
            color=PENCIL,
            **style,
        )
    place: dict[str, Any] = {"fontsize": NOTE_PT, "transform": axes.transAxes, "ha": "left"}
    axes.text(
        0.0,
        1.015,
        f"grey: {_words(first)} ({_unit_of(first)})   coloured: {_words(second)} ({_unit_of(second)})",
        color=PENCIL,
        **place,
    )


def roll_centre_path(dataset: xr.Dataset) -> Figure:
    """Where the axle's roll centre goes as the body rolls, or along any one input.

    Parameters
    ----------
    dataset : xarray.Dataset
        Of a sweep of an axle along one dimension, such as ``roll``.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        The dataset lacks the roll centre, varies along more, or has none anywhere.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> from strutsweep import plots
    >>> figure = plots.roll_centre_path(ss.sweep(ss.demo("gravel_hatch"), roll=np.linspace(-3, 3, 25)))
    >>> figure.axes[0].get_label()
    'path'
    """
    names = ("axle_roll_centre_shift", "axle_roll_centre_height")
    for name in names:
        if name not in dataset:
            raise InputError(f"this dataset has no {name}: sweep an axle", name="dataset", value=name)
    shift, height = (dataset[name] for name in names)
    if shift.ndim != 1 or str(shift.dims[0]) not in _INPUTS:
        raise InputError("a path runs along one input", name="dataset", value=list(shift.dims))
    along = str(shift.dims[0])
    found = np.isfinite(shift.values)
    if not found.any():
        raise InputError("there is no roll centre anywhere in this dataset", name="dataset", value="roll_centre_status")
    values = shift.coords[along].values
    title = f"{dataset.attrs['car']}: path of the roll centre"
    missing = int((~found).sum())
    said = [
        f"Along {_words(along)} ({_way(along)}); ground's axes, seen from the front: the car's left is on the right.",
        *_held_words(dataset, (along,)),
        f"No roll centre at {missing} of {found.size} places:"
        " the normals run parallel there, or the pose is out of reach."
        if missing
        else "",
    ]
    figure = sheet(_WIDTH_IN)
    head_in = header_height_in(title, said, _WIDTH_IN)
    height_in = head_in + 5.2
    figure.set_size_inches(_WIDTH_IN, height_in)
    header(figure, title, [text for text in said if text])
    axes = figure.add_axes((0.085, 0.62 / height_in, 0.86, (height_in - head_in - 0.75) / height_in), label="path")
    dress(axes)
    axes.axhline(0.0, color=PENCIL, linewidth=1.2)
    axes.axvline(0.0, color=PENCIL, linewidth=0.9, dashes=(8, 3, 2, 3))
    for piece in _pieces(dataset, along):
        axes.plot(shift.values[piece], height.values[piece], color=FAINT, linewidth=1.4, zorder=1.5)
    order = (values - values.min()) / (np.ptp(values) or 1.0)
    axes.scatter(shift.values[found], height.values[found], c=ORDERED(order[found]), s=26, zorder=3)
    axes.set_xlabel(f"{name_with_unit(names[0])}, {positive_way(names[0])}", fontsize=LABEL_PT, color=INK)
    axes.set_ylabel(f"{name_with_unit(names[1])}, {positive_way(names[1])}", fontsize=LABEL_PT, color=INK)
    axes.margins(x=0.08, y=0.1)
    for axis, of in (("x", shift), ("y", height)):
        low, high = float(np.nanmin(of.values)), float(np.nanmax(of.values))
        if high - low < _LEAST_SPAN_MM:
            middle = 0.5 * (low + high)
            axes.set(**{f"{axis}lim": (middle - 0.6 * _LEAST_SPAN_MM, middle + 0.6 * _LEAST_SPAN_MM)})
    _path_labels(axes, along, values, np.column_stack([shift.values, height.values]))
    return figure


def _pieces(dataset: xr.Dataset, along: str) -> list[slice]:
    """The stretches of a path on which the roll centre does not pass through infinity.

    It does where the two normals' slopes, roll-centre height of the corner over half track, change order.
    """
    count = dataset.sizes[along]
    if "roll_centre_height" not in dataset or "half_track" not in dataset:
        # No line says more than is known.
        return []
    order = np.sign((dataset.roll_centre_height / dataset.half_track).sum("side").transpose(along).values)
    breaks = [0, *(int(i) + 1 for i in np.flatnonzero(order[1:] != order[:-1])), count]
    return [slice(low, high) for low, high in zip(breaks[:-1], breaks[1:], strict=True)]


def _path_labels(axes: Axes, along: str, values: Vector, centres: Vector) -> None:
    """Values beside their places; those that would write over one another are left out, the ends' never."""
    ends = (0, values.size - 1)
    every = range(0, values.size, max(1, values.size // 12))
    written: list[Vector] = []
    for i in [*ends, *(i for i in every if i not in ends)]:
        if not np.isfinite(centres[i]).all():
            continue
        at = axes.transData.transform(centres[i])
        if any(abs(at[1] - other[1]) < 12.0 and abs(at[0] - other[0]) < 60.0 for other in written):
            continue
        written.append(at)
        rightward = centres[i, 0] >= 0.0
        axes.annotate(
            f"{number(round(float(values[i]), 3), signed=True)} {_unit_of(along)}",
            (float(centres[i, 0]), float(centres[i, 1])),
            (7 if rightward else -7, 5),
            textcoords="offset points",
            ha="left" if rightward else "right",
            fontsize=TICK_PT,
            color=INK,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
        )
