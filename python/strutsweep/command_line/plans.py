"""The commands ``plan``, ``card`` and ``ways``: settings for readings, what adjusters do, ways to a camber."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Final, TypeAlias

import typer

from strutsweep._tables import Table
from strutsweep._wanting import TieRod, Want
from strutsweep.carding import card as card_of
from strutsweep.command_line.arguments import (
    OUTPUT_PANEL,
    CarName,
    RackValue,
    Side,
    SideChoice,
    TravelAt,
    TravelAtChoice,
    TravelValue,
    example_text,
    file_option,
    help_of,
    load_car,
    takes_settings,
)
from strutsweep.command_line.delivery import print_cautions
from strutsweep.command_line.endings import say
from strutsweep.command_line.layout import Column, Printer, Sheet
from strutsweep.command_line.records import check_suffix, writing
from strutsweep.command_line.wanting import WANTED_PANEL, Wanted, angle_of, free_of, name_of, takes_wanted
from strutsweep.planning import plan_side
from strutsweep.plans import Plan
from strutsweep.setting_up._kinds import SIDES
from strutsweep.ways import USUAL_WAYS
from strutsweep.ways import ways as ways_of

__all__ = ["add_to"]

WORK_PANEL: Final = "What may move"

PLAN_EXAMPLES: Final = (
    "strutsweep plan demo:gravel_hatch --camber -1.5 --toe 0.05 --free mount_in",
    "strutsweep plan demo:gravel_hatch --caster 3.2 --free mount_back=-5:9",
    "strutsweep plan demo:gravel_hatch --want left.camber=-1.3 --free mount_in",
    "strutsweep plan demo:gravel_hatch --want toe=0.1@travel=30 --free tie_rod",
)
CARD_EXAMPLES: Final = (
    "strutsweep card demo:hillclimb_saloon",
    "strutsweep card demo:gravel_hatch --adjuster mount_in --mount-in 10",
)
WAYS_EXAMPLES: Final = (
    "strutsweep ways demo:hillclimb_saloon --camber -1.0",
    "strutsweep ways demo:gravel_hatch --camber -1.2 --by mount_in --by clamp",
)


class RodChoice(StrEnum):
    """What the tie rod does."""

    PUTS_TOE_BACK = "puts_toe_back"
    UNTOUCHED = "untouched"


FreeOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--free",
        metavar="NAME[=LIMIT]",
        show_default=False,
        rich_help_panel=WORK_PANEL,
        help="An adjuster that may move, and how far: mount_in, mount_in=25 (either way), mount_back=-5:15; repeat for"
        " more. Limits of the car file hold unless given.",
    ),
]
RodOption: TypeAlias = Annotated[
    RodChoice | None,
    typer.Option(
        "--tie-rod-use",
        show_default=False,
        rich_help_panel=WORK_PANEL,
        help="Whether the tie rod puts toe back. Unless given, it does where toe is wanted.",
    ),
]
JsonPath: TypeAlias = Annotated[Path | None, file_option("--output", "Write the data too: .json.")]
DataPath: TypeAlias = Annotated[Path | None, file_option("--output", "Write the data too: .csv or .nc (NetCDF).")]


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("plan", help=help_of(plan), epilog=example_text(*PLAN_EXAMPLES))(plan)
    app.command("card", help=help_of(card), epilog=example_text(*CARD_EXAMPLES))(card)
    app.command("ways", help=help_of(ways), epilog=example_text(*WAYS_EXAMPLES))(ways)


@takes_wanted
@takes_settings()
def plan(
    car: CarName,
    free: FreeOption = None,
    side: Annotated[
        Side | None,
        typer.Option("--side", show_default=False, rich_help_panel=OUTPUT_PANEL, help="One corner; both unless given."),
    ] = None,
    tie_rod_use: RodOption = None,
    output: JsonPath = None,
    *,
    wanted: list[Wanted],
    settings: dict[str, float],
    travel: TravelValue = 0.0,
    rack: RackValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """Which setting gives the readings that are wanted?

    The settings options say how the car stands now. Where not everything can be met the nearest setting is shown, and
    what stops it; the exit status is 3 then.
    """
    check_suffix(output, (".json",))
    axle = load_car(car)
    rod: TieRod | None = None if tie_rod_use is None else tie_rod_use.value
    motion = {"travel": travel, "rack": rack, "roll": 0.0}
    wants = {name: _wants(wanted, name, motion) for name in SIDES if side is None or name == side.value}
    # A side of which nothing is wanted, where something is of the other, stays as it is.
    asked = {name: some for name, some in wants.items() if some} or wants
    plans = [
        plan_side(
            axle,
            name,
            want=some,
            free=free_of(free),
            start=settings,
            motion=tuple(motion.values()),
            travel_at=travel_at.value,
            tie_rod=rod,
        )
        for name, some in asked.items()
    ]
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
        "along": one.along,
        "outcome": one.outcome,
        "reason": one.reason,
        "setting": one.setting,
        "start": one.start,
        "moves": one.moves,
        "limits": {
            name: [edge if math.isfinite(edge) else None for edge in limits] for name, limits in one.limits.items()
        },
        "active_limits": one.active_limits,
        "residuals": one.residuals,
        "before": {name: value for name, value in one.before.readings.items() if math.isfinite(value)},
        "after": {name: value for name, value in one.pose.readings.items() if math.isfinite(value)},
    }


@takes_settings()
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
    *,
    settings: dict[str, float],
) -> None:
    """What does each adjuster of this car do, per mm or degree, and how far does that hold?"""
    check_suffix(output, (".csv", ".nc"))
    found = card_of(
        load_car(car),
        _names(adjuster),
        side=side.value,
        start=settings,
        travel=travel,
        rack=rack,
        travel_at=travel_at.value,
    )
    _write(found.dataset, output)
    _print(Printer(), found.tables(), found.notes())


def ways(
    car: CarName,
    camber: Annotated[
        str,
        typer.Option(
            "--camber",
            metavar="ANGLE",
            show_default=False,
            rich_help_panel=WANTED_PANEL,
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
            rich_help_panel=WORK_PANEL,
            help=f"An adjuster to compare; repeat for more. Unless given: {', '.join(USUAL_WAYS)}.",
        ),
    ] = None,
    tie_rod_use: Annotated[
        RodChoice, typer.Option("--tie-rod-use", rich_help_panel=WORK_PANEL, help="Whether the tie rod puts toe back.")
    ] = RodChoice.PUTS_TOE_BACK,
    output: DataPath = None,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """Which ways lead to one camber, and what does each of them cost?

    Top mount, knuckle clamp and lower arm, each alone with the tie rod: what else changes, in mm and deg, and how much
    room between tyre and strut is left.
    """
    check_suffix(output, (".csv", ".nc"))
    axle = load_car(car)
    names = _names(by) or list(USUAL_WAYS)
    found = ways_of(
        axle,
        angle_of("camber", camber),
        names,
        side=side.value,
        tie_rod=tie_rod_use.value,
        travel_at=travel_at.value,
    )
    _write(found.dataset, output)
    printer = Printer()
    _print(printer, found.tables(), found.notes())
    print_cautions(printer)
    if not any(one.reached for one in found.plans.values()):
        say("none of these ways reaches that camber")
        raise typer.Exit(3)


def _names(given: Sequence[str] | None) -> list[str] | None:
    return [name_of(text) for text in given] if given else None


def _wants(wanted: Sequence[Wanted], side: str, motion: Mapping[str, float]) -> list[Want]:
    """What is wanted of one side; what is said of it alone takes the place of what is said of both."""
    wants: dict[tuple[Any, ...], Want] = {}
    alone: set[tuple[Any, ...]] = set()
    doubled: list[Want] = []
    for one in wanted:
        if one.side not in (None, side):
            continue
        want = Want(one.name, one.number(), **{**motion, **one.motion})
        key = (want.reading, want.motion)
        if key in wants and (one.side is None) == (key not in alone):
            # Twice in the same breath: the planner has the words for it.
            doubled.append(want)
        elif one.side is not None or key not in alone:
            wants[key] = want
            if one.side is not None:
                alone.add(key)
    return [*wants.values(), *doubled]


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
