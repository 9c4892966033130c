"""Small tables of results: in print and in a notebook."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

__all__ = ["ROUND_OFF", "SHOWN_AS", "Table", "figures", "shown"]

SHOWN_AS: Final[Mapping[str, tuple[str, float]]] = {"deg/mm": ("deg/m", 1000.0), "1": ("-", 1.0)}
"""What a table shows of a unit that data keeps: a camber gain of -15.97 deg/m reads better than -0.01597 deg/mm, and a
ratio has no unit."""

ROUND_OFF: Final = 1e-9
"""Millimetres and degrees below this are round-off, and print as nothing."""


def figures(value: float, digits: int = 3) -> str:
    """A number to so many figures, without an exponent where one can do without."""
    if value != value:
        return "-"
    if abs(value) < ROUND_OFF:
        return "0"
    text = f"{value:.{digits}g}"
    if "e" not in text:
        return text
    return f"{value:.{max(0, digits - 1 - int(text.partition('e')[2]))}f}" if abs(value) < 1.0 else f"{value:.0f}"


def shown(units: str) -> tuple[str, float]:
    """The unit that a table shows for a unit of the data, and the factor to it."""
    return SHOWN_AS.get(units, (units, 1.0))


@dataclass(frozen=True, repr=False)
class Table:
    """Rows under heads, with a title and notes.

    Attributes
    ----------
    title : str
    heads : tuple of str
    rows : tuple of tuples of str
    notes : tuple of str
    """

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()

    @classmethod
    def of(
        cls, title: str, heads: Sequence[str], rows: Sequence[Sequence[str]], notes: Sequence[str] = ()
    ) -> Table:
        """A table of these."""
        return cls(title, tuple(heads), tuple(tuple(row) for row in rows), tuple(notes))

    def __str__(self) -> str:
        widths = [
            max(len(cell) for cell in column) for column in zip(self.heads, *self.rows, strict=True)
        ]
        numeric = [self.is_numeric(column) for column in range(len(self.heads))]

        def line(cells: Sequence[str]) -> str:
            padded = [
                cell.rjust(width) if right else cell.ljust(width)
                for cell, width, right in zip(cells, widths, numeric, strict=True)
            ]
            return "  ".join(padded).rstrip()

        body = [line(self.heads), "  ".join("-" * width for width in widths), *map(line, self.rows)]
        return "\n".join([self.title, *body, *self.notes])

    def __repr__(self) -> str:
        return str(self)

    def is_numeric(self, column: int) -> bool:
        """Whether a column holds numbers, which stand to the right."""
        cells = [row[column] for row in self.rows if row[column] not in ("", "-")]
        return bool(cells) and all(cell.lstrip("+-\u2212")[:1].isdigit() for cell in cells)

    def _repr_html_(self) -> str:
        def cells(tag: str, row: Sequence[str]) -> str:
            return "".join(
                f'<{tag} style="text-align:{"right" if self.is_numeric(place) else "left"}">{html.escape(cell)}</{tag}>'
                for place, cell in enumerate(row)
            )

        rows = "".join(f"<tr>{cells('td', row)}</tr>" for row in self.rows)
        notes = "".join(f"<p>{html.escape(note)}</p>" for note in self.notes)
        return (
            f"<div><p><b>{html.escape(self.title)}</b></p><table><thead><tr>{cells('th', self.heads)}</tr></thead>"
            f"<tbody>{rows}</tbody></table>{notes}</div>"
        )
