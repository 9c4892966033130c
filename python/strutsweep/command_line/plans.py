"""The commands ``plan``, ``card`` and ``ways``: settings for readings, what adjusters do, ways to a camber."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Final, TypeAlias

import typer

from strutsweep._tables import Table
from strutsweep.carding import card as card_of
from strutsweep.command_line.arguments import (
    OUTPUT_PANEL,
    SETTINGS_PANEL,
    CarName,
    RackValue,
    Side,
    SideChoice,
    TravelAt,
    TravelAtChoice,
    TravelValue,
    corner_of,
    example_text,
    help_of,
    load_car,
    takes_settings,
)
from strutsweep.command_line.delivery import print_cautions
from strutsweep.command_line.endings import say
from strutsweep.command_line.layout import Column, Printer, Sheet
from strutsweep.command_line.records import writing
from strutsweep.errors import InputError
from strutsweep.planning import Plan, TieRod, Want
from strutsweep.planning import plan as plan_of
from strutsweep.ways import USUAL_WAYS
from strutsweep.ways import ways as ways_of

__all__ = ["add_to"]

PLAN_PANEL: Final = "What is wanted, and what may move"

PLAN_EXAMPLES: Final = (
    "strutsweep plan demo:gravel_hatch --want camber=-1.5 --free mount_in",
    "strutsweep plan demo:gravel_hatch --want caster=3.2 --free mount_back=-5:9",
    "strutsweep plan demo:gravel_hatch --want toe=0.1@travel=30 --free tie_rod",
)
CARD_EXAMPLES: Final = (
    "strutsweep card demo:hillclimb_saloon",
    "strutsweep card demo:gravel_hatch --adjuster mount_in --travel-at strut",
)
WAYS_EXAMPLES: Final = (
    "strutsweep ways demo:hillclimb_saloon --camber -1.0",
    "strutsweep ways demo:gravel_hatch --camber -1.2 --by mount_in --by clamp",
)


class RodChoice(StrEnum):
    """What the tie rod does."""

    PUTS_TOE_BACK = "puts_toe_back"
    UNTOUCHED = "untouched"


WantOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--want",
        metavar="NAME=VALUE",
        show_default=False,
        rich_help_panel=PLAN_PANEL,
        help="A reading and its value, mm or deg; repeat for more. In another motion: toe=0.1@travel=30.",
    ),
]
FreeOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--free",
        metavar="NAME[=LIMIT]",
        show_default=False,
        rich_help_panel=PLAN_PANEL,
        help="An adjuster that may move, and how far: mount_in, mount_in=25 (either way), mount_back=-5:15; repeat for"
        " more. Limits of the car file hold unless given.",
    ),
]
RodOption: TypeAlias = Annotated[
    RodChoice | None,
    typer.Option(
        "--tie-rod-use",
        show_default=False,
        rich_help_panel=PLAN_PANEL,
        help="Whether the tie rod puts toe back. Unless given, it does where toe is wanted.",
    ),
]
JsonPath: TypeAlias = Annotated[
    Path | None,
    typer.Option(
        "--output", metavar="FILE", show_default=False, rich_help_panel=OUTPUT_PANEL, help="Write the data too: .json."
    ),
]
DataPath: TypeAlias = Annotated[
    Path | None,
    typer.Option(
        "--output",
        metavar="FILE",
        show_default=False,
        rich_help_panel=OUTPUT_PANEL,
        help="Write the data too: .csv or .nc (NetCDF).",
    ),
]


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("plan", help=help_of(plan), epilog=example_text(*PLAN_EXAMPLES))(plan)
    app.command("card", help=help_of(card), epilog=example_text(*CARD_EXAMPLES))(card)
    app.command("ways", help=help_of(ways), epilog=example_text(*WAYS_EXAMPLES))(ways)


@takes_settings()
def plan(
    car: CarName,
    want: WantOption = None,
    free: FreeOption = None,
    side: Annotated[
        Side | None,
        typer.Option("--side", show_default=False, rich_help_panel=OUTPUT_PANEL, help="One corner; both unless given."),
    ] = None,
    tie_rod_use: RodOption = None,
    output: JsonPath = None,
    *,
    settings: dict[str, float],
    travel: TravelValue = 0.0,
    rack: RackValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """Which setting gives the readings that are wanted?

    The settings options say how the car stands now. Where not everything can be met the nearest setting is shown, and
    what stops it; the exit status is 3 then.
    """
    _check_suffix(output, (".json",))
    axle = load_car(car)
    wants = [_want(text, travel, rack) for text in want or ()]
    rod: TieRod | None = None if tie_rod_use is None else tie_rod_use.value
    both = plan_of(
        axle,
        wants,
        dict(_free(text) for text in free or ()),
        start=settings,
        travel=travel,
        rack=rack,
        travel_at=travel_at.value,
        tie_rod=rod,
    )
    plans = [one for one in both if side is None or one.corner.side == side.value]
    if output is not None:
        text = json.dumps([_record(one) for one in plans], indent=2, allow_nan=False) + "\n"
        writing(output, lambda: output.write_text(text, encoding="utf-8"))
        say(f"wrote {output}")
    alike = len(plans) == 2 and plans[0].setting == plans[1].setting and _same(*plans)
    printer = Printer()
    for one in plans[:1] if alike else plans:
        _print(printer, one.tables(), one.notes())
    if alike:
        printer.notes("The right corner reads and is set alike.")
    print_cautions(printer)
    if not all(one.reached for one in plans):
        say("not everything that is wanted can be met: this is the nearest setting")
        raise typer.Exit(3)


def _same(left: Plan, right: Plan) -> bool:
    return left.pose.readings == right.pose.readings and left.before.readings == right.before.readings


def _record(one: Plan) -> dict[str, Any]:
    """A plan as plain data; a limit that is not stated is null."""
    return {
        "car": one.corner.name,
        "side": one.corner.side,
        "travel_at": one.travel_at,
        "held": one.held,
        "tie_rod": one.tie_rod,
        "outcome": one.outcome,
        "reason": one.reason,
        "setting": one.setting,
        "start": one.start,
        "limits": {
            name: [edge if math.isfinite(edge) else None for edge in limits] for name, limits in one.limits.items()
        },
        "active_limits": one.active_limits,
        "residuals": one.residuals,
        "before": {name: value for name, value in one.before.readings.items() if math.isfinite(value)},
        "after": {name: value for name, value in one.pose.readings.items() if math.isfinite(value)},
    }


def card(
    car: CarName,
    side: SideChoice = Side.LEFT,
    adjuster: Annotated[
        list[str] | None,
        typer.Option(
            "--adjuster",
            metavar="NAME",
            show_default=False,
            rich_help_panel=OUTPUT_PANEL,
            help="An adjuster to show; repeat for more. All unless given.",
        ),
    ] = None,
    output: DataPath = None,
    travel: TravelValue = 0.0,
    rack: RackValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """What does each adjuster of this car do, per mm or degree, and how far does that hold?"""
    _check_suffix(output, (".csv", ".nc"))
    corner = corner_of(load_car(car), side)
    found = card_of(corner, _names(adjuster), travel=travel, rack=rack, travel_at=travel_at.value)
    _write(found.dataset, output)
    _print(Printer(), found.tables(), found.notes())


def ways(
    car: CarName,
    camber: Annotated[
        float,
        typer.Option(
            "--camber",
            metavar="DEG",
            show_default=False,
            rich_help_panel=PLAN_PANEL,
            help="The camber wanted; positive: top of the wheel outboard.",
        ),
    ],
    side: SideChoice = Side.LEFT,
    by: Annotated[
        list[str] | None,
        typer.Option(
            "--by",
            metavar="NAME",
            show_default=False,
            rich_help_panel=PLAN_PANEL,
            help=f"An adjuster to compare; repeat for more. Unless given: {', '.join(USUAL_WAYS)}.",
        ),
    ] = None,
    tie_rod: Annotated[
        RodChoice, typer.Option("--tie-rod", rich_help_panel=SETTINGS_PANEL, help="Whether the tie rod puts toe back.")
    ] = RodChoice.PUTS_TOE_BACK,
    output: DataPath = None,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """Which ways lead to one camber, and what does each of them cost?

    Top mount, knuckle clamp and lower arm, each alone with the tie rod: what else changes, in mm and deg, and how much
    room between tyre and strut is left.
    """
    _check_suffix(output, (".csv", ".nc"))
    axle = load_car(car)
    names = _names(by) or list(USUAL_WAYS)
    found = ways_of(axle, camber, names, side=side.value, tie_rod=tie_rod.value, travel_at=travel_at.value)
    _write(found.dataset, output)
    printer = Printer()
    _print(printer, found.tables(), found.notes())
    print_cautions(printer)
    if not any(one.reached for one in found.plans.values()):
        say("none of these ways reaches that camber")
        raise typer.Exit(3)


def _names(given: Sequence[str] | None) -> list[str] | None:
    return [_name(text) for text in given] if given else None


def _name(text: str) -> str:
    return text.strip().lower().replace("-", "_").replace(" ", "_")


def _number(text: str, whole: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError(f"{whole!r}: {text!r} is not a number", name="want", value=whole) from None


def _want(text: str, travel: float, rack: float) -> Want:
    """``toe=0.1`` or ``toe=0.1@travel=30,rack=5``."""
    what, _, where = text.partition("@")
    name, equals, value = what.partition("=")
    if not equals:
        raise InputError(f"--want {text!r}: give a reading and its value, such as camber=-1.5", name="want", value=text)
    motion = {"travel": travel, "rack": rack, "roll": 0.0}
    for part in where.split(",") if where else ():
        key, equals, amount = part.partition("=")
        if _name(key) not in motion or not equals:
            message = f"--want {text!r}: after @ stand travel, rack or roll and a value, such as travel=30"
            raise InputError(message, name="want", value=text)
        motion[_name(key)] = _number(amount, text)
    return Want(_name(name), _number(value, text), **motion)


def _free(text: str) -> tuple[str, Any]:
    """``mount_in``, ``mount_in=25`` or ``mount_in=-5:15``."""
    name, equals, limit = text.partition("=")
    if not equals:
        return _name(name), None
    least, colon, most = limit.partition(":")
    if colon:
        return _name(name), (_number(least, text), _number(most, text))
    return _name(name), _number(least, text)


def _check_suffix(path: Path | None, known: tuple[str, ...]) -> None:
    if path is not None and path.suffix.lower() not in known:
        raise InputError(f"{path}: data can be written as {', '.join(known)}", name="path", value=path.suffix)


def _write(dataset: Any, output: Path | None) -> None:
    if output is None:
        return
    if output.suffix.lower() == ".csv":
        text = dataset.to_dataframe().to_csv()
        writing(output, lambda: output.write_text(text, encoding="utf-8"))
    else:
        writing(output, lambda: dataset.to_netcdf(output, engine="scipy"))
    say(f"wrote {output}")
    sys.stderr.flush()


def _print(printer: Printer, tables: Sequence[Table], notes: Sequence[str]) -> None:
    for table in tables:
        columns = [
            Column([heading], [row[k] for row in table.rows], words=k in table.words)
            for k, heading in enumerate(table.headings)
        ]
        printer.sheet(Sheet(table.title, columns[0], columns[1:]))
    printer.notes(*notes)
