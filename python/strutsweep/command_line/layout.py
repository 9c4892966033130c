"""Tables and notes as lines of text that fit a terminal, or run on where there is none."""

from __future__ import annotations

import math
import sys
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, TextIO

import numpy as np
import numpy.typing as npt
from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from strutsweep._printed import SHOWN_AS

__all__ = ["Column", "Printer", "Sheet", "input_cells", "reading_cells", "table_unit"]

GAP: Final = "  "
WIDEST_NOTE: Final = 100
NARROWEST_WORDS: Final = 30

# Digits that a gauge or a tape could tell apart, and one more.
_DECIMALS: Final[Mapping[str, int]] = {"deg": 3, "deg/m": 2, "mm": 1, "-": 3}

# A length beyond this comes from lines that run parallel but for round-off: there is no such point to speak of.
_NO_SUCH_POINT_MM: Final = 1e6
NO_SUCH_POINT: Final = "none"


def table_unit(unit: str) -> str:
    """The unit that a table shows for a unit of the data.

    Examples
    --------
    >>> table_unit("deg/mm"), table_unit("mm")
    ('deg/m', 'mm')
    """
    return SHOWN_AS.get(unit, (unit, 1.0))[0]


def reading_cells(values: Iterable[float], unit: str) -> list[str]:
    """Readings as a table shows them: decimals of their unit, no negative zero, a word where there is no number.

    Examples
    --------
    >>> reading_cells([-0.0001, 1.23456], "deg"), reading_cells([-0.0159677], "deg/mm")
    (['0.000', '1.235'], ['-15.97'])
    >>> reading_cells([float("inf")], "mm")
    ['none']
    """
    shown_unit, factor = SHOWN_AS.get(unit, (unit, 1.0))
    return [_number(float(value) * factor, _DECIMALS[shown_unit], shown_unit) for value in values]


def _number(value: float, decimals: int, unit: str = "") -> str:
    if not math.isfinite(value) or (unit == "mm" and abs(value) >= _NO_SUCH_POINT_MM):
        return NO_SUCH_POINT
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def input_cells(values: npt.ArrayLike) -> list[str]:
    """Inputs as a table shows them: all with as many decimals as the finest needs, three at most.

    Examples
    --------
    >>> input_cells([-10, 0, 2.5])
    ['-10.0', '0.0', '2.5']
    """
    array = np.asarray(values, dtype=np.float64)
    decimals = next((n for n in range(3) if np.array_equal(np.round(array, n), np.round(array, 3))), 3)
    return [_number(float(value), decimals) for value in array]


@dataclass(frozen=True)
class Column:
    """A column of cells under a heading of one or more lines.

    Numbers stand to the right, with equal decimals, so that the points line up; words stand to the left. The last
    column of words may be broken over lines.
    """

    heading: Sequence[str]
    cells: Sequence[str]
    words: bool = False

    @property
    def width(self) -> int:
        """Characters that the widest of it takes."""
        return max(map(cell_len, (*self.heading, *self.cells)), default=0)

    def place(self, text: str, width: int) -> str:
        """A cell padded to this width."""
        padding = " " * (width - cell_len(text))
        return text + padding if self.words else padding + text


