"""The commands ``set``, ``new-sheet`` and ``heights``: a car from its sheet to its work order, and heights of a top."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Final

import typer
from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from strutsweep._tables import amount
from strutsweep.command_line.arguments import (
    OUTPUT_PANEL,
    CarName,
    Force,
    Side,
    TravelAt,
    example_text,
    file_option,
    help_of,
    load_car,
    takes_settings,
)
from strutsweep.command_line.delivery import print_cautions
from strutsweep.command_line.endings import OUT_OF_REACH, say
from strutsweep.command_line.layout import Printer
from strutsweep.command_line.records import writing
from strutsweep.command_line.wanting import Wanted, amounts_by_side, free_of, takes_wanted
from strutsweep.errors import FileError, InputError
from strutsweep.heights import Heights
from strutsweep.heights import heights as heights_of
from strutsweep.setting_up._kinds import SIDES
from strutsweep.setting_up.correcting import correct
from strutsweep.setting_up.ordering import USUAL_FREE, set_car
from strutsweep.setting_up.quantities import AngleForm
from strutsweep.setting_up.sheet import Sheet, load_sheet
from strutsweep.setting_up.work import WorkOrder
from strutsweep.words import READINGS, TRAVEL_AT

__all__ = ["add_to"]

EXAMPLES_SET: Final = (
    "strutsweep set demo:gravel_hatch sheet.toml --camber -1.5 --caster 3.2",
    "strutsweep set demo:gravel_hatch sheet.toml --camber -1°30' --pdf order.pdf",
    "strutsweep set demo:gravel_hatch sheet.toml --want left.camber=-1.3 --want right.camber=-1.2",
    "strutsweep set demo:gravel_hatch sheet.toml --camber -1.5 --after second.toml",
)
EXAMPLES_SHEET: Final = (
    "strutsweep new-sheet sheet.toml",
    "strutsweep new-sheet saloon.toml --like demo:hillclimb_saloon",
)
EXAMPLES_HEIGHTS: Final = (
    "strutsweep heights demo:gravel_hatch --bearing -20 --seat -20 --shoulder -20",
    "strutsweep heights demo:gravel_hatch --bearing -20 --seat -15 --body -20",
    "strutsweep heights demo:hillclimb_saloon --collar -15 --mount-in 10",
)

_WIDTH: Final = 100
_HELD: Final = ", ".join(f"{place} ({held})" for place, held in TRAVEL_AT.items())

_WORK_PANEL: Final = "What may move, and what is held"


class Angles(StrEnum):
    """How angles are shown."""

    DEGREES = "degrees"
    MINUTES = "minutes"


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("set", help=help_of(set_up), epilog=example_text(*EXAMPLES_SET))(set_up)
    app.command("new-sheet", help=help_of(new_sheet), epilog=example_text(*EXAMPLES_SHEET))(new_sheet)
    app.command("heights", help=help_of(heights), epilog=example_text(*EXAMPLES_HEIGHTS))(heights)


@takes_wanted
def set_up(
    car: CarName,
    sheet: Annotated[Path, typer.Argument(metavar="SHEET", show_default=False, help="The measured sheet (TOML).")],
    free: Annotated[
        list[str] | None,
        typer.Option(
            "--free",
            metavar="NAME[=LIMIT]",
            show_default=False,
            rich_help_panel=_WORK_PANEL,
            help=f"An adjuster that may move, and how far, as mount_in=25 or mount_back=-5:15; repeat for more. Unless"
            f" given: {', '.join(USUAL_FREE)}, as far as the car file says.",
        ),
    ] = None,
    stands: Annotated[
        list[str] | None,
        typer.Option(
            "--stands",
            metavar="SIDE.ADJUSTER=N",
            show_default=False,
            rich_help_panel=_WORK_PANEL,
            help="Where an adjuster stood for the sheet, from the middle of its reach: left.mount_in=4; repeat.",
        ),
    ] = None,
    travel_at: Annotated[
        TravelAt,
        typer.Option(
            "--travel-at",
            metavar="PLACE",
            rich_help_panel=_WORK_PANEL,
            help=f"What is held while adjusters move: {_HELD}.",
        ),
    ] = TravelAt.GROUND,
    after: Annotated[
        Path | None,
        typer.Option(
            "--after",
            metavar="SHEET",
            show_default=False,
            rich_help_panel=_WORK_PANEL,
            help="The second sheet, read after the work: how the car answered, and what is left to do.",
        ),
    ] = None,
    done: Annotated[
        list[str] | None,
        typer.Option(
            "--done",
            metavar="SIDE.ADJUSTER=N",
            show_default=False,
            rich_help_panel=_WORK_PANEL,
            help="With --after: what was really moved, where it differs from the order: left.mount_in=9.5; repeat.",
        ),
    ] = None,
    angles: Annotated[
        Angles, typer.Option("--angles", rich_help_panel=OUTPUT_PANEL, help="How angles are shown.")
    ] = Angles.DEGREES,
    toe_at: Annotated[
        float | None,
        typer.Option(
            "--toe-at",
            metavar="MM",
            show_default=False,
            rich_help_panel=OUTPUT_PANEL,
            help="Show toe as a length too, at this diameter of rim or tyre; --toe '2 mm' is told at it.",
        ),
    ] = None,
    html: Annotated[Path | None, file_option("--html", "Write an HTML page too.")] = None,
    pdf: Annotated[Path | None, file_option("--pdf", "Write a PDF too.")] = None,
    *,
    wanted: list[Wanted],
) -> None:
    """Where do the plates go, and what will the next sheet read?

    Takes a car and a measured alignment sheet, bends the model to the sheet, and tells what to move, in which order,
    how far the tie rods turn, what ride height asks of the collars, what room is left to each limit, and what does
    not fit together. What is wanted is of either wheel, toe too; toe is put back unless it is wanted otherwise. Ends
    with status 3 if not everything wanted can be reached. A sheet to fill in: strutsweep new-sheet.
    """
    axle, first = load_car(car), load_sheet(sheet)
    second = None if after is None else load_sheet(after)
    if done and second is None:
        raise InputError("--done tells what was moved before a second sheet: give it with --after", name="done")
    moved, stood = amounts_by_side("done", done), amounts_by_side("stands", stands)
    aims = _aims(wanted, toe_at)
    adjusters = free_of(free) or dict.fromkeys(USUAL_FREE)
    order = set_car(
        axle,
        first,
        aims[None],
        left=aims["left"],
        right=aims["right"],
        free=adjusters,
        standing=stood,
        travel_at=travel_at.value,
    )
    console = Console(highlight=False, width=None if sys.stdout.isatty() else _WIDTH)
    form: AngleForm = angles.value
    if second is not None:
        correction = correct(order, second, done=moved, free=adjusters)
        console.print(f"[bold]How the car answered[/bold]  {len(correction.responses)} readings compared")
        for response in correction.responses:
            console.print(Padding(Text(str(response)), (0, 0, 0, 2)))
        console.print()
        order = correction.next
    _deliver(order, console, form, toe_at, html, pdf)
    if not order.met:
        raise typer.Exit(OUT_OF_REACH)


def _deliver(
    order: WorkOrder, console: Console, angles: AngleForm, toe_at: float | None, html: Path | None, pdf: Path | None
) -> None:
    from strutsweep.setting_up.printed import print_order

    print_order(order, console, angles=angles, toe_diameter=toe_at)
    if html is not None:
        page = order.to_html(angles=angles, toe_diameter=toe_at)
        writing(html, lambda: html.write_text(page, encoding="utf-8"))
        say(f"wrote {html}")
    if pdf is not None:
        order.save_pdf(pdf, angles=angles, toe_diameter=toe_at)
        say(f"wrote {pdf}")


def _aims(wanted: Sequence[Wanted], toe_at: float | None) -> dict[str | None, dict[str, float]]:
    """What is wanted of both sides (under None) and of either, deg."""
    aims: dict[str | None, dict[str, float]] = {None: {}, "left": {}, "right": {}}
    for one in wanted:
        if one.motion:
            message = f"--want {one.text!r}: a sheet is read at ride height, straight: leave the motion out"
            raise InputError(message, name="want", value=one.text)
        if one.name in aims[one.side]:
            raise InputError(f"--want {one.text!r}: {one.name} is wanted twice", name="want", value=one.text)
        aims[one.side][one.name] = one.number(toe_at, advice="--toe-at must tell its diameter")
    return aims


def new_sheet(
    path: Annotated[Path, typer.Argument(metavar="FILE", show_default=False, help="The sheet to write, *.toml.")],
    like: Annotated[
        str, typer.Option("--like", metavar="CAR", help="The car whose computed readings stand in it to begin with.")
    ] = "demo:gravel_hatch",
    force: Force = False,
) -> None:
    """How do I write down what my gauges showed?

    Writes a sheet to fill in, with the readings that the car file's geometry gives and, beside each, which way is
    positive: angles in deg, or as degrees and minutes; toe also in mm at a stated diameter. Take out what was not
    read: the car file's geometry then stands in its place.
    """
    if path.exists() and not force:
        raise FileError(f"{path}: there is a file already; --force overwrites it", path=path, reason="exists")
    text = _sheet_text(Sheet.of(load_car(like)))
    writing(path, lambda: path.write_text(text, encoding="utf-8", newline="\n"))
    say(f"wrote {path}: computed readings, for you to replace")
    say(f"then: strutsweep set {shlex.quote(like)} {shlex.quote(str(path))} --camber -1.5")


def _sheet_text(sheet: Sheet) -> str:
    lines = [
        "# An alignment sheet for strutsweep: what gauges showed, at ride height, the steering wheel straight.",
        '# Angles are degrees, or text in degrees and minutes: camber = "-0°42\'". Take out what was not read.',
        "sheet = 1",
        f"car = {_quoted(sheet.car)}",
        'note = "computed from the car file, not measured"',
        '# toe_diameter = 431.8  # mm; needed where toe is a length, as in toe = "2 mm" of one wheel',
        "",
        "[accuracy]  # what the gauges are good for, degrees",
        *(f"{name} = {value:g}" for name, value in sheet.accuracy.items()),
    ]
    words = {
        "camber": "positive: top of the wheel outboard",
        "caster": "positive: top of the steering axis rearward",
        "kingpin_inclination": "positive: top of the steering axis inboard",
        "toe": "of this wheel; positive: toe-in",
    }
    for side in SIDES:
        lines += ["", f"[{side}]"]
        lines += [f"{name} = {value + 0.0:.2f}  # {words[name]}" for name, value in sheet.wheel(side).angles()]
        lines += ["# ride_height = 640.0  # mm, anyhow measured; only the difference of the sides counts"]
    lines += ["", "# Toe of both wheels together may stand here instead:", "# [total]", "# toe = 0.10"]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _height(name: str, what: str) -> object:
    return typer.Option(f"--{name}", metavar="MM", show_default=False, rich_help_panel="What changes", help=what)


@takes_settings()
def heights(
    car: CarName,
    bearing: Annotated[float, _height("bearing", "Bearing centre higher in the body; lower is negative.")] = 0.0,
    seat: Annotated[float, _height("seat", "Spring seat higher in the body.")] = 0.0,
    shoulder: Annotated[float, _height("shoulder", "Shoulder of the damper rod higher in the body.")] = 0.0,
    body: Annotated[float, _height("body", "Strut body longer at its threaded foot; shorter is negative.")] = 0.0,
    collar: Annotated[float, _height("collar", "Collar under the spring higher on the body.")] = 0.0,
    ride_height: Annotated[
        float, _height("ride-height", "The ride height that the collar shall bring, above that of the car file.")
    ] = 0.0,
    side: Annotated[Side, typer.Option("--side", help="Which corner of the car.")] = Side.LEFT,
    *,
    settings: dict[str, float],
) -> None:
    """What does another top, or a turn of the collar, do to ride height and travel?

    A top mount has three heights: bearing centre, spring seat, damper shoulder. All are told as they stand in the
    body, up positive: a top that puts 20 mm more between tower and strut lowers all three by 20. The spring keeps its
    length. Lengths in mm, angles in deg.
    """
    axle = load_car(car)
    chosen = {name: value for name, value in settings.items() if value}
    change = {"bearing": bearing, "seat": seat, "shoulder": shoulder, "body": body, "collar": collar}
    now = heights_of(axle, side.value, ride_height=ride_height, **change, **chosen)
    before = heights_of(axle, side.value)
    put_back = {**change, "collar": now.collar_for_ride_height}
    then = heights_of(axle, side.value, ride_height=ride_height, **put_back, **chosen)
    printer = Printer()
    printer.heading(f"{axle.name}, {side.value} corner: heights")
    printer.notes(
        f"With the collar at {collar:+g} mm: {_settled(now, before)}.",
        f"For a ride height of {ride_height:+g} mm: {_collar(now)}; then {_settled(then, before)}.",
        *_body(then, body),
        f"At the wheel then, against the car file, tie rod untouched: {_at_the_wheel(then)}.",
        *_spring(then),
        "Held: the spring's length, and so its force. Travel left is counted to the stops of the car file, from"
        " where the"
        " car then stands.",
    )
    print_cautions(printer)


def _settled(now: Heights, before: Heights) -> str:
    words = [f"ride height {now.ride_height + 0.0:+.1f} mm"]
    for way, left, was in (
        ("bump", now.bump_left, before.bump_left),
        ("droop", now.droop_left, before.droop_left),
    ):
        if left is not None and left < 0.0:
            words.append(f"BEYOND THE {way.upper()} STOP by {-left:.1f} mm: the car cannot stand there")
        elif left is not None and was is not None:
            words.append(f"{way} travel left {left:.1f} mm ({left - was:+.1f})")
    return ", ".join(words)


def _collar(now: Heights) -> str:
    up = now.collar_for_ride_height
    text = f"collar {abs(up):.1f} mm {'up' if up >= 0.0 else 'down'}"
    if now.collar_turns is not None:
        text += f" ({abs(now.collar_turns):.1f} turns)"
    if now.collar_within_reach is False:
        text += ", WHICH ITS THREAD DOES NOT ALLOW"
    return text


def _body(then: Heights, body: float) -> list[str]:
    if not body:
        return []
    text = f"Strut body {abs(body):.1f} mm {'longer' if body > 0.0 else 'shorter'}"
    if then.body_turns is not None:
        text += f": {abs(then.body_turns):.1f} turns {'out of' if body > 0.0 else 'into'} its foot"
    if then.body_within_reach is False:
        text += ", WHICH ITS THREAD DOES NOT ALLOW"
    return [f"{text}."]


def _at_the_wheel(then: Heights) -> str:
    parts = []
    for name, change in then.at_the_wheel.items():
        unit = READINGS[name]["units"]
        if unit == "deg/mm":
            shown = f"{amount(1000.0 * change, 1, signed=True)} deg/m"
        else:
            shown = f"{amount(change, 2 if unit == 'deg' else 1, signed=True)} {unit}"
        parts.append(f"{name.replace('_', ' ')} {shown}")
    return ", ".join(parts)


def _spring(then: Heights) -> list[str]:
    if then.preload_length is None:
        return ["The car file does not tell the spring and its seats: whether it is captive at full droop stays open."]
    if then.captive:
        force = "" if then.preload_force is None else f", {then.preload_force:.0f} N"
        return [f"The spring is captive at full droop: {then.preload_length:.1f} mm shorter than free{force}."]
    return [
        f"The spring lies LOOSE at full droop, by {-then.preload_length:.1f} mm: off its seats it can jump"
        " aside as the car"
        " comes down."
    ]
