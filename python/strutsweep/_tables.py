"""Small tables of results: in print and in a notebook."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Table", "figures"]


def figures(value: float, digits: int = 3) -> str:
    """A number to so many figures, without an exponent where one can do without."""
    if value != value:
        return "-"
    text = f"{value:.{digits}g}"
    if "e" not in text:
        return text
    return f"{value:.{max(0, digits - 1 - int(text.partition('e')[2]))}f}" if abs(value) < 1.0 else f"{value:.0f}"


@dataclass(frozen=True)
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
        numeric = [self._is_numeric(column) for column in range(len(self.heads))]

        def line(cells: Sequence[str]) -> str:
            padded = [
                cell.rjust(width) if right else cell.ljust(width)
                for cell, width, right in zip(cells, widths, numeric, strict=True)
            ]
            return "  ".join(padded).rstrip()

        body = [line(self.heads), "  ".join("-" * width for width in widths), *map(line, self.rows)]
        return "\n".join([self.title, *body, *self.notes])

    def _is_numeric(self, column: int) -> bool:
        cells = [row[column] for row in self.rows if row[column] not in ("", "-")]
        return bool(cells) and all(cell.lstrip("+-\u2212")[:1].isdigit() for cell in cells)

    def _repr_html_(self) -> str:
        def cells(tag: str, row: Sequence[str]) -> str:
            return "".join(
                f'<{tag} style="text-align:{"right" if self._is_numeric(place) else "left"}">{html.escape(cell)}</{tag}>'
                for place, cell in enumerate(row)
            )

        rows = "".join(f"<tr>{cells('td', row)}</tr>" for row in self.rows)
        notes = "".join(f"<p>{html.escape(note)}</p>" for note in self.notes)
        return (
            f"<div><p><b>{html.escape(self.title)}</b></p><table><thead><tr>{cells('th', self.heads)}</tr></thead>"
            f"<tbody>{rows}</tbody></table>{notes}</div>"
        )
