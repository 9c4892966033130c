"""The axle in space: one self-contained page for a browser, with sliders for travel, rack and roll."""

from __future__ import annotations

import html
import json
import math
import os
from pathlib import Path
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt

from strutsweep._core import Axle
from strutsweep._within import check_car, check_inputs, row
from strutsweep.errors import InputError
from strutsweep.plots.parts import DISC, in_the_body
from strutsweep.plots.selection import changed_input, held, sentences
from strutsweep.plots.sheet import BLUE, GREEN, INK, PENCIL, RED
from strutsweep.sweeping import sweep
from strutsweep.words import READINGS, SETTINGS, attributes

__all__ = ["save_three_dimensional"]

_MOST_FRAMES: Final = 1500
_SPOKES: Final = 36
_TYRE_WIDTH_MM: Final = 180.0
_SIDES: Final = ("left", "right")
_SHOWN: Final = (
    "camber",
    "toe",
    "caster",
    "kingpin_inclination",
    "scrub_radius",
    "mechanical_trail",
    "strut_compression",
)
_PLACES: Final = (
    "ball_joint",
    "strut_top",
    "strut_low",
    "tie_rod_inner",
    "tie_rod_outer",
    "wheel_centre",
    "contact_centre",
    "steering_axis_at_ground",
)
_GAP: Final = [math.nan] * 3
_PARTS: Final[tuple[tuple[str, str, float, str], ...]] = (
    ("lower arm", BLUE, 7.0, "solid"),
    ("strut", INK, 8.0, "solid"),
    ("tie rod", GREEN, 6.0, "solid"),
    ("steering axis", RED, 4.0, "dashdot"),
    ("knuckle (schematic)", PENCIL, 4.0, "solid"),
    ("wheel", DISC, 4.0, "solid"),
    ("ground", PENCIL, 2.0, "solid"),
)
_GROUND_MM: Final = (380.0, 160.0)
"""How far the ground is drawn before and behind the contact centres, and beside them."""

Rows: TypeAlias = list[list[float]]
Vector: TypeAlias = npt.NDArray[np.float64]
Arrays: TypeAlias = dict[str, npt.NDArray[np.float64]]


def save_three_dimensional(
    car: Axle,
    path: str | os.PathLike[str],
    *,
    travel: npt.ArrayLike = (-60.0, -40.0, -20.0, 0.0, 20.0, 40.0, 60.0),
    rack: npt.ArrayLike | None = None,
    roll: npt.ArrayLike = (0.0,),
    **settings: float,
) -> Path:
    """Write the axle as an interactive page in space, in one file that needs no network.

    Three sliders choose travel of both wheels, rack and roll; the drawing turns and zooms with the mouse, and a table
    tells the main readings of either wheel. The wheels are cylinders of the loaded radius; the knuckle's shape is
    schematic. A pose out of reach is left out of the drawing, and the table says so.

    Parameters
    ----------
    car : Axle
    path : path
        Where to; it ends in ``.html``. A file of that name is replaced.
    travel : array
        Positions of the travel slider, in mm, ascending.
    rack : array, optional
        Positions of the rack slider, in mm, ascending; thirteen from stop to stop unless given.
    roll : array
        Positions of the roll slider, in deg, ascending.
    **settings : float
        As `Corner.solve` takes them, the same on both sides.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    InputError
        Another ending, a slider without positions or not ascending, more than 1500 positions together, or plotly is not
        there to be used.
    OSError
        The file cannot be written.

    Examples
    --------
    >>> import pathlib, tempfile, strutsweep as ss
    >>> from strutsweep import plots
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = pathlib.Path(folder, "axle.html")
    ...     page = plots.save_three_dimensional(ss.demo("gravel_hatch"), path, rack=[-30, 0, 30])
    ...     page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    True
    """
    check_car("save_three_dimensional", car)
    target = Path(path)
    if target.suffix.lower() != ".html":
        raise InputError(f"path: {target.name!r} does not end in .html", name="path", value=str(target))
    check_inputs(settings, SETTINGS)
    stroke = car.rack["stroke"] or 60.0
    sliders = {
        "travel": _positions("travel", travel),
        "rack": _positions("rack", np.linspace(-stroke, stroke, 13) if rack is None else rack),
        "roll": _positions("roll", roll),
    }
    count = math.prod(values.size for values in sliders.values())
    if count > _MOST_FRAMES:
        raise InputError(f"{count} positions are more than {_MOST_FRAMES}: take fewer", name="travel", value=count)
    target.write_text(_page(car, sliders, settings), encoding="utf-8")
    return target


