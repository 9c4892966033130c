"""A work order as a PDF, to print."""

from __future__ import annotations

from collections.abc import Sequence
from os import PathLike
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, KeepTogether, PageTemplate, Paragraph, Spacer, Table

from strutsweep.cautions import CAUTIONS, CAUTIONS_TITLE
from strutsweep.errors import FileError
from strutsweep.setting_up.printed.content import Content, content_of
from strutsweep.setting_up.printed.terminal import FOOTNOTE
from strutsweep.setting_up.quantities import AngleForm
from strutsweep.setting_up.work import WorkOrder

__all__ = ["write_pdf"]

_INK: Final = colors.HexColor("#1b1f24")
_QUIET: Final = colors.HexColor("#5b6570")
_HAIR: Final = colors.HexColor("#d5dae0")
_ALARM: Final = colors.HexColor("#b3261e")
_FINE: Final = colors.HexColor("#14532d")

_PLAIN, _BOLD = "StrutsweepSans", "StrutsweepSans-Bold"
_WIDTH: Final = A4[0] - 36.0 * mm


def _register_fonts() -> None:
    """The fonts that come with matplotlib: they hold the minus, the degree and letters of any name."""
    if _PLAIN in pdfmetrics.getRegisteredFontNames():
        return
    import matplotlib

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    pdfmetrics.registerFont(TTFont(_PLAIN, str(folder / "DejaVuSans.ttf")))
    pdfmetrics.registerFont(TTFont(_BOLD, str(folder / "DejaVuSans-Bold.ttf")))
    pdfmetrics.registerFontFamily(_PLAIN, normal=_PLAIN, bold=_BOLD, italic=_PLAIN, boldItalic=_BOLD)


def _style(
    size: float, *, bold: bool = False, colour: Any = _INK, before: float = 0.0, right: bool = False
) -> ParagraphStyle:
    return ParagraphStyle(
        "",
        fontName=_BOLD if bold else _PLAIN,
        fontSize=size,
        leading=size * 1.36,
        textColor=colour,
        spaceBefore=before,
        alignment=TA_RIGHT if right else 0,
    )


def write_pdf(
    order: WorkOrder,
    path: str | PathLike[str],
    *,
    angles: AngleForm = "degrees",
    toe_diameter: float | None = None,
) -> None:
    """Write a work order as a PDF of A4 pages.

    Raises
    ------
    FileError
        The file cannot be written.
    """
    content = content_of(order, angles=angles, toe_diameter=toe_diameter)
    _register_fonts()
    try:
        document = BaseDocTemplate(
            str(path),
            pagesize=A4,
            title=f"{content.title}: {content.car}",
            author="strutsweep",
            # The same order gives the same bytes.
            invariant=True,
        )
        frame = Frame(18.0 * mm, 18.0 * mm, _WIDTH, A4[1] - 34.0 * mm, leftPadding=0, rightPadding=0)
        document.addPageTemplates(PageTemplate(frames=[frame], onPage=lambda canvas, _: _foot(canvas, content)))
        document.build(_story(content))
    except OSError as error:
        raise FileError(f"{path}: {error.strerror}", path=path, reason=str(error.strerror)) from None


def _foot(canvas: Any, content: Content) -> None:
    canvas.setFont(_PLAIN, 7)
    canvas.setFillColor(_QUIET)
    canvas.drawString(18.0 * mm, 11.0 * mm, f"{content.title}: {content.car}")
    canvas.drawRightString(A4[0] - 18.0 * mm, 11.0 * mm, f"page {canvas.getPageNumber()}")


