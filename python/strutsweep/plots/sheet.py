"""What all figures share: the sheet they are drawn on, its header and foot, colours, sizes, numbers in print, files."""

from __future__ import annotations

import io
import os
import re
import threading
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final, Literal

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.legend import Legend
from matplotlib.textpath import text_to_path
from matplotlib.transforms import ScaledTranslation

from strutsweep.errors import InputError
from strutsweep.words import attributes

__all__ = [
    "Sheet",
    "renderer",
    "dress",
    "foot",
    "header",
    "header_height_in",
    "number",
    "name_with_unit",
    "panel_heading",
    "panel_heading_in",
    "positive_way",
    "save",
    "sheet",
    "text_width_in",
    "unit",
    "with_unit",
    "wrapped",
]

INK: Final = "#1f2328"
"""Text and axes."""
PENCIL: Final = "#5c6570"
"""Whatever helps to read and should not be seen first: signs, notes, ticks."""
FAINT: Final = "#d8dce1"
"""Grid lines."""
SHADE: Final = "#eceef1"
"""Where nothing is reached."""
PAPER: Final = "white"

# Okabe and Ito's colours, which the colour-blind tell apart.
BLUE: Final = "#0072b2"
GREEN: Final = "#009e73"
RED: Final = "#d55e00"
PURPLE: Final = "#a8467f"

# Line order: lightness falls steadily, also for the colour-blind and in grey. The palest end of the map is left out.
ORDERED: Final = LinearSegmentedColormap.from_list(
    "ordered", mpl.colormaps["viridis"]([0.0, 0.11, 0.22, 0.33, 0.44, 0.55, 0.66, 0.77, 0.86])
)
# Fill of a map: the same order in pale, so that labels and contours stand out on it.
PALE: Final = LinearSegmentedColormap.from_list("pale", ["#a9c7dd", "#c9dbe6", "#e6ecea", "#f4efd9", "#f7e3b0"])

TITLE_PT: Final = 12.0
LABEL_PT: Final = 9.5
TICK_PT: Final = 8.5
NOTE_PT: Final = 8.5

SMALL: Final[dict[str, Any]] = {"fontsize": TICK_PT, "fontweight": "normal", "color": PENCIL}
"""Words that stay in the background."""
ARROW: Final[dict[str, Any]] = {
    "arrowstyle": "-|>",
    "mutation_scale": 9.0,
    "color": PENCIL,
    "linewidth": 1.0,
    "shrinkA": 0.0,
    "shrinkB": 0.0,
}
PLAIN: Final[dict[str, Any]] = {"linestyle": "-", "marker": ""}
"""A line that is drawn through and bears no marks, whatever Matplotlib's defaults are set to."""

MARGIN_IN: Final = 0.14
"""White border of a sheet."""
_HEADING_GAP_PT: Final = 5.0
_LINE_SPACING: Final = 1.32
_POINTS_PER_INCH: Final = 72.0
_HINTING: Final = 1.04
"""Letters set on a screen's pixels are up to this much wider than drawn."""
_SCREEN_DPI: Final = 100.0
_NOTEBOOK_SHARPNESS: Final = 2
"""A notebook gets this many pixels for each one of the screen's, so that text stays sharp on any screen."""

_BREAK: Final = re.compile(r"(?<!\+) (?!mm\b|deg\b)")
"""Where a line may end."""

_SAVING: Final = threading.Lock()


class Sheet(Figure):
    """A figure that shows itself in a notebook, though pyplot does not know it."""

    def _repr_png_(self) -> tuple[bytes, dict[str, int]]:
        buffer = io.BytesIO()
        self.savefig(buffer, format="png", dpi=_NOTEBOOK_SHARPNESS * self.dpi, facecolor=self.get_facecolor())
        width_in, height_in = self.get_size_inches()
        return buffer.getvalue(), {"width": round(width_in * self.dpi), "height": round(height_in * self.dpi)}