def _positions(name: str, values: npt.ArrayLike) -> npt.NDArray[np.float64]:
    array = row(name, values)
    if not array.size or (np.diff(array) <= 0.0).any():
        raise InputError(f"{name}: positions of a slider are numbers, ascending", name=name, value=values)
    return array


def _page(car: Axle, sliders: dict[str, npt.NDArray[np.float64]], settings: dict[str, Any]) -> str:
    try:
        from plotly import graph_objects
        from plotly.io import to_html
    except ImportError:
        raise InputError("a view in space needs plotly: pip install 'strutsweep[view]'", name="path") from None
    wanted: dict[str, Any] = {**sliders, **settings}
    ds = sweep(car, **wanted, readings=list(_SHOWN), places=list(_PLACES))
    ds = ds.transpose("travel", "rack", "roll", "side", "xyz")
    middle = [int(np.argmin(np.abs(values))) for values in sliders.values()]
    # Arrays once: a frame takes cells of them.
    arrays = {name: ds[name].values for name in (*_SHOWN, *_PLACES, "status")}
    body = _arms(car, sliders["roll"])
    frames, tables = [], []
    for index in np.ndindex(*(values.size for values in sliders.values())):
        lines = [_part_lines(car, arrays, body, index, part) for part, *_ in _PARTS]
        frames.append([_flat(rows) for rows in lines])
        tables.append(_table(arrays, index))
    first = int(np.ravel_multi_index(middle, [values.size for values in sliders.values()]))
    figure = graph_objects.Figure(
        [
            graph_objects.Scatter3d(
                x=frames[first][i][0],
                y=frames[first][i][1],
                z=frames[first][i][2],
                mode="lines",
                name=part,
                line={"color": colour, "width": width, "dash": dash},
                hoverinfo="name",
            )
            for i, (part, colour, width, dash) in enumerate(_PARTS)
        ]
    )
    ends = [
        np.array([v for frame in frames for line in frame for v in line[axis] if v is not None]) for axis in range(3)
    ]
    ranges = [[float(values.min()) - 60.0, float(values.max()) + 60.0] for values in ends]
    spans = [high - low for low, high in ranges]
    names = ("X (mm), + forward", "Y (mm), + left", "Z (mm), + up")
    scene: dict[str, Any] = {
        f"{axis}axis": {"title": {"text": name}, "range": span, "backgroundcolor": "white", "gridcolor": "#d8dce1"}
        for axis, name, span in zip("xyz", names, ranges, strict=True)
    }
    scene["aspectmode"] = "manual"
    scene["aspectratio"] = {axis: span / max(spans) * 1.6 for axis, span in zip("xyz", spans, strict=True)}
    scene["camera"] = {"eye": {"x": 1.65, "y": 1.0, "z": 0.7}, "center": {"x": 0.0, "y": 0.0, "z": -0.12}}
    figure.update_layout(
        scene=scene,
        margin={"l": 0, "r": 0, "t": 0, "b": 0},
        legend={"x": 0.01, "y": 0.99, "bgcolor": "rgba(255,255,255,0.8)"},
        paper_bgcolor="white",
        uirevision="kept",
    )
    drawing = to_html(
        figure,
        full_html=False,
        include_plotlyjs=True,
        div_id="drawing",
        default_height="100%",
        config={"displaylogo": False, "responsive": True},
    )
    data = {
        "sliders": {name: values.tolist() for name, values in sliders.items()},
        "units": {name: attributes(name)["units"] for name in sliders},
        "start": middle,
        "frames": frames,
        "tables": tables,
    }
    controls = "\n".join(_control(name, values, middle[i]) for i, (name, values) in enumerate(sliders.items()))
    said = [held(ds.attrs["held"], ds.attrs["travel_at"])]
    said += sentences({name: changed_input(name, value) for name, value in settings.items() if value})
    return _PAGE.format(
        title=html.escape(f"{car.name}, both corners in space"),
        note=html.escape(" ".join(said)),
        controls=controls,
        drawing=drawing,
        # "</" would end the script that holds the data.
        data=json.dumps(data, allow_nan=False).replace("</", "<\\/"),
        heads="".join(f"<th>{side}</th>" for side in _SIDES),
        rows="".join(
            f"<tr><td>{READINGS[name]['long_name']} ({READINGS[name]['units']})"
            f"<br><small>+ {READINGS[name]['positive']}</small>"
            f'</td><td id="left-{name}"></td><td id="right-{name}"></td></tr>'
            for name in _SHOWN
        ),
    )