def _text(words: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(escape(words), style)


def _story(content: Content) -> list[Flowable]:
    small = _style(7.2, colour=_QUIET)
    plain = _style(8.6)
    story: list[Flowable] = [
        _text(content.title.upper(), _style(7.5, colour=_QUIET)),
        _text(content.car, _style(19, bold=True)),
    ]
    if content.note:
        story.append(_text(content.note, _style(8.6, colour=_QUIET, before=3)))
    story += [
        _text(content.verdict, _style(9.4, bold=True, colour=_FINE if content.met else _ALARM, before=4)),
        Spacer(0, 5),
        _rule(),
    ]
    story += _section("The sheet", _sheet(content), small, content.signs)
    story += _section("What to move", _moves(content), small, FOOTNOTE if content.has_turns else "")
    story += [Spacer(0, 10), KeepTogether([_cautions()])]
    story.append(_text("Step by step", _style(10.5, bold=True, before=11)))
    story.append(Spacer(0, 3))
    for step in content.steps:
        parts: list[Flowable] = [
            _text(f"{step.number}.  {step.title}", _style(8.8, bold=True, before=3)),
            Paragraph(escape(step.text), ParagraphStyle("", parent=plain, leftIndent=14)),
        ]
        if step.reads:
            shows = "; ".join(f"{name} {left} left, {right} right" for name, left, right in step.reads)
            parts.append(
                Paragraph(f"<b>Gauges then:</b> {escape(shows)}.", ParagraphStyle("", parent=plain, leftIndent=14))
            )
        story.append(KeepTogether(parts))
    if content.order_reason:
        story.append(_text(content.order_reason, _style(7.2, colour=_QUIET, before=3)))
    story += _section(
        "Room left to each limit",
        _margins(content),
        small,
        "Over all of travel and lock, by rigid geometry, of the limits that the car file tells.",
    )
    story.append(_text("What to know", _style(10.5, bold=True, before=11)))
    story += [_text(f"• {word}", _style(8.2, before=2)) for word in (*content.words, content.steering)]
    story.append(
        _text(f"The model was bent to the sheet: {' '.join(content.offsets)}", _style(7.2, colour=_QUIET, before=3))
    )
    return story


def _rule() -> Table:
    line = Table([[""]], colWidths=[_WIDTH], rowHeights=[1])
    line.setStyle([("LINEABOVE", (0, 0), (-1, 0), 1.6, _INK)])
    return line


def _section(title: str, table: Table, small: ParagraphStyle, foot: str) -> list[Flowable]:
    parts: list[Flowable] = [_text(title, _style(10.5, bold=True, before=11)), Spacer(0, 3), table]
    if foot:
        parts += [Spacer(0, 2), _text(foot, small)]
    return [KeepTogether(parts)]


def _grid(
    heading: Sequence[str], rows: Sequence[list[Flowable | str]], widths: Sequence[float], lines: Sequence[int]
) -> Table:
    """A table whose first column is words and the others numbers; hairlines above some rows."""
    head = [_text(word.upper(), _style(6.6, colour=_QUIET, right=_is_number(word))) if word else "" for word in heading]
    table = Table([head, *rows], colWidths=[width * _WIDTH for width in widths])
    table.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 3),
            ("TOPPADDING", (0, 0), (-1, -1), 1.1),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.1),
            ("LINEBELOW", (0, 0), (-1, 0), 0.8, _INK),
            *[("LINEABOVE", (0, row + 1), (-1, row + 1), 0.5, _HAIR) for row in lines if row],
        ]
    )
    return table


def _is_number(heading: str) -> bool:
    return heading in ("before", "wanted", "next sheet", "left", "right")


def _sheet(content: Content) -> Table:
    rows: list[list[Flowable | str]] = []
    lines = []
    for i, row in enumerate(content.rows):
        if row.first:
            lines.append(i)
        colour = _QUIET if row.quiet else _INK
        after = _ALARM if row.missed else colour
        rows.append(
            [
                _text(row.reading, _style(8.6, bold=True)),
                _text(row.which, _style(8.2, colour=_QUIET)),
                _text(row.before, _style(8.6, colour=colour, right=True)),
                _text(row.wanted, _style(8.6, colour=colour, right=True)),
                _text(row.after, _style(8.6, colour=after, bold=not row.quiet, right=True)),
            ]
        )
    return _grid(("reading", "", "before", "wanted", "next sheet"), rows, (0.34, 0.17, 0.16, 0.16, 0.17), lines)


def _moves(content: Content) -> Table:
    rows: list[list[Flowable | str]] = [
        [
            _text(move.adjuster, _style(8.6, bold=True)),
            _text(move.left, _style(8.2, right=True)),
            _text(move.right, _style(8.2, right=True)),
        ]
        for move in content.moves
    ]
    return _grid(("adjuster", "left", "right"), rows, (0.34, 0.33, 0.33), range(len(rows)))


def _margins(content: Content) -> Table:
    rows: list[list[Flowable | str]] = [
        [
            _text(margin.name, _style(8.6, bold=not margin.kept, colour=_INK if margin.kept else _ALARM)),
            _text(margin.left, _style(8.6, right=True, colour=_INK if margin.kept else _ALARM)),
            _text(margin.right, _style(8.6, right=True, colour=_INK if margin.kept else _ALARM)),
            _text(margin.where, _style(7.2, colour=_QUIET)),
        ]
        for margin in content.margins
    ]
    table = _grid(("limit", "left", "right", "least where"), rows, (0.37, 0.14, 0.14, 0.35), range(len(rows)))
    table.setStyle([("LEFTPADDING", (3, 0), (3, -1), 14)])
    return table


def _cautions() -> Table:
    parts: list[Flowable] = [_text(CAUTIONS_TITLE, _style(9.6, bold=True, colour=_ALARM))]
    parts += [_text(f"• {caution}", _style(7.8, before=2)) for caution in CAUTIONS]
    table = Table([[parts]], colWidths=[_WIDTH])
    table.setStyle(
        [
            ("BOX", (0, 0), (-1, -1), 1.0, _ALARM),
            ("LEFTPADDING", (0, 0), (-1, -1), 9),
            ("RIGHTPADDING", (0, 0), (-1, -1), 9),
            ("TOPPADDING", (0, 0), (-1, -1), 6),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 7),
        ]
    )
    return table
