"""What a drawing is made of: one list of shapes on layers, in millimetres on the sheet, for every form of file."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias

if TYPE_CHECKING:
    from shapely import Polygon

__all__ = ["Circle", "Contour", "Drawing", "LAYERS", "Layer", "Shape", "Style", "Text", "arc_of"]

Layer: TypeAlias = Literal["cut", "engrave", "reference"]
Style: TypeAlias = Literal["outline", "thin", "chain", "dashed", "frame"]
Place: TypeAlias = tuple[float, float]
Vertex: TypeAlias = tuple[float, float, float]
"""A point and the bulge of the side that leaves it: the tangent of a quarter of the arc's angle, 0 for a straight side,
positive where the arc turns anticlockwise."""

LAYERS: Final[tuple[Layer, ...]] = ("cut", "engrave", "reference")
"""What to cut, what to engrave, and what is only to be read."""

CAP_SHARE: Final = 0.718
"""Height of a capital letter to the size of the type, of Helvetica and its likes."""

_CHORDS: Final = 192
"""For an arc, where areas are compared: half a turn of 20 mm is 0.7 micrometres off then."""


@dataclass(frozen=True)
class Contour:
    """A run of straight sides and arcs.

    Attributes
    ----------
    layer : {"cut", "engrave", "reference"}
    vertices : tuple of (x, y, bulge)
        In mm on the sheet, x to the right, y up.
    closed : bool
    filled : bool
    style : str
    name : str
        What it is, for whoever reads a file back.
    """

    layer: Layer
    vertices: tuple[Vertex, ...]
    closed: bool = True
    filled: bool = False
    style: Style = "outline"
    name: str = ""

    def sides(self) -> Iterator[tuple[Place, Place, float]]:
        """Start, end and bulge of each side.

        Returns
        -------
        iterator of (start, end, bulge)
        """
        ends = self.vertices[1:] + (self.vertices[:1] if self.closed else ())
        for (x, y, bulge), (to_x, to_y, _) in zip(self.vertices, ends, strict=False):
            yield (x, y), (to_x, to_y), bulge


@dataclass(frozen=True)
class Circle:
    """A full circle: layer, centre and radius in mm on the sheet, style, and what it is."""

    layer: Layer
    centre: Place
    radius: float
    style: Style = "outline"
    name: str = ""


@dataclass(frozen=True)
class Text:
    """Words on the sheet.

    Attributes
    ----------
    layer : {"cut", "engrave", "reference"}
    at : (x, y)
        In mm: left end, middle or right end of the base line, as `align` says.
    height : float
        Of capitals and numerals, in mm.
    words : str
    align : {"left", "middle", "right"}
    turned : float
        In deg, anticlockwise.
    bold : bool
    """

    layer: Layer
    at: Place
    height: float
    words: str
    align: Literal["left", "middle", "right"] = "left"
    turned: float = 0.0
    bold: bool = False


Shape: TypeAlias = "Contour | Circle | Text"


@dataclass(frozen=True)
class Drawing:
    """A sheet at full size.

    Attributes
    ----------
    title : str
    size : (width, height)
        Of the sheet, in mm.
    shapes : tuple of Contour, Circle and Text
        Everything on it, once.
    web : float
        Least material between two contours that are cut, in mm.
    warnings : tuple of str
        What a maker should look at before cutting; printed on the sheet too.
    """

    title: str
    size: Place
    shapes: tuple[Shape, ...]
    web: float
    warnings: tuple[str, ...] = field(default=())

    def on(self, layer: Layer) -> tuple[Shape, ...]:
        """The shapes of one layer.

        Parameters
        ----------
        layer : {"cut", "engrave", "reference"}

        Returns
        -------
        tuple of Contour, Circle and Text
        """
        return tuple(shape for shape in self.shapes if shape.layer == layer)


def arc_of(start: Place, end: Place, bulge: float) -> tuple[Place, float, float, float]:
    """The circle of a bulged side.

    Parameters
    ----------
    start, end : (x, y)
    bulge : float
        Not zero.

    Returns
    -------
    centre, radius, angle of the start in deg, angle swept in deg
        Anticlockwise positive.

    Examples
    --------
    >>> from strutsweep.drawings.geometry import arc_of
    >>> centre, radius, first, swept = arc_of((1.0, 0.0), (-1.0, 0.0), 1.0)
    >>> round(radius, 9), round(first, 9), round(swept, 9)
    (1.0, 0.0, 180.0)
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    radius = chord * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    # From the middle of the chord, square to it; to the left of it for a bulge below 1.
    away = chord * (1.0 - bulge * bulge) / (4.0 * bulge)
    centre = (start[0] + dx / 2.0 - away * dy / chord, start[1] + dy / 2.0 + away * dx / chord)
    first = math.degrees(math.atan2(start[1] - centre[1], start[0] - centre[0]))
    return centre, radius, first, math.degrees(4.0 * math.atan(bulge))