def _control(name: str, values: npt.NDArray[np.float64], middle: int) -> str:
    words = attributes(name)
    hidden = ' style="display:none"' if values.size == 1 and values[0] == 0.0 else ""
    return (
        f'<label{hidden}>{words["long_name"]} <output id="{name}-shown"></output> <small>+ {words["positive"]}</small>'
        f'<input type="range" id="{name}" min="0" max="{values.size - 1}" value="{middle}" step="1"></label>'
    )


def _table(arrays: Arrays, index: tuple[int, ...]) -> dict[str, dict[str, str]]:
    shown: dict[str, dict[str, str]] = {}
    for i, side in enumerate(_SIDES):
        lost = bool(arrays["status"][(*index, i)])
        shown[side] = {name: "out of reach" if lost else _signed(float(arrays[name][(*index, i)])) for name in _SHOWN}
    return shown


def _signed(value: float) -> str:
    """Two decimals with a sign; none before zero."""
    text = f"{value:+.2f}"
    return "0.00" if float(text) == 0.0 else text.replace("-", "\u2212")


def _arms(car: Axle, rolls: npt.NDArray[np.float64]) -> list[list[tuple[Vector, Vector]]]:
    """The arms' inner pivots as the body carries them, by roll and side: front, rear."""
    return [
        [
            (in_the_body(corner, corner.point("arm_front"), roll), in_the_body(corner, corner.point("arm_rear"), roll))
            for corner in (car.left, car.right)
        ]
        for roll in rolls.tolist()
    ]


def _flat(rows: Rows) -> list[list[float | None]]:
    """Coordinates along X, Y and Z, to a tenth of a millimetre; nothing where a line is broken."""
    return [[None if math.isnan(row[axis]) else round(row[axis], 1) for row in rows] for axis in range(3)]


def _part_lines(
    car: Axle, arrays: Arrays, body: list[list[tuple[Vector, Vector]]], index: tuple[int, ...], part: str
) -> Rows:
    if part == "ground":
        return _ground_lines(arrays, index)
    rows: Rows = []
    for i, corner in enumerate((car.left, car.right)):
        cell = {name: arrays[name][(*index, i)] for name in _PLACES}
        if not np.isfinite(cell["ball_joint"]).all():
            continue
        front, rear = body[index[2]][i]
        ball, top, low = cell["ball_joint"], cell["strut_top"], cell["strut_low"]
        lines: list[list[Vector]]
        match part:
            case "lower arm":
                lines = [[front, ball, rear, front]]
            case "strut":
                lines = [[low, top]]
            case "tie rod":
                lines = [[cell["tie_rod_inner"], cell["tie_rod_outer"]]]
            case "steering axis":
                lines = [[top, cell["steering_axis_at_ground"]]]
            case "wheel":
                toe, camber = (math.radians(float(arrays[name][(*index, i)])) for name in ("toe", "camber"))
                width = car.envelope["tyre_width"] or _TYRE_WIDTH_MM
                lines = _wheel_lines(cell["wheel_centre"], camber, toe, _SIDES[i], corner.wheel_radius, width)
            case _:
                lines = [[ball, low, cell["wheel_centre"], ball, cell["tie_rod_outer"], cell["wheel_centre"]]]
        for line in lines:
            rows.extend(np.asarray(line).tolist())
            rows.append(_GAP)
    return rows