def sheet(width_in: float, *, layout: Literal["constrained", "none"] = "none") -> Sheet:
    """An empty sheet of this width; its height is set once its contents are known."""
    figure = Sheet(figsize=(width_in, width_in), dpi=_SCREEN_DPI, facecolor=PAPER)
    figure.set_layout_engine(layout)
    FigureCanvasAgg(figure)
    return figure


def renderer(figure: Any) -> RendererAgg:
    """What can measure the text on a sheet, at its own pixels per inch."""
    canvas = figure.canvas if isinstance(figure.canvas, FigureCanvasAgg) else FigureCanvasAgg(figure)
    return canvas.get_renderer()  # type: ignore[no-untyped-call, no-any-return]


def header(figure: Figure, title: str, notes: Iterable[str], *, aside_in: float = 0.0) -> float:
    """Title and notes at the top left of a sheet whose size is final; gives the height that they take, in inches.

    `aside_in` inches at the right stay free.
    """
    width_in, height_in = figure.get_size_inches()
    for text, below_in, size, colour, weight in _header_lines(title, notes, width_in - aside_in):
        figure.text(
            MARGIN_IN / width_in,
            1.0 - below_in / height_in,
            text,
            fontsize=size,
            color=colour,
            fontweight=weight,
            va="top",
            ha="left",
            parse_math=False,
        )
    return header_height_in(title, notes, width_in, aside_in=aside_in)


def header_height_in(title: str, notes: Iterable[str], width_in: float, *, aside_in: float = 0.0) -> float:
    """The height that `header` will take on a sheet of this width, in inches."""
    *_, (_, below_in, size, _, _) = _header_lines(title, notes, width_in - aside_in)
    return below_in + _LINE_SPACING * size / _POINTS_PER_INCH + 0.06


def _header_lines(title: str, notes: Iterable[str], width_in: float) -> list[tuple[str, float, float, str, str]]:
    """Per line of a header its text, its top in inches below the sheet's edge, its size, colour and weight."""
    room_in = width_in - 2.0 * MARGIN_IN
    lines = []
    below_in = MARGIN_IN
    for text, size, colour, weight in (
        (title, TITLE_PT, INK, "bold"),
        (" ".join(notes), NOTE_PT + 0.5, PENCIL, "normal"),
    ):
        for line in wrapped(text, room_in, size, weight=weight):
            lines.append((line, below_in, size, colour, weight))
            below_in += _LINE_SPACING * size / _POINTS_PER_INCH
        below_in += 0.03
    return lines


def panels_between(figure: Figure, head_in: float, foot_in: float) -> None:
    """Let panels have the room between a header and a foot of these heights, in inches."""
    width_in, height_in = (float(size) for size in figure.get_size_inches())
    engine = figure.get_layout_engine()
    assert isinstance(engine, ConstrainedLayoutEngine)
    engine.set(
        rect=(
            MARGIN_IN / width_in,
            foot_in / height_in,
            1.0 - 2.0 * MARGIN_IN / width_in,
            1.0 - (head_in + foot_in) / height_in,
        ),
        w_pad=0.06,
        h_pad=0.1,
        wspace=0.04,
        hspace=0.06,
    )


def foot(figure: Figure, blocks: Sequence[tuple[Sequence[Any], Sequence[str], str | None, bool]]) -> float:
    """Legends stacked at the bottom left of a sheet; gives the height that they take, in inches.

    Each block is its handles, their labels, its heading, and whether its entries stand side by side.
    """
    width_in = float(figure.get_size_inches()[0])
    room_in = width_in - 2.0 * MARGIN_IN
    above_in = MARGIN_IN
    for handles, labels, heading, in_a_row in reversed(blocks):
        columns = _columns(labels, room_in) if in_a_row else 1
        lines = [label if columns > 1 else "\n".join(wrapped(label, room_in - 0.5, NOTE_PT)) for label in labels]
        # A legend fills column by column; readers go row by row.
        order = [index for column in range(columns) for index in range(column, len(lines), columns)]
        legend = Legend(
            figure,
            [handles[index] for index in order],
            [lines[index] for index in order],
            loc="lower left",
            bbox_to_anchor=(MARGIN_IN, above_in),
            bbox_transform=figure.dpi_scale_trans,
            ncols=columns,
            title=None if heading is None else "\n".join(wrapped(heading, room_in, NOTE_PT)),
            alignment="left",
            frameon=False,
            fontsize=NOTE_PT,
            title_fontsize=NOTE_PT,
            labelcolor=INK,
            borderaxespad=0.0,
            borderpad=0.1,
            handlelength=2.0,
            handletextpad=0.6,
            labelspacing=0.35,
            columnspacing=1.6,
        )
        legend.get_title().set_color(PENCIL)
        for text in (*legend.get_texts(), legend.get_title()):
            text.set_parse_math(False)
        figure.legends.insert(0, legend)
        figure.stale = True
        above_in += legend.get_window_extent(renderer(figure)).height / figure.dpi + 0.05
    return above_in + 0.03 if blocks else 0.0


