"""A work order as tables on a terminal."""

from __future__ import annotations

import io
from typing import Final

from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from strutsweep.cautions import CAUTIONS, CAUTIONS_TITLE
from strutsweep.setting_up.printed.content import Content, content_of
from strutsweep.setting_up.quantities import AngleForm
from strutsweep.setting_up.tie_rods import SEEN
from strutsweep.setting_up.work import WorkOrder

__all__ = ["print_order", "terminal_text"]

FOOTNOTE: Final = f"* {SEEN}"


def terminal_text(order: WorkOrder, *, width: int = 100) -> str:
    """A work order as plain text of a width in characters."""
    out = io.StringIO()
    print_order(order, Console(file=out, width=width, color_system=None, legacy_windows=False))
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines())


def print_order(
    order: WorkOrder, console: Console, *, angles: AngleForm = "degrees", toe_diameter: float | None = None
) -> None:
    """Print a work order."""
    content = content_of(order, angles=angles, toe_diameter=toe_diameter)
    console.print(Text(f"{content.title}: {content.car}", style="bold"), Text(content.note, style="dim"), sep="  ")
    console.print(Text(content.verdict, style="green" if content.met else "bold red"))
    console.print()
    console.print(_sheet(content))
    console.print(Text(content.signs, style="dim"))
    console.print()
    console.print(_moves(content))
    if content.has_turns:
        console.print(Text(FOOTNOTE, style="dim"))
    console.print()
    console.print(Text(CAUTIONS_TITLE, style="bold"))
    for caution in CAUTIONS:
        console.print(Padding(Text(caution), (0, 0, 0, 2)))
    console.print()
    _print_steps(content, console)
    console.print(_margins(content))
    console.print()
    for word in (*content.words, content.steering, *content.offsets):
        console.print(Padding(Text(word), (0, 0, 0, 2)))


def _table(*columns: tuple[str, bool]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for heading, number in columns:
        table.add_column(heading, justify="right" if number else "left", no_wrap=number)
    return table


def _sheet(content: Content) -> Table:
    table = _table(("reading", False), ("", False), ("before", True), ("wanted", True), ("next sheet", True))
    for row in content.rows:
        if row.first and table.row_count:
            table.add_row()
        table.add_row(
            row.reading,
            row.which,
            row.before,
            row.wanted,
            Text(row.after, style="bold red" if row.missed else "bold" if not row.quiet else ""),
            style="dim" if row.quiet else None,
        )
    return table


def _moves(content: Content) -> Table:
    table = _table(("what to move", False), ("left", True), ("right", True))
    for move in content.moves:
        table.add_row(move.adjuster, move.left, move.right)
    return table


def _print_steps(content: Content, console: Console) -> None:
    for step in content.steps:
        console.print(Text(f"{step.number}. {step.title}", style="bold"))
        console.print(Padding(Text(step.text), (0, 0, 0, 3)))
        if step.reads:
            shows = "; ".join(f"{name} {left} left, {right} right" for name, left, right in step.reads)
            console.print(Padding(Text(f"Gauges then: {shows}.", style="cyan"), (0, 0, 0, 3)))
    if content.order_reason:
        console.print(Padding(Text(content.order_reason, style="dim"), (0, 0, 0, 3)))
    console.print()


def _margins(content: Content) -> Table:
    table = _table(("room left to a limit", False), ("left", True), ("right", True), ("least where", False))
    for margin in content.margins:
        table.add_row(
            margin.name,
            margin.left,
            margin.right,
            Text(margin.where, style="dim"),
            style=None if margin.kept else "bold red",
        )
    return table
