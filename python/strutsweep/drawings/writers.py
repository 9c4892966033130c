"""A drawing into files: DXF in millimetres, SVG and PDF at full size, all from the same shapes."""

from __future__ import annotations

import io
from collections.abc import Callable
from os import PathLike
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

from strutsweep.drawings.geometry import CAP_SHARE, LAYERS, Circle, Drawing, Layer, Shape, Text, arc_of
from strutsweep.errors import InputError

__all__ = ["FORMS", "save"]

COLOURS: Final[dict[Layer, tuple[str, int]]] = {
    "cut": ("#c8102e", 1),
    "engrave": ("#1f4e9e", 5),
    "reference": ("#202428", 7),
}
"""As a web colour, and as a number of the DXF palette: red, blue, black."""
WIDTHS_MM: Final = {"outline": 0.5, "thin": 0.18, "chain": 0.18, "dashed": 0.25, "frame": 0.7}
DASHES_MM: Final = {"chain": (8.0, 1.5, 0.8, 1.5), "dashed": (3.0, 1.5)}
_POINTS_PER_MM: Final = 72.0 / 25.4
_DASHES_RUN_ON: Final = 128
"""Flag of a DXF polyline whose dashes run on through its vertices."""


def save(drawing: Drawing, path: str | PathLike[str]) -> Path:
    """Write a drawing in the form that the file's name asks for.

    Parameters
    ----------
    drawing : Drawing
    path : str or path
        ``.dxf`` (millimetres; layers ``cut``, ``engrave`` and ``reference``), ``.svg`` (full size, its units are mm) or
        ``.pdf`` (full size, with a 100 mm bar to measure).

    Returns
    -------
    path
        Where it was written.

    Raises
    ------
    InputError
        Another ending, or a file that cannot be written.

    Examples
    --------
    >>> import pathlib, tempfile, strutsweep as ss
    >>> from strutsweep import drawings
    >>> car = ss.demo("gravel_hatch")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = drawings.save(drawings.plate_drawing(car.left, car.top_plate), pathlib.Path(folder) / "plate.dxf")
    ...     path.stat().st_size > 1000
    True
    """
    target = Path(path)
    write = FORMS.get(target.suffix.lower())
    if write is None:
        raise InputError(f"path = {str(target)!r}: drawings are .dxf, .svg or .pdf", name="path", value=str(target))
    content = write(drawing)
    try:
        target.write_bytes(content)
    except OSError as error:
        raise InputError(f"path = {str(target)!r}: {error.strerror}", name="path", value=str(target)) from None
    return target


def _dxf(drawing: Drawing) -> bytes:
    from ezdxf.document import Drawing as Document
    from ezdxf.enums import TextEntityAlignment
    from ezdxf.tools.standards import setup_drawing
    from ezdxf.units import MM

    document = Document.new("R2010")
    setup_drawing(document, topics=["styles"])
    for style, dashes in DASHES_MM.items():
        pattern = [dash if i % 2 == 0 else -dash for i, dash in enumerate(dashes)]
        document.linetypes.add(style.upper(), [sum(dashes), *pattern], description=f"{style}, dashes in mm")
    document.units = MM
    document.header["$MEASUREMENT"] = 1
    document.styles.get("Standard").dxf.font = "arial.ttf"
    for layer in LAYERS:
        document.layers.add(layer, color=COLOURS[layer][1])
    space = document.modelspace()
    align = {
        "left": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "right": TextEntityAlignment.RIGHT,
    }
    for shape in drawing.shapes:
        attributes: dict[str, Any] = {"layer": shape.layer}
        if isinstance(shape, Text):
            text = space.add_text(shape.words, height=shape.height, rotation=shape.turned, dxfattribs=attributes)
            text.set_placement(shape.at, align=align[shape.align])
            continue
        if shape.style in DASHES_MM:
            attributes |= {"linetype": shape.style.upper()}
        if isinstance(shape, Circle):
            space.add_circle(shape.centre, shape.radius, dxfattribs=attributes)
        elif shape.filled:
            hatch = space.add_hatch(color=COLOURS[shape.layer][1], dxfattribs=attributes)
            hatch.paths.add_polyline_path([vertex[:2] for vertex in shape.vertices], is_closed=True)
        elif len(shape.vertices) == 2 and not shape.closed:
            space.add_line(shape.vertices[0][:2], shape.vertices[1][:2], dxfattribs=attributes)
        else:
            polyline = space.add_lwpolyline(shape.vertices, format="xyb", close=shape.closed, dxfattribs=attributes)
            if shape.style in DASHES_MM:
                # Dashes run on through the vertices of a curve, instead of beginning anew at each.
                polyline.set_flag_state(_DASHES_RUN_ON, True)
    document.header["$EXTMIN"] = (0.0, 0.0, 0.0)
    document.header["$EXTMAX"] = (*drawing.size, 0.0)
    document.set_modelspace_vport(height=drawing.size[1] * 1.05, center=(drawing.size[0] / 2.0, drawing.size[1] / 2.0))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def _number(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _svg(drawing: Drawing) -> bytes:
    width, height = (_number(side) for side in drawing.size)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm"'
        f' viewBox="0 0 {width} {height}">',
        f"<title>{escape(drawing.title)}</title>",
    ]
    for layer in LAYERS:
        colour = COLOURS[layer][0]
        lines.append(f'<g id="{layer}" stroke="{colour}" fill="none" stroke-linecap="round" stroke-linejoin="round">')
        lines.extend(_svg_shape(shape, drawing.size[1], colour) for shape in drawing.on(layer))
        lines.append("</g>")
    lines.append("</svg>")
    return ("\n".join(lines) + "\n").encode()