def line(layer: Layer, start: Place, end: Place, style: Style = "thin", name: str = "") -> Contour:
    """A straight line."""
    return Contour(layer, ((*start, 0.0), (*end, 0.0)), closed=False, style=style, name=name)


def box(layer: Layer, low: Place, high: Place, style: Style = "thin") -> Contour:
    """An upright rectangle."""
    corners = ((low[0], low[1], 0.0), (high[0], low[1], 0.0), (high[0], high[1], 0.0), (low[0], high[1], 0.0))
    return Contour(layer, corners, style=style)


def stadium(layer: Layer, first: Place, second: Place, width: float, name: str) -> Contour | Circle:
    """A slot with full-radius ends about two centres; a round hole where they coincide."""
    dx, dy = second[0] - first[0], second[1] - first[1]
    length = math.hypot(dx, dy)
    radius = width / 2.0
    if length < 1e-9:
        return Circle(layer, first, radius, name=name)
    nx, ny = -dy / length * radius, dx / length * radius
    return Contour(
        layer,
        (
            (first[0] - nx, first[1] - ny, 0.0),
            (second[0] - nx, second[1] - ny, 1.0),
            (second[0] + nx, second[1] + ny, 0.0),
            (first[0] + nx, first[1] + ny, 1.0),
        ),
        name=name,
    )


def grown_hull(layer: Layer, points: Sequence[Place], radius: float, name: str) -> Contour | Circle:
    """The line that a taut string takes around discs of one radius about points: straight sides and rounded corners."""
    import shapely

    hull = shapely.MultiPoint(points).convex_hull
    if not isinstance(hull, shapely.Polygon):
        ends = [(float(x), float(y)) for x, y in hull.coords]
        return stadium(layer, ends[0], ends[-1], 2.0 * radius, name)
    ring = list(shapely.geometry.polygon.orient(hull).exterior.coords)[:-1]
    vertices: list[Vertex] = []
    for i, (x, y, *_) in enumerate(ring):
        before, after = ring[i - 1], ring[(i + 1) % len(ring)]
        came = math.atan2(y - before[1], x - before[0]) - math.pi / 2.0
        goes = math.atan2(after[1] - y, after[0] - x) - math.pi / 2.0
        swept = (goes - came) % (2.0 * math.pi)
        vertices.append((x + radius * math.cos(came), y + radius * math.sin(came), math.tan(swept / 4.0)))
        vertices.append((x + radius * math.cos(goes), y + radius * math.sin(goes), 0.0))
    return Contour(layer, tuple(vertices), name=name)


def polygon_of(shape: Contour | Circle) -> Polygon:
    """A closed shape as a polygon, arcs as many chords."""
    import shapely

    if isinstance(shape, Circle):
        return shapely.Point(shape.centre).buffer(shape.radius, quad_segs=_CHORDS)
    points: list[Place] = []
    for start, end, bulge in shape.sides():
        points.append(start)
        if bulge:
            centre, radius, first, swept = arc_of(start, end, bulge)
            for step in range(1, _CHORDS):
                angle = math.radians(first + swept * step / _CHORDS)
                points.append((centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)))
    return shapely.Polygon(points)


def extent_of(shape: Shape) -> Any:
    """About where a shape is, as an area."""
    import shapely

    if isinstance(shape, Text):
        width = width_of(shape.words, shape.height, bold=shape.bold)
        start = {"left": 0.0, "middle": -width / 2.0, "right": -width}[shape.align]
        written = shapely.box(start, 0.0, start + width, shape.height)
        turned = shapely.affinity.rotate(written, shape.turned, origin=(0.0, 0.0))
        return shapely.affinity.translate(turned, *shape.at)
    if isinstance(shape, Circle):
        return polygon_of(shape)
    return shapely.LineString([vertex[:2] for vertex in shape.vertices]).buffer(0.2)


def width_of(words: str, height: float, *, bold: bool = False) -> float:
    """How wide words are in mm, in Helvetica with capitals of this height in mm."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return float(stringWidth(words, "Helvetica-Bold" if bold else "Helvetica", height / CAP_SHARE))
