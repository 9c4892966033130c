"""A drawing as a figure, to be looked at on a screen."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle as Disc
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline

from strutsweep.drawings.geometry import CAP_SHARE, Circle, Drawing, Text, arc_of
from strutsweep.drawings.writers import COLOURS, DASHES_MM, WIDTHS_MM
from strutsweep.plots.sheet import sheet

__all__ = ["picture"]

_POINTS_PER_INCH: Final = 72.0


def picture(drawing: Drawing, *, width_in: float = 11.7) -> Figure:
    """A drawing as a figure, smaller than life: for a look, not for the workshop.

    Parameters
    ----------
    drawing : Drawing
    width_in : float
        Width of the figure in inches.

    Returns
    -------
    matplotlib.figure.Figure

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import drawings
    >>> car = ss.demo("gravel_hatch")
    >>> figure = drawings.picture(drawings.plate_drawing(car.left, car.top_plate))
    >>> figure.axes[0].get_xlim()
    (np.float64(0.0), np.float64(420.0))
    """
    width, height = drawing.size
    per_mm = width_in * _POINTS_PER_INCH / width
    figure = sheet(width_in)
    figure.set_size_inches(width_in, width_in * height / width)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, width)
    axes.set_ylim(0.0, height)
    axes.set_axis_off()
    for shape in drawing.shapes:
        colour = COLOURS[shape.layer][0]
        if isinstance(shape, Text):
            axes.text(
                *shape.at,
                shape.words,
                fontsize=shape.height / CAP_SHARE * per_mm,
                fontfamily="sans-serif",
                color=colour,
                ha={"left": "left", "middle": "center", "right": "right"}[shape.align],
                va="baseline",
                rotation=shape.turned,
                rotation_mode="anchor",
                fontweight="bold" if shape.bold else "normal",
            )
            continue
        look: dict[str, Any] = {
            "edgecolor": colour,
            "facecolor": colour if getattr(shape, "filled", False) else "none",
            "linewidth": WIDTHS_MM[shape.style] * per_mm,
        }
        if shape.style in DASHES_MM:
            look["linestyle"] = (0.0, [dash / WIDTHS_MM[shape.style] for dash in DASHES_MM[shape.style]])
        if isinstance(shape, Circle):
            axes.add_patch(Disc(shape.centre, shape.radius, **look))
            continue
        points, codes = [shape.vertices[0][:2]], [int(Outline.MOVETO)]
        for start, end, bulge in shape.sides():
            if bulge:
                (x, y), radius, first, swept = arc_of(start, end, bulge)
                arc = Outline.arc(min(first, first + swept), max(first, first + swept))
                turns = np.asarray(arc.vertices, dtype=np.float64)
                ring = [(float(x + radius * u), float(y + radius * v)) for u, v in turns]
                ring = ring[1:] if swept > 0.0 else ring[::-1][1:]
                points += ring
                codes += [int(Outline.CURVE4)] * len(ring)
            else:
                points.append(end)
                codes.append(int(Outline.LINETO))
        axes.add_patch(PathPatch(Outline(points, codes), **look))
    return figure