def _svg_shape(shape: Shape, height: float, colour: str) -> str:
    def at(place: tuple[float, float]) -> str:
        return f"{_number(place[0])} {_number(height - place[1])}"

    if isinstance(shape, Text):
        anchor = {"left": "start", "middle": "middle", "right": "end"}[shape.align]
        x, y = at(shape.at).split()
        turned = f' transform="rotate({_number(-shape.turned)} {x} {y})"' if shape.turned else ""
        weight = ' font-weight="bold"' if shape.bold else ""
        size = _number(shape.height / CAP_SHARE)
        return (
            f'<text x="{x}" y="{y}" font-family="Helvetica, Arial, sans-serif" font-size="{size}"{weight} stroke="none"'
            f' fill="{colour}" text-anchor="{anchor}"{turned}>{escape(shape.words)}</text>'
        )
    look = f'stroke-width="{WIDTHS_MM[shape.style]}"'
    if shape.style in DASHES_MM:
        look += f' stroke-dasharray="{" ".join(_number(dash) for dash in DASHES_MM[shape.style])}"'
    if shape.name:
        look += f' data-name="{escape(shape.name)}"'
    if isinstance(shape, Circle):
        x, y = at(shape.centre).split()
        return f'<circle cx="{x}" cy="{y}" r="{_number(shape.radius)}" {look}/>'
    path = [f"M {at(shape.vertices[0][:2])}"]
    for start, end, bulge in shape.sides():
        if bulge:
            _, radius, _, swept = arc_of(start, end, bulge)
            large = int(abs(swept) > 180.0)
            # Up is down in SVG: what turns anticlockwise on the sheet has sweep flag 0.
            path.append(f"A {_number(radius)} {_number(radius)} 0 {large} {int(swept < 0.0)} {at(end)}")
        else:
            path.append(f"L {at(end)}")
    if shape.closed:
        path.append("Z")
    fill = f' fill="{colour}"' if shape.filled else ""
    return f'<path d="{" ".join(path)}" {look}{fill}/>'


def _pdf(drawing: Drawing) -> bytes:
    from reportlab.lib.colors import HexColor  # type: ignore[import-untyped,unused-ignore]
    from reportlab.pdfgen.canvas import Canvas  # type: ignore[import-untyped,unused-ignore]

    stream = io.BytesIO()
    size = (drawing.size[0] * _POINTS_PER_MM, drawing.size[1] * _POINTS_PER_MM)
    # The same drawing gives the same bytes: no date, no random name.
    canvas = Canvas(stream, pagesize=size, invariant=1)
    canvas.setTitle(drawing.title)
    canvas.setAuthor("strutsweep")
    # A viewer that scales to the paper would make every part the wrong size.
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.scale(_POINTS_PER_MM, _POINTS_PER_MM)
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for layer in reversed(LAYERS):
        colour = HexColor(COLOURS[layer][0])
        canvas.setStrokeColor(colour)
        canvas.setFillColor(colour)
        for shape in drawing.on(layer):
            _pdf_shape(canvas, shape)
    canvas.save()
    return stream.getvalue()


def _pdf_shape(canvas: Any, shape: Shape) -> None:
    if isinstance(shape, Text):
        canvas.saveState()
        canvas.translate(*shape.at)
        canvas.rotate(shape.turned)
        canvas.setFont("Helvetica-Bold" if shape.bold else "Helvetica", shape.height / CAP_SHARE)
        draw = {
            "left": canvas.drawString,
            "middle": canvas.drawCentredString,
            "right": canvas.drawRightString,
        }[shape.align]
        draw(0.0, 0.0, shape.words)
        canvas.restoreState()
        return
    canvas.setLineWidth(WIDTHS_MM[shape.style])
    canvas.setDash(list(DASHES_MM.get(shape.style, ())))
    if isinstance(shape, Circle):
        canvas.circle(*shape.centre, shape.radius, stroke=1, fill=0)
        return
    path = canvas.beginPath()
    path.moveTo(*shape.vertices[0][:2])
    for start, end, bulge in shape.sides():
        if bulge:
            (x, y), radius, first, swept = arc_of(start, end, bulge)
            path.arcTo(x - radius, y - radius, x + radius, y + radius, first, swept)
        else:
            path.lineTo(*end)
    if shape.closed:
        path.close()
    canvas.drawPath(path, stroke=int(not shape.filled), fill=int(shape.filled))


FORMS: Final[dict[str, Callable[[Drawing], bytes]]] = {".dxf": _dxf, ".svg": _svg, ".pdf": _pdf}
"""What writes a drawing, by the ending of the file's name."""