def _columns(labels: Sequence[str], room_in: float) -> int:
    """How many legend entries fit side by side, all as wide as the widest."""
    entry_in = max(text_width_in(label, NOTE_PT) for label in labels) + (2.0 + 0.6 + 1.6) * NOTE_PT / _POINTS_PER_INCH
    return max(1, min(len(labels), int(room_in / entry_in)))


def dress(axes: Axes, *, grid: bool = True) -> None:
    """Give axes the look of the house, whatever Matplotlib's defaults are set to."""
    axes.set_facecolor(PAPER)
    axes.set_axisbelow(True)
    axes.grid(False)
    if grid:
        axes.grid(True, color=FAINT, linewidth=0.7, linestyle="-")
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_color(PENCIL)
        spine.set_linewidth(0.8)
    axes.tick_params(
        axis="both",
        which="both",
        direction="out",
        labelsize=TICK_PT,
        colors=PENCIL,
        labelcolor=INK,
        length=3.5,
        width=0.8,
        top=False,
        right=False,
    )
    axes.minorticks_off()


def panel_heading_in(name: str, room_in: float, *, aside: str = "") -> float:
    """The height that `panel_heading` takes above a panel, in inches."""
    heading, sign = _heading_lines(name, room_in, aside)
    return (_HEADING_GAP_PT + 1.25 * TICK_PT * len(sign) + 1.4 * LABEL_PT * len(heading)) / _POINTS_PER_INCH


def _heading_lines(name: str, room_in: float, aside: str) -> tuple[list[str], list[str]]:
    heading = wrapped(name_with_unit(name), room_in, LABEL_PT, weight="bold")
    return heading, wrapped(positive_way(name) + aside, room_in, TICK_PT)


def panel_heading(axes: Axes, name: str, room_in: float, *, as_label: bool, aside: str = "") -> None:
    """A reading's name and unit above a panel, and under it which way is positive, both flush with the axes.

    `as_label` makes the name the label of the upright axis, for panels whose upright axis is that reading.
    """
    heading, sign = _heading_lines(name, room_in, aside)
    axes.set_title("\n".join(sign), loc="left", pad=_HEADING_GAP_PT, linespacing=1.2, **SMALL)
    lift_pt = _HEADING_GAP_PT + 1.25 * TICK_PT * len(sign)
    style: dict[str, Any] = {
        "ha": "left",
        "va": "bottom",
        "multialignment": "left",
        "fontsize": LABEL_PT,
        "color": INK,
        "fontweight": "bold",
    }
    words = "\n".join(heading)
    if not as_label:
        axes.annotate(words, (0.0, 1.0), (0.0, lift_pt), "axes fraction", "offset points", **style)
        return
    figure = axes.get_figure(root=True)
    assert figure is not None
    axes.set_ylabel(words, rotation=0, **style)
    axes.yaxis.set_label_coords(
        0.0, 1.0, axes.transAxes + ScaledTranslation(0.0, lift_pt / _POINTS_PER_INCH, figure.dpi_scale_trans)
    )


