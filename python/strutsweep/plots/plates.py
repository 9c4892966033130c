"""What a top plate reaches: on the plate, with slots and opening, and in the plane of camber and caster."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from strutsweep.errors import InputError
from strutsweep.plots.sheet import (
    BLUE,
    GREEN,
    INK,
    LABEL_PT,
    MARGIN_IN,
    PENCIL,
    PURPLE,
    RED,
    TICK_PT,
    dress,
    foot,
    header,
    header_height_in,
    name_with_unit,
    positive_way,
    sheet,
)
from strutsweep.top_plates.clearing import opening_area
from strutsweep.top_plates.hardware import letter
from strutsweep.top_plates.reaching import Reach

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry as Geometry

__all__ = ["reach_map"]

_COLOURS: Final = (BLUE, RED, GREEN, PURPLE)
_WIDTH_IN: Final = 10.6
_PANEL_IN: Final = 4.3
_BOX: Final = "#111111"
_COLUMN: Final = 0.16
"""Share of the width for the names of ride heights."""
_ROW: Final = 0.055
"""Share of the height from name to name."""


def reach_map(reach: Reach, *, camber: Sequence[float] | None = None, caster: Sequence[float] | None = None) -> Figure:
    """What a top plate reaches: places of the bearing's centre on the plate, and camber against caster.

    Left, the tower from above with the front of the car up: for each insert position the places that the bearing's
    centre gets to, the studs and the tower's opening. Right, what the gauges show there, at each ride height; the heavy
    line is what can be set at every one of them.

    Parameters
    ----------
    reach : Reach
        What `strutsweep.reach` returned.
    camber, caster : pair of float, optional
        A box to draw, in deg: both or neither.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        One side of the box without the other.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import plots
    >>> car = ss.demo("gravel_hatch")
    >>> figure = plots.reach_map(ss.reach(car.left, car.top_plate), camber=(-2, -0.5), caster=(2.5, 3.2))
    >>> [axes.get_xlabel().splitlines()[0] for axes in figure.axes]
    ['inboard in the plate (mm)', 'camber (deg)']
    """
    if (camber is None) != (caster is None):
        raise InputError("camber and caster make a box together: give both or neither", name="camber", value=camber)
    figure = sheet(_WIDTH_IN)
    plate, corner = reach.top_plate, reach.corner
    positions = range(plate.positions)
    notes = [
        f"{corner.side.capitalize()} corner, {reach.held}.",
        f"The plate from above, front of the car up, inboard to the {'right' if corner.side == 'left' else 'left'}.",
        *(f"I{str(join)[1:]}." for join in reach.joins),
    ]
    title = f"{corner.name}: what the top plate reaches"
    entries: list[tuple[Any, str]] = [
        (Patch(facecolor=_COLOURS[i % 4], alpha=0.25, edgecolor=_COLOURS[i % 4]), f"insert position {letter(i)}")
        for i in positions
    ]
    entries.append((Line2D([], [], color=INK, linewidth=2.2), "can be set at every ride height"))
    if plate.opening:
        entries.append((Line2D([], [], color=PENCIL, dashes=(4, 2)), "tower opening"))
    if plate.studs:
        entries.append((Line2D([], [], color=PENCIL, marker="o", linestyle="none", markerfacecolor="none"), "studs"))
    if camber is not None:
        entries.append((Line2D([], [], color=_BOX, linewidth=1.4, dashes=(6, 2)), "wanted"))
    handles, labels = zip(*entries, strict=True)
    foot_in = foot(figure, [(handles, labels, None, True)])
    head_in = header_height_in(title, notes, _WIDTH_IN)
    height_in = head_in + _PANEL_IN + 0.85 + foot_in
    figure.set_size_inches(_WIDTH_IN, height_in)
    header(figure, title, notes)
    left_in, gap_in = 0.75, 1.1
    panel_in = (_WIDTH_IN - left_in - gap_in - MARGIN_IN - 0.1) / 2.0
    below = (foot_in + 0.7) / height_in
    on_plate, angles = (
        figure.add_axes(
            ((left_in + i * (panel_in + gap_in)) / _WIDTH_IN, below, panel_in / _WIDTH_IN, _PANEL_IN / height_in)
        )
        for i in (0, 1)
    )
    _draw_plate(on_plate, reach)
    _draw_angles(angles, reach, camber, caster)
    return figure


def _draw_plate(axes: Axes, reach: Reach) -> None:
    """Places of the bearing's centre, studs and opening, in the plate's frame."""
    plate = reach.top_plate
    dress(axes)
    along, across = (np.ascontiguousarray(reach.edges[name].values) for name in ("plate", "insert"))
    for position in range(plate.positions):
        places = plate.places(along, across, np.full(along.size, position))
        colour = _COLOURS[position % 4]
        axes.fill(places[0], places[1], facecolor=colour, alpha=0.2, linewidth=0.0, zorder=2.0)
        axes.plot(places[0], places[1], color=colour, linewidth=1.6, linestyle="-", marker="", zorder=3.0)
    opening = opening_area(plate)
    if opening is not None:
        _outline(axes, opening, color=PENCIL, linewidth=1.1, dashes=(4, 2))
    if plate.studs:
        # Studs are counted from the middle of the slides, the rest of the picture from where the top was measured.
        x, y = np.array(plate.studs["centres"]).T + np.array(plate.middle)[:, None]
        axes.plot(x, y, marker="o", markersize=7.0, linestyle="none", color=PENCIL, markerfacecolor="none", zorder=3.0)
    axes.plot([0.0], [0.0], marker="+", markersize=9.0, linestyle="none", color=INK, zorder=4.0)
    axes.annotate("as measured", (0.0, 0.0), (4.0, 4.0), textcoords="offset points", fontsize=TICK_PT, color=INK)
    axes.set_aspect("equal", adjustable="datalim")
    axes.margins(0.08)
    axes.invert_yaxis()
    if reach.corner.side == "right":
        axes.invert_xaxis()
    axes.set_xlabel("inboard in the plate (mm)", fontsize=LABEL_PT, color=INK)
    axes.set_ylabel("rearward in the plate (mm)", fontsize=LABEL_PT, color=INK)


def _draw_angles(axes: Axes, reach: Reach, camber: Sequence[float] | None, caster: Sequence[float] | None) -> None:
    """Camber and caster reached: by position at each ride height, and at all of them."""
    import shapely

    dress(axes)
    heights = reach.ride_heights
    for height in heights:
        for position in range(reach.top_plate.positions):
            at = reach.edges.sel(ride_height=height).isel(position=position)
            colour = _COLOURS[position % 4]
            axes.fill(at.camber, at.caster, facecolor=colour, alpha=0.14 if len(heights) > 1 else 0.2, linewidth=0.0)
            axes.plot(at.camber, at.caster, color=colour, linewidth=1.0, linestyle="-", marker="")
    _outline(axes, reach.throughout(), color=INK, linewidth=2.2, linestyle="-")
    if camber is not None and caster is not None:
        _outline(
            axes, shapely.box(camber[0], caster[0], camber[1], caster[1]), color=_BOX, linewidth=1.4, dashes=(6, 2)
        )
    axes.margins(0.07)
    if len(heights) > 1:
        _name_heights(axes, reach)
    for name, label in (("camber", axes.set_xlabel), ("caster", axes.set_ylabel)):
        label(f"{name_with_unit(name)}\n{positive_way(name)}", fontsize=LABEL_PT, color=INK)


def _name_heights(axes: Axes, reach: Reach) -> None:
    """Ride heights in a column beside the fields, each with a line to the corner of its own field.

    Fields of near heights have corners near each other: labels at the corners would lie on one another.
    """
    corners = []
    for height in reach.ride_heights:
        at = reach.edges.sel(ride_height=height)
        camber, caster = (at[name].values.reshape(-1) for name in ("camber", "caster"))
        span = [float(np.ptp(reach.edges[name].values)) or 1.0 for name in ("camber", "caster")]
        last = int(np.argmax(caster / span[1] - camber / span[0]))
        corners.append((float(camber[last]), float(caster[last]), height))
    # Room for the column on the left; from the top down in the order of the corners, so that no two lines cross.
    low, high = axes.get_xlim()
    axes.set_xlim(low - _COLUMN * (high - low), high)
    for row, (x, y, height) in enumerate(sorted(corners, key=lambda corner: (-corner[1], corner[0]))):
        axes.annotate(
            f"{height:+g} mm" if height else "0 mm",
            (x, y),
            (0.02, 0.96 - _ROW * row),
            textcoords="axes fraction",
            fontsize=TICK_PT,
            color=PENCIL,
            va="center",
            arrowprops={"arrowstyle": "-", "color": PENCIL, "linewidth": 0.6, "shrinkA": 1.0, "shrinkB": 0.0},
        )


def _outline(axes: Axes, area: Geometry, **style: Any) -> None:
    """The edge of an area of one piece or several."""
    pieces = getattr(area, "geoms", [area])
    for piece in pieces:
        if piece.geom_type == "Polygon" and not piece.is_empty:
            x, y = np.asarray(piece.exterior.coords).T
            axes.plot(x, y, **{"marker": "", "zorder": 5.0, **style})
