"""The commands ``set``, ``new-sheet`` and ``heights``: a car from its sheet to its work order, and heights of a top."""

from __future__ import annotations

import re
import shlex
import sys
from collections.abc import Mapping, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Final

import typer
from rich.console import Console

from strutsweep.command_line.arguments import (
    CarName,
    Force,
    Side,
    TravelAt,
    example_text,
    help_of,
    load_car,
    takes_settings,
)
from strutsweep.command_line.delivery import print_cautions
from strutsweep.command_line.endings import OUT_OF_REACH, say
from strutsweep.command_line.layout import Printer
from strutsweep.command_line.records import writing
from strutsweep.errors import FileError, InputError
from strutsweep.heights import Heights
from strutsweep.heights import heights as heights_of
from strutsweep.setting_up._kinds import SIDES
from strutsweep.setting_up._kinds import Side as SideName
from strutsweep.setting_up.correcting import correct
from strutsweep.setting_up.quantities import AngleForm, angle_from_text, length_from_text, toe_angle
from strutsweep.setting_up.sheet import Sheet, load_sheet
from strutsweep.setting_up.work import USUAL_FREE, WorkOrder, set_car
from strutsweep.words import SETTINGS

__all__ = ["add_to"]

EXAMPLES_SET: Final = (
    "strutsweep set demo:gravel_hatch sheet.toml --camber -1.5 --caster 3.2",
    "strutsweep set demo:gravel_hatch sheet.toml --camber -1°30' --pdf order.pdf",
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

_WANTED_PANEL: Final = "What is wanted (deg, or text such as -1°30')"
_WORK_PANEL: Final = "What may move, and what is held"
_OUTPUT_PANEL: Final = "What to show, and where"


class Angles(StrEnum):
    """How angles are shown."""

    DEGREES = "degrees"
    MINUTES = "minutes"


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("set", help=help_of(set_up), epilog=example_text(*EXAMPLES_SET))(set_up)
    app.command("new-sheet", help=help_of(new_sheet), epilog=example_text(*EXAMPLES_SHEET))(new_sheet)
    app.command("heights", help=help_of(heights), epilog=example_text(*EXAMPLES_HEIGHTS))(heights)


def _wanted(name: str, what: str) -> object:
    return typer.Option(f"--{name}", metavar="ANGLE", show_default=False, rich_help_panel=_WANTED_PANEL, help=what)


def set_up(
    car: CarName,
    sheet: Annotated[Path, typer.Argument(metavar="SHEET", show_default=False, help="The measured sheet (TOML).")],
    camber: Annotated[str | None, _wanted("camber", "Camber of either wheel; top outboard positive.")] = None,
    caster: Annotated[str | None, _wanted("caster", "Caster of either wheel; top rearward positive.")] = None,
    toe: Annotated[
        str | None,
        _wanted(
            "toe", "Toe of each wheel, not the total; toe-in positive; '2 mm' with --toe-at. Put back unless given."
        ),
    ] = None,
    kingpin_inclination: Annotated[
        str | None, _wanted("kingpin-inclination", "Kingpin inclination of either wheel; top inboard positive.")
    ] = None,
    left: Annotated[
        list[str] | None,
        typer.Option(
            "--left",
            metavar="NAME=ANGLE",
            show_default=False,
            rich_help_panel=_WANTED_PANEL,
            help="Wanted otherwise on the left, such as camber=-1.3; repeat for more.",
        ),
    ] = None,
    right: Annotated[
        list[str] | None,
        typer.Option(
            "--right",
            metavar="NAME=ANGLE",
            show_default=False,
            rich_help_panel=_WANTED_PANEL,
            help="Wanted otherwise on the right; repeat for more.",
        ),
    ] = None,
    free: Annotated[
        list[str] | None,
        typer.Option(
            "--free",
            metavar="ADJUSTER",
            show_default=False,
            rich_help_panel=_WORK_PANEL,
            help=f"An adjuster that may move; repeat for more. Unless given: {', '.join(USUAL_FREE)}.",
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
            "--held",
            metavar="PLACE",
            rich_help_panel=_WORK_PANEL,
            help="What is held: ground (ride height), hub (hub height) or strut (spring length).",
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
    angles: Annotated[
        Angles, typer.Option("--angles", rich_help_panel=_OUTPUT_PANEL, help="How angles are shown.")
    ] = Angles.DEGREES,
    toe_at: Annotated[
        float | None,
        typer.Option(
            "--toe-at",
            metavar="MM",
            show_default=False,
            rich_help_panel=_OUTPUT_PANEL,
            help="Show toe as a length too, at this diameter of rim or tyre.",
        ),
    ] = None,
    html: Annotated[
        Path | None,
        typer.Option(
            "--html", metavar="FILE", show_default=False, rich_help_panel=_OUTPUT_PANEL, help="Write an HTML page too."
        ),
    ] = None,
    pdf: Annotated[
        Path | None,
        typer.Option(
            "--pdf", metavar="FILE", show_default=False, rich_help_panel=_OUTPUT_PANEL, help="Write a PDF too."
        ),
    ] = None,
) -> None:
    """Where do the plates go, and what will the next sheet read?

    Takes a car and a measured alignment sheet, bends the model to the sheet, and tells what to move, in which order,
    how far the tie rods turn, what ride height asks of the collars, what room is left to each limit, and what does
    not fit together. Ends with status 3 if not everything wanted can be reached. A sheet to fill in: strutsweep
    new-sheet.
    """
    axle, first = load_car(car), load_sheet(sheet)
    second = None if after is None else load_sheet(after)
    given = {"camber": camber, "caster": caster, "toe": toe, "kingpin_inclination": kingpin_inclination}
    both = {name: _angle(name, text, toe_at) for name, text in given.items() if text is not None}
    adjusters = tuple(name.strip().replace("-", "_") for name in free) if free else USUAL_FREE
    order = set_car(
        axle,
        first,
        both,
        left=_pairs("left", left, toe_at),
        right=_pairs("right", right, toe_at),
        free=adjusters,
        standing=_standing(stands),
        travel_at=travel_at.value,
    )
    console = Console(highlight=False, width=None if sys.stdout.isatty() else _WIDTH)
    form: AngleForm = angles.value
    if second is not None:
        correction = correct(order, second, free=adjusters)
        console.print(f"[bold]How the car answered[/bold]  {len(correction.responses)} readings compared")
        for response in correction.responses:
            console.print(f"  {response}", markup=False)
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


def _angle(name: str, text: str, toe_at: float | None) -> float:
    """An angle as it was typed: a number of degrees, degrees and minutes, or a toe length."""
    try:
        return float(text)
    except ValueError:
        pass
    angle = angle_from_text(text)
    if angle is not None:
        return angle
    length = length_from_text(text)
    if length is not None and name == "toe":
        if toe_at is None:
            raise InputError(f"toe = {text!r} is a length: --toe-at must tell its diameter", name="toe", value=text)
        return toe_angle(length, diameter=toe_at)
    raise InputError(f'{name} = {text!r} is no angle: write degrees, or "1°30\'"', name=name, value=text)


def _pairs(side: str, texts: Sequence[str] | None, toe_at: float | None) -> dict[str, float]:
    pairs = {}
    for text in texts or ():
        name, equals, value = text.partition("=")
        name = name.strip().replace("-", "_")
        if not equals:
            raise InputError(f"--{side} {text}: write a name, an equals sign and an angle, as camber=-1.3", name=side)
        pairs[name] = _angle(name, value.strip(), toe_at)
    return pairs


def _standing(texts: Sequence[str] | None) -> Mapping[SideName, Mapping[str, float]]:
    standing: dict[SideName, dict[str, float]] = {"left": {}, "right": {}}
    for text in texts or ():
        found = re.fullmatch(r"\s*(left|right)\.([\w-]+)\s*=\s*(\S+)\s*", text)
        name = found[2].replace("-", "_") if found else ""
        try:
            value = float(found[3]) if found else None
        except ValueError:
            value = None
        if found is None or value is None or name not in SETTINGS:
            raise InputError(
                f"--stands {text}: write a side, an adjuster and a number, as left.mount_in=4; adjusters are"
                f" {', '.join(SETTINGS)}",
                name="stands",
                value=text,
            )
        for side in SIDES:
            if side == found[1]:
                standing[side][name] = value
    return standing


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
        if left is not None and was is not None:
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
