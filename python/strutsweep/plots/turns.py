"""The car from above in a turn: axle lines, Ackermann's construction, and the turning circle."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon

from strutsweep._core import Axle
from strutsweep._within import check_car, check_inputs, finite
from strutsweep.errors import InputError
from strutsweep.plots.inputs import held_words, unit_of
from strutsweep.plots.parts import DISC, Vector
from strutsweep.plots.sheet import (
    BLUE,
    FAINT,
    GREEN,
    INK,
    LABEL_PT,
    MARGIN_IN,
    PAPER,
    PENCIL,
    PURPLE,
    RED,
    dress,
    foot,
    header,
    header_height_in,
    number,
    sheet,
)
from strutsweep.sweeping import sweep

__all__ = ["turn_view"]

_WIDTH_IN: Final = 10.0
_TYRE_WIDTH_MM: Final = 180.0
_SIDES: Final = ("left", "right")
_PARALLEL: Final = 1e-4
"""Two axle lines with a smaller sine between them meet nowhere to speak of."""


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

    Nothing is known of the rear axle but the wheelbase: its wheels are drawn straight, and as far apart as the front
    ones at design.

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
    check_car("turn_view", car)
    wheelbase = car.dimensions["wheelbase"]
    if wheelbase is None:
        raise InputError("the car file lacks axle.wheelbase", name="axle.wheelbase", value=None)
    if rack is not None and inner_steer is not None:
        raise InputError("rack and inner_steer are given: steer by one of them", name="rack", value=rack)
    check_inputs({key: given for key, given in inputs.items() if key != "travel_at"})
    name, value = ("rack", rack) if rack is not None else ("inner_steer", 30.0 if inner_steer is None else inner_steer)
    value = finite(name, value, unit_of(name))
    steered: dict[str, Any] = {name: value}
    ds = sweep(car, **inputs, **steered, places="contact_centre")
    if int(ds.status.max()) != 0:
        reason = "the pose is out of reach" if name == "rack" else "no rack gives it uniquely"
        raise InputError(f"{name} = {value:g} {unit_of(name)}: {reason}", name=name, value=value, unit=unit_of(name))
    if not np.isfinite(float(ds.turning_circle)):
        raise InputError(
            "the wheels hardly turn: no turn centre on any sheet", name=name, value=float(ds.mean_steer), unit="deg"
        )
    turn = _turn_of(car, ds, wheelbase)
    own, ackermann = turn.crossing(turn.contacts), turn.crossing(turn.kingpins)
    centre = turn.at_rear(turn.outer)
    said = [
        "Seen from above: the front of the car is up, its left on the left.",
        *held_words(ds, (), tie_rod=False),
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
