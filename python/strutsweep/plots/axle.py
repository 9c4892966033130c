"""Both corners from the front, with their instant centres and the roll centre."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from strutsweep._core import Axle
from strutsweep._within import check_car, check_inputs
from strutsweep.plots import selection
from strutsweep.plots.inputs import with_moved_points
from strutsweep.plots.parts import Places, View, draw, legend
from strutsweep.plots.sheet import (
    FAINT,
    INK,
    LABEL_PT,
    MARGIN_IN,
    NOTE_PT,
    PENCIL,
    PURPLE,
    dress,
    foot,
    header,
    header_height_in,
    number,
    positive_way,
    sheet,
    with_unit,
)
from strutsweep.sweeping import sweep

__all__ = ["axle_front_view"]

_WIDTH_IN: Final = 10.0
_BESIDE_MM: Final = 60.0
_DEEP_MM: Final = 300.0
"""A roll centre this far below the ground still stretches the sheet."""
_NAME_PT: Final = 21.0
"""How far below the roll centre its name stands."""
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
    check_car("axle_front_view", car)
    inputs: dict[str, Any] = {"travel": travel, "rack": rack, "roll": roll, **settings}
    check_inputs(inputs)
    corners = {"left": car.left, "right": car.right}
    poses = {side: corner.solve(**inputs) for side, corner in corners.items()}
    both = sweep(car, **inputs)
    places = {side: Places.of(corner, poses[side]) for side, corner in corners.items()}
    view = View("front view", "from the front: the car's left is on the right", 1, 2, 1.0, 1.0)
    lows, highs = zip(*(place.extent() for place in places.values()), strict=True)
    low, high = np.min(lows, axis=0) - _BESIDE_MM, np.max(highs, axis=0) + _BESIDE_MM
    low[2] -= 40.0

    centre = np.array([float(both.axle_roll_centre_shift), float(both.axle_roll_centre_height)])
    # The ground runs through both contact centres, also where they stand at unlike heights.
    feet = np.array([poses[side].point("contact_centre")[1:] for side in _SIDES])
    leans = (feet[0, 1] - feet[1, 1]) / (feet[0, 0] - feet[1, 0])
    ground = float(feet[0, 1] - leans * feet[0, 0])
    if -_DEEP_MM < centre[1] < 0.0:
        low[2] = min(low[2], ground + centre[1] - _BESIDE_MM)
    said = [
        "Seen from the front: the car's left is on the right.",
        *([] if travel or rack or roll else ["At design height, straight ahead, upright."]),
        *selection.notes(with_moved_points(both), (), None),
        _roll_centre_words(both, centre),
        " ".join(
            f"{side.capitalize()} wheel:"
            f" camber to the ground {with_unit('camber', poses[side].camber, 2, signed=True)},"
            f" to the body {with_unit('camber', float(both.camber_to_body.sel(side=side)), 2, signed=True)},"
            f" {_arm_words(poses[side].swing_arm_length)}."
            for side in _SIDES
        ),
        f"Camber {positive_way('camber')}.",
        *([both.attrs["ground"]] if "ground" in both.attrs else []),
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
    axes.axline((0.0, ground), slope=leans, color=PENCIL, linewidth=1.2, zorder=0.5)
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
        at = np.array([centre[0], ground + leans * centre[0] + centre[1]])
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
    way = "inboard" if length > 0.0 else "outboard"
    return f"instant centre {number(abs(length) / 1000.0, 2)} m {way} of its contact centre"


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