@dataclass(frozen=True)
class Sheet:
    """A table: a column that names the rows, columns beside it, and rows that hold words instead of numbers.

    Attributes
    ----------
    title : str
        What the table shows.
    key : Column
        The column that names the rows. Where the others do not fit beside each other it comes again.
    columns : sequence of Column
        The others.
    instead : mapping of int to str
        Rows, by number, whose cells give way to words.
    """

    title: str
    key: Column
    columns: Sequence[Column]
    instead: Mapping[int, str] = field(default_factory=dict)

    def lines(self, width: int | None, rule: str = "-") -> Iterator[Text]:
        """The table as lines no longer than this many characters; of any length for None."""
        for line in [self.title] if width is None else textwrap.wrap(self.title, width, subsequent_indent=GAP):
            yield Text(line, style="bold")
        for number, columns in enumerate(self._blocks(width)):
            if number:
                yield Text()
            yield from self._block_lines(columns, width, rule)

    def _blocks(self, width: int | None) -> Iterator[list[Column]]:
        """Columns that fit beside the key, one block after the other."""
        block: list[Column] = []
        for column in self.columns:
            least = len(GAP) + (min(column.width, NARROWEST_WORDS) if column.words else column.width)
            taken = self.key.width + sum(len(GAP) + other.width for other in block)
            if block and width is not None and taken + least > width:
                yield block
                block = []
            block.append(column)
        yield block

    def _block_lines(self, columns: Sequence[Column], width: int | None, rule: str) -> Iterator[Text]:
        every = [self.key, *columns]
        widths = [column.width for column in every]
        if width is not None and columns and columns[-1].words:
            room = width - sum(widths[:-1]) - len(GAP) * len(columns)
            widths[-1] = min(widths[-1], max(room, NARROWEST_WORDS))
        height = max(len(column.heading) for column in every)
        for line in range(height):
            cells = [
                column.place(_bottom(column.heading, height)[line], size)
                for column, size in zip(every, widths, strict=True)
            ]
            yield Text(GAP.join(cells).rstrip(), style="bold")
        yield Text(GAP.join(rule * size for size in widths), style="dim")
        for row in range(len(self.key.cells)):
            if row in self.instead:
                name = self.key.place(self.key.cells[row], widths[0])
                yield Text(name + GAP).append(self.instead[row], style="italic")
                continue
            broken = [
                (textwrap.wrap(column.cells[row], size) or [""]) if column.words else [column.cells[row]]
                for column, size in zip(every, widths, strict=True)
            ]
            for line in range(max(map(len, broken))):
                cells = [
                    column.place(parts[line] if line < len(parts) else "", size)
                    for column, parts, size in zip(every, broken, widths, strict=True)
                ]
                yield Text(GAP.join(cells).rstrip())


def _bottom(heading: Sequence[str], height: int) -> list[str]:
    """A heading that stands on the table's rule."""
    return [""] * (height - len(heading)) + list(heading)


class Printer:
    """Standard output, or another stream, as a place for tables and notes.

    On a terminal, lines are broken to its width; elsewhere they are as long as they need to be, without colour. Nothing
    that is printed is read as markup.
    """

    def __init__(self, stream: TextIO | None = None) -> None:
        self._console = Console(file=stream or sys.stdout, highlight=False, markup=False, emoji=False)

    @property
    def width(self) -> int | None:
        """Characters in a line of the terminal, None where there is none."""
        return self._console.width if self._console.is_terminal else None

    def sheet(self, sheet: Sheet) -> None:
        """A table."""
        rule = "-" if self._console.options.ascii_only else "\N{BOX DRAWINGS LIGHT HORIZONTAL}"
        for line in sheet.lines(self.width, rule):
            self._line(line)
        self.gap()

    def heading(self, text: str) -> None:
        """A line that stands out."""
        for line in self._broken(text, "", GAP):
            self._line(Text(line, style="bold"))

    def notes(self, *notes: str) -> None:
        """Sentences, each beginning on a line of its own."""
        for note in notes:
            for line in self._broken(note, "", GAP):
                self._line(Text(line))

    def listing(self, title: str, entries: Mapping[str, str]) -> None:
        """A title and words with their meaning, meanings below each other."""
        self._line(Text(title, style="bold"))
        indent = max(map(cell_len, entries), default=0) + 2 + len(GAP)
        for word, meaning in entries.items():
            first = "  " + word + " " * (indent - 2 - cell_len(word))
            for line in self._broken(meaning, first, " " * indent):
                self._line(Text(line))

    def gap(self) -> None:
        """An empty line."""
        self._line(Text())

    def _broken(self, text: str, first: str, rest: str) -> list[str]:
        if self.width is None:
            return [first + text]
        width = min(self.width, WIDEST_NOTE)
        return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)

    def _line(self, line: Text) -> None:
        self._console.print(line, soft_wrap=True)