def _ground_lines(arrays: Arrays, index: tuple[int, ...]) -> Rows:
    """A frame on the ground and a line across it, through the contact centres that are reached."""
    contacts = np.array([at for at in arrays["contact_centre"][index] if np.isfinite(at).all()])
    if not contacts.size:
        return []
    x, z = float(contacts[:, 0].mean()), float(contacts[:, 2].mean())
    aside = float(np.abs(contacts[:, 1]).max()) + _GROUND_MM[1]
    low, high = x - _GROUND_MM[0], x + _GROUND_MM[0]
    frame = [[low, -aside, z], [high, -aside, z], [high, aside, z], [low, aside, z], [low, -aside, z], _GAP]
    return [*frame, [x, -aside, z], [x, aside, z], _GAP]


def _wheel_lines(
    centre: npt.NDArray[np.float64], camber: float, toe: float, side: str, radius: float, width: float
) -> list[list[Vector]]:
    """Two rims and some lines across the tread."""
    outboard = 1.0 if side == "left" else -1.0
    spin = np.array([math.cos(camber) * math.sin(toe), outboard * math.cos(camber) * math.cos(toe), -math.sin(camber)])
    up = np.array([0.0, 0.0, 1.0]) - spin[2] * spin
    up /= np.linalg.norm(up)
    forward = np.cross(up, spin)
    angles = np.linspace(0.0, 2.0 * math.pi, _SPOKES + 1)
    rims = [
        [centre + way * 0.5 * width * spin + radius * (math.cos(a) * up + math.sin(a) * forward) for a in angles]
        for way in (-1.0, 1.0)
    ]
    treads = [[rims[0][i], rims[1][i]] for i in range(0, _SPOKES, 3)]
    return [*rims, *treads]


_PAGE: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>
  body {{ margin: 0; font: 14px system-ui, sans-serif; color: #1f2328; display: grid; height: 100vh;
         grid-template: auto 1fr / minmax(270px, 330px) 1fr; }}
  header {{ grid-column: 1 / 3; padding: 10px 16px 4px; }}
  h1 {{ font-size: 18px; margin: 0; }}
  header p {{ margin: 2px 0 0; color: #5c6570; }}
  aside {{ padding: 8px 16px; overflow: auto; }}
  label {{ display: block; margin: 6px 0 12px; }}
  input {{ width: 100%; }}
  output {{ font-weight: 600; font-variant-numeric: tabular-nums; }}
  small {{ color: #5c6570; }}
  table {{ border-collapse: collapse; width: 100%; margin-top: 10px; }}
  td, th {{ border-top: 1px solid #d8dce1; padding: 4px 6px; text-align: right; font-variant-numeric: tabular-nums;
           vertical-align: top; }}
  td:first-child, th:first-child {{ text-align: left; }}
  main {{ min-height: 300px; min-width: 0; }}
  main > div {{ height: 100%; }}
</style>
</head>
<body>
<header><h1>{title}</h1><p>{note} Drag to turn, scroll to zoom. Rigid geometry: rubber and bearings give.</p></header>
<aside>
{controls}
<table><thead><tr><th>reading</th>{heads}</tr></thead><tbody>{rows}</tbody></table>
</aside>
<main>{drawing}</main>
<script>
const car = {data};
const names = Object.keys(car.sliders);
function show() {{
  let place = 0;
  for (const name of names) {{
    const at = Number(document.getElementById(name).value);
    place = place * car.sliders[name].length + at;
    const value = car.sliders[name][at];
    document.getElementById(name + "-shown").textContent =
      (value > 0 ? "+" : value < 0 ? "\\u2212" : "") + Math.abs(Number(value.toFixed(2))) + " " + car.units[name];
  }}
  const frame = car.frames[place];
  Plotly.restyle("drawing", {{ x: frame.map(p => p[0]), y: frame.map(p => p[1]), z: frame.map(p => p[2]) }});
  for (const [side, readings] of Object.entries(car.tables[place])) {{
    for (const [name, text] of Object.entries(readings)) document.getElementById(side + "-" + name).textContent = text;
  }}
  document.body.dataset.place = place;
}}
for (const name of names) document.getElementById(name).addEventListener("input", show);
show();
</script>
</body>
</html>
"""
