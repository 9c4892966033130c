"""Small tables of words and numbers, as text for a terminal and as HTML for a notebook."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Table", "amount", "html_of", "text_of"]


@dataclass(frozen=True)
class Table:
    """Rows of cells under headings; the first column stands to the left, numbers to the right."""

    title: str
    headings: Sequence[str]
    rows: Sequence[Sequence[str]]
    words: frozenset[int] = frozenset({0})
    """Columns of words, which stand to the left."""


def amount(value: float | None, decimals: int = 3, *, signed: bool = False) -> str:
    """A number as a table shows it: fixed decimals, no negative zero, a dash for none.

    Examples
    --------
    >>> amount(-0.0001), amount(2.5, 2, signed=True), amount(None)
    ('0.000', '+2.50', '-')
    """
    if value is None or value != value:
        return "-"
    text = f"{value:+.{decimals}f}" if signed else f"{value:.{decimals}f}"
    return f"{0.0:.{decimals}f}" if float(text) == 0.0 else text


def text_of(tables: Sequence[Table], notes: Sequence[str] = ()) -> str:
    """Tables and the notes under them as lines of text."""
    parts = [_text(table) for table in tables]
    return "\n\n".join([*parts, "\n".join(notes)] if notes else parts)


def _text(table: Table) -> str:
    lines = [list(table.headings), *map(list, table.rows)]
    widths = [max(len(line[k]) for line in lines) for k in range(len(table.headings))]
    shown = []
    for line in lines:
        cells = [
            cell.ljust(width) if k in table.words else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(line, widths, strict=True))
        ]
        shown.append("  ".join(cells).rstrip())
    rule = "  ".join("-" * width for width in widths)
    return "\n".join([table.title, shown[0], rule, *shown[1:]])


def html_of(tables: Sequence[Table], notes: Sequence[str] = ()) -> str:
    """Tables and the notes under them as HTML that stands alone in a notebook's cell."""
    parts = []
    for table in tables:
        heads = "".join(f"<th{_side(table, k)}>{html.escape(head)}</th>" for k, head in enumerate(table.headings))
        rows = "".join(
            "<tr>" + "".join(f"<td{_side(table, k)}>{html.escape(cell)}</td>" for k, cell in enumerate(row)) + "</tr>"
            for row in table.rows
        )
        caption = f'<caption style="text-align:left;font-weight:bold">{html.escape(table.title)}</caption>'
        parts.append(f"<table>{caption}<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>")
    parts.extend(f"<p>{html.escape(note)}</p>" for note in notes)
    return "<div>" + "".join(parts) + "</div>"


def _side(table: Table, column: int) -> str:
    return f' style="text-align:{"left" if column in table.words else "right"}"'
