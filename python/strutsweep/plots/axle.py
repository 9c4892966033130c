"""The whole axle drawn: front view with its centres, top view at lock, carpets, the roll centre's path."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon

from strutsweep._core import Axle
from strutsweep.errors import InputError
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
_SIDES: Final = ("left", "right")


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
    said = [
        "Seen from the front: the car's left is on the right.",
        *_moved(inputs),
        _roll_centre_words(both, centre),
        " ".join(
            f"{side.capitalize()} wheel:"
            f" camber to the ground {with_unit('camber', poses[side].camber, 2, signed=True)},"
            f" to the body {with_unit('camber', float(both.camber_to_body.sel(side=side)), 2, signed=True)},"
            f" {_arm_words(poses[side].swing_arm_length)}."
            for side in _SIDES
        ),
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
            axes.annotate(
                "roll centre",
                (float(at[0]), float(at[1])),
                (0, -21),
                textcoords="offset points",
                ha="center",
                fontsize=NOTE_PT,
                color=PURPLE,
                zorder=5,
            )
    return figure


def _moved(inputs: dict[str, float]) -> list[str]:
    changed = [
        f"{attributes(name)['long_name']} {with_unit(name, value, signed=True)} ({positive_way(name)})"
        for name, value in inputs.items()
        if value != 0.0
    ]
    text = "; ".join(changed)
    return [f"{text[0].upper()}{text[1:]}."] if text else ["At design height, straight ahead, all settings zero."]


def _roll_centre_words(both: xr.Dataset, centre: npt.NDArray[np.float64]) -> str:
    if int(both.roll_centre_status) != 0 or not np.isfinite(centre).all():
        return "Roll centre: none, the normals to the contact paths run parallel."
    side = "left" if centre[0] >= 0.0 else "right"
    where = "on the centre line" if abs(centre[0]) < 0.05 else f"{number(abs(centre[0]), 1)} mm to the {side} of it"
    return f"Roll centre {number(centre[1], 1)} mm above the ground, {where}."


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


def turn_view(car: Axle, *, rack: float | None = None, inner_steer: float | None = None, **inputs: Any) -> Figure:
    """The car from above in a turn: where the axle lines meet, and the turning circle.

    The front of the car is up, its left on the left.

    Parameters
    ----------
    car : Axle
        With ``axle.wheelbase``.
    rack, inner_steer : float, optional
        One of the two: rack displacement in mm, or angle of the inner wheel in deg, to the left positive; 30 deg to the
        left unless given.
    **inputs : float
        Travel, roll and settings.

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
    steered: dict[str, Any] = (
        {"rack": rack} if rack is not None else {"inner_steer": 30.0 if inner_steer is None else inner_steer}
    )
    if rack is not None and inner_steer is not None:
        raise InputError("rack and inner_steer are given: steer by one of them", name="rack", value=rack)
    ds = sweep(car, **inputs, **steered, places=["contact_centre", "wheel_centre"])
    if int(ds.status.max()) != 0:
        raise InputError("this lock is not to be had", name=next(iter(steered)), value=next(iter(steered.values())))
    if not np.isfinite(float(ds.turning_circle)):
        raise InputError(
            "the wheels hardly turn: no turn centre on any sheet", name=next(iter(steered)), value=float(ds.mean_steer)
        )
    contacts = {side: ds.contact_centre.sel(side=side).values for side in _SIDES}
    steer = {side: math.radians(float(ds.wheel_steer.sel(side=side))) for side in _SIDES}
    left_turn = float(ds.mean_steer) > 0.0
    inner, outer = ("left", "right") if left_turn else ("right", "left")
    design = 0.5 * sum(corner.solve().point("contact_centre")[0] for corner in (car.left, car.right))
    rear = design - wheelbase

    def flat(at: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """X up, the car's left on the left."""
        array = np.asarray(at, dtype=np.float64)
        return np.stack([-array[..., 1], array[..., 0]], axis=-1)

    # Each wheel's axle line, toward the turn's inside, to the rear axle's line.
    way = 1.0 if left_turn else -1.0
    meets = {}
    for side in _SIDES:
        along = np.array([-math.sin(steer[side]), math.cos(steer[side])]) * way
        meets[side] = contacts[side][:2] + along * (rear - contacts[side][0]) / along[0]
    centre = meets[outer]
    along_inner = np.array([-math.sin(steer[inner]), math.cos(steer[inner])]) * way
    along_outer = np.array([-math.sin(steer[outer]), math.cos(steer[outer])]) * way
    crossing: npt.NDArray[np.float64] | None = None
    if abs(np.cross(np.append(along_inner, 0.0), np.append(along_outer, 0.0))[2]) > 1e-4:
        shares = np.linalg.solve(
            np.column_stack([along_inner, -along_outer]), contacts[outer][:2] - contacts[inner][:2]
        )
        crossing = contacts[inner][:2] + shares[0] * along_inner

    radius = float(ds.turning_circle) / 2.0
    said = [
        "Seen from above: the front of the car is up, its left on the left."
        f" Inner wheel {number(abs(float(ds.inner_wheel_steer)), 1)} deg,"
        f" outer wheel {number(abs(float(ds.outer_wheel_steer)), 1)} deg,"
        f" rack {with_unit('rack', float(ds.rack), 1, signed=True)}.",
        f"Turning circle {number(float(ds.turning_circle) / 1000.0, 2)} m."
        f" Ackermann {number(float(ds.ackermann_by_angle), 0)} % by angle,"
        f" {number(float(ds.ackermann_by_cotangent), 0)} % by cotangents (100: the front axle lines meet on the"
        " rear axle's).",
    ]
    title = f"{car.name}, turning {'left' if left_turn else 'right'}"
    points = [flat(contacts[side][:2]) for side in _SIDES] + [flat(meets[side]) for side in _SIDES]
    shown = crossing is not None and bool(np.linalg.norm(crossing - centre) < 1.5 * wheelbase)
    if crossing is not None and shown:
        points.append(flat(crossing))
    elif crossing is not None:
        said.append(
            f"They meet {number((design - float(crossing[0])) / 1000.0, 1)} m behind the front axle, off this sheet."
        )
    cloud = np.vstack(points)
    low, high = cloud.min(axis=0) - 700.0, cloud.max(axis=0) + 700.0
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
    width = car.envelope["tyre_width"] or _TYRE_WIDTH_MM
    half = 0.5 * (contacts["left"][1] - contacts["right"][1])
    axes.axhline(rear, color=PENCIL, linewidth=1.0, dashes=(8, 3), zorder=0.5)
    for side in _SIDES:
        line = np.array([flat(contacts[side][:2]), flat(meets[side])])
        axes.plot(*line.T, color=BLUE if side == inner else RED, linewidth=1.4, zorder=2)
        axes.plot(
            *flat(meets[side]),
            marker="s" if side == inner else "o",
            markersize=6,
            color=BLUE if side == inner else RED,
            zorder=4,
        )
        if crossing is not None:
            on = np.array([flat(meets[side]), flat(crossing)])
            axes.plot(*on.T, color=BLUE if side == inner else RED, linewidth=0.9, dashes=(3, 3), zorder=1.9)
        _wheel(axes, flat(contacts[side][:2]), steer[side], car.left.wheel_radius, width, DISC)
        at_rear = np.array([rear, half if side == "left" else -half])
        _wheel(axes, flat(at_rear), 0.0, car.left.wheel_radius, width, PENCIL)
    if crossing is not None:
        axes.plot(*flat(crossing), marker="D", markersize=6, color=PURPLE, zorder=4)
    axes.plot(*np.array([flat([rear, half]), flat([rear, -half])]).T, color=PENCIL, linewidth=2.0, zorder=1)
    axes.plot(*np.array([flat([design, half]), flat([design, -half])]).T, color=PENCIL, linewidth=2.0, zorder=1)
    axes.plot(*np.array([flat([design, 0.0]), flat([rear, 0.0])]).T, color=FAINT, linewidth=1.5, zorder=0.9)
    turn = np.linspace(-0.5, 0.5, 121) * math.radians(70.0)
    start = math.atan2(*(flat(contacts[outer][:2]) - flat(centre))[::-1])
    arc = flat(centre) + radius * np.stack([np.cos(start + turn), np.sin(start + turn)], axis=-1)
    axes.plot(*arc.T, color=GREEN, linewidth=1.2, zorder=1.5)
    axes.plot(*flat(centre), marker="+", markersize=13, markeredgewidth=1.8, color=INK, zorder=5)
    return figure


def _wheel(axes: Axes, at: npt.NDArray[np.float64], steer: float, radius: float, width: float, colour: str) -> None:
    """A wheel from above: as long as its loaded diameter, steered to the left by an angle in rad."""
    box = np.array([[-0.5 * width, -radius], [0.5 * width, -radius], [0.5 * width, radius], [-0.5 * width, radius]])
    sine, cosine = math.sin(steer), math.cos(steer)
    turned = box @ np.array([[cosine, sine], [-sine, cosine]])
    axes.add_patch(
        Polygon(at + turned, closed=True, facecolor=colour, edgecolor=INK, alpha=0.55, linewidth=1.0, zorder=3)
    )


def _turn_legend(crossing: bool) -> tuple[Any, Any, str | None, bool]:
    entries = [
        (Line2D([], [], color=BLUE, linewidth=1.4, marker="s", markersize=6), "axle line of the inner wheel"),
        (Line2D([], [], color=RED, linewidth=1.4, marker="o", markersize=6), "axle line of the outer wheel"),
        (Line2D([], [], color=PURPLE, linestyle="none", marker="D", markersize=6), "where the front axle lines meet"),
        (Line2D([], [], color=PENCIL, linewidth=1.0, dashes=(8, 3)), "line of the rear axle"),
        (
            Line2D([], [], color=INK, linestyle="none", marker="+", markersize=11, markeredgewidth=1.8),
            "turn centre of the outer wheel",
        ),
        (Line2D([], [], color=GREEN, linewidth=1.2), "turning circle: path of the outer contact centre"),
    ]
    if not crossing:
        del entries[2]
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
    known = {*MOTIONS, *SETTINGS, "steer", "inner_steer", "turns"}
    if len(names) != 2 or not set(names) <= known:
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
    title = f"{dataset.attrs.get('car', '')}, {side}: {name_with_unit(reading)}"
    said = [
        f"Lines of one colour have one {_words(second)}; they run along {_words(first)}."
        f" {positive_way(reading)[:1].upper()}{positive_way(reading)[1:]}."
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


def _words(name: str) -> str:
    if name in ("steer", "inner_steer"):
        return attributes({"steer": "mean_steer", "inner_steer": "inner_wheel_steer"}.get(name, name))["long_name"]
    return "turns of the steering wheel" if name == "turns" else attributes(name)["long_name"]


def _unit_of(name: str) -> str:
    if name == "turns":
        return "turns"
    return attributes({"steer": "mean_steer", "inner_steer": "inner_wheel_steer"}.get(name, name))["units"]


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
    rising = np.nanmean(np.gradient(values, axis=1)) >= 0.0
    for i in range(a.size):
        text = number(float(a[i]), signed=True) + (f" {_unit_of(first)}" if i == a.size - 1 else "")
        axes.annotate(
            text, (x[i, 0], values[i, 0]), (-4, -13 if rising else 13), ha="center", va="center", color=PENCIL, **style
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
    if shift.ndim != 1 or str(shift.dims[0]) not in {*MOTIONS, *SETTINGS}:
        raise InputError("a path runs along one input", name="dataset", value=list(shift.dims))
    along = str(shift.dims[0])
    found = np.isfinite(shift.values)
    if not found.any():
        raise InputError("there is no roll centre anywhere in this dataset", name="dataset", value="roll_centre_status")
    values = shift.coords[along].values
    title = f"{dataset.attrs['car']}: path of the roll centre"
    missing = int((~found).sum())
    said = [
        f"Along {_words(along)}, {positive_way(along)}; ground's axes, seen from the front:"
        " the car's left is on the right.",
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
    axes.plot(shift.values, height.values, color=FAINT, linewidth=1.4, zorder=1.5)
    order = (values - values.min()) / (np.ptp(values) or 1.0)
    axes.scatter(shift.values[found], height.values[found], c=ORDERED(order[found]), s=26, zorder=3)
    step = max(1, values.size // 12)
    for i in range(0, values.size, step):
        if found[i]:
            axes.annotate(
                with_unit(along, float(values[i]), signed=True),
                (shift.values[i], height.values[i]),
                (7 if shift.values[i] >= 0.0 else -7, 5),
                textcoords="offset points",
                ha="left" if shift.values[i] >= 0.0 else "right",
                fontsize=TICK_PT,
                color=INK,
            )
    axes.set_xlabel(f"{name_with_unit(names[0])}, {positive_way(names[0])}", fontsize=LABEL_PT, color=INK)
    axes.set_ylabel(f"{name_with_unit(names[1])}, {positive_way(names[1])}", fontsize=LABEL_PT, color=INK)
    axes.margins(x=0.08, y=0.1)
    return figure