def number(value: float, decimals: int | None = None, *, signed: bool = False) -> str:
    """A number in print: a true minus sign, no minus zero, a plus sign where wanted.

    Examples
    --------
    >>> from strutsweep.plots.sheet import number
    >>> number(-12.5), number(3.0, signed=True), number(-0.001, 1)
    ('\u221212.5', '+3', '0.0')
    """
    text = f"{value:.6g}" if decimals is None else f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    elif signed and value > 0.0:
        text = "+" + text
    return text.replace("-", "\u2212")


def unit(name: str) -> str:
    """The unit of a named quantity, in print."""
    units = attributes(name)["units"]
    return "no unit" if units == "1" else units


def with_unit(name: str, value: float, decimals: int | None = None, *, signed: bool = False) -> str:
    """A value of a named quantity with its unit, in print."""
    units = attributes(name)["units"]
    return number(value, decimals, signed=signed) + ("" if units == "1" else f" {units}")


def name_with_unit(name: str) -> str:
    """A named quantity in words, with its unit in brackets."""
    return f"{attributes(name)['long_name']} ({unit(name)})"


def positive_way(name: str) -> str:
    """Which way of a named quantity is positive, in a few words behind a plus sign."""
    way = attributes(name)["positive"]
    return way if way.startswith("never negative") else f"+ {way}"


def text_width_in(text: str, size_pt: float, *, weight: str = "normal") -> float:
    """Width of one line of text, in inches, at any number of pixels per inch."""
    font = FontProperties(size=size_pt, weight=weight)
    width_pt, _, _ = text_to_path.get_text_width_height_descent(text, font, ismath=False)
    return _HINTING * float(width_pt) / _POINTS_PER_INCH


def wrapped(text: str, room_in: float, size_pt: float, *, weight: str = "normal") -> list[str]:
    """The text in lines of at most this width; a word that is longer is cut.

    No line ends between a number and its unit, nor behind the plus sign that says which way is positive.
    """
    lines = [""]
    for word in _BREAK.split(" ".join(text.split())):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if text_width_in(longer, size_pt, weight=weight) <= room_in:
            lines[-1] = longer
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and text_width_in(lines[-1] + letter, size_pt, weight=weight) > room_in:
                lines.append("")
            lines[-1] += letter
    return lines


_METADATA: Final[dict[str, dict[str, Any]]] = {
    ".png": {},
    ".svg": {"Date": None},
    ".pdf": {"CreationDate": None},
}
"""File forms, and what is kept out of them so that the same figure gives the same bytes."""


def save(figure: Figure, path: str | os.PathLike[str], *, dpi: float = 150.0) -> Path:
    """Write a figure to a file: PNG, SVG or PDF, as the name's ending says.

    The same figure gives the same bytes, today and tomorrow: no date and no random name is written.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        What a function of this module returned, or any other figure.
    path : path
        Where to; it ends in ``.png``, ``.svg`` or ``.pdf``. A file of that name is replaced.
    dpi : float
        Pixels per inch of a PNG.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    InputError
        Another ending, or no positive `dpi`.
    OSError
        The file cannot be written.

    Examples
    --------
    >>> import tempfile, pathlib, strutsweep as ss
    >>> from strutsweep import plots
    >>> figure = plots.three_views(ss.demo("gravel_hatch").left)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     plots.save(figure, pathlib.Path(folder, "corner.svg")).name
    'corner.svg'
    """
    target = Path(path)
    ending = target.suffix.lower()
    if ending not in _METADATA:
        known = ", ".join(_METADATA)
        raise InputError(f"path: {target.name!r} ends in none of {known}", name="path", value=str(target))
    if not dpi > 0.0:
        raise InputError(f"dpi = {dpi!r} is not above 0", name="dpi", value=dpi)
    # The salt of an SVG's names can be set only in this table of the whole process; the key is put back at once.
    with _SAVING:
        salt = mpl.rcParams["svg.hashsalt"]
        mpl.rcParams["svg.hashsalt"] = "strutsweep"
        try:
            figure.savefig(
                target, format=ending[1:], dpi=dpi, facecolor=figure.get_facecolor(), metadata=_METADATA[ending]
            )
        finally:
            mpl.rcParams["svg.hashsalt"] = salt
    return target
