"""The commands ``search`` and ``trade-off``: points and settings moved within bounds, to one goal or between two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Any, Final, TypeAlias, cast

import numpy as np
import typer

from strutsweep._core import Axle
from strutsweep.command_line.arguments import (
    CarName,
    Force,
    FormatChoice,
    PlotPath,
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
    reading_names,
    takes_settings,
)
from strutsweep.command_line.findings import (
    DataPath,
    MendedPath,
    check_mended,
    check_paths,
    deliver,
    low_and_high,
    write_mended,
)
from strutsweep.command_line.ranges import Range, limits_of, range_option
from strutsweep.errors import InputError
from strutsweep.goals import OVER, Aim, Limit, Over, Quantity
from strutsweep.searching import search as searched
from strutsweep.trading_off import trade_off as traded_off

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["add_to"]

SEARCH_PANEL: Final = "What to search for"
_KINDS: Final = ", ".join(f"{kind}:" for kind in OVER if kind != "value")

SEARCH_EXAMPLES: Final = (
    "strutsweep search demo:gravel_hatch --goal range:toe --move tie_rod.inner.z=-8:8",
    "strutsweep search demo:gravel_hatch --goal camber --aim -1.5 --move mount_in=-15:15 --limit caster=2.5:",
    "strutsweep search car.toml --goal magnitude:bump_steer --move tie_rod.outer.z=-4:4 --from -40 --to 40"
    " --mended b.toml",
)
TRADE_OFF_EXAMPLES: Final = (
    "strutsweep trade-off demo:gravel_hatch --goal range:toe --goal range:camber --move tie_rod.inner.z=-8:8"
    " --move lower_arm.ball_joint.z=-10:10 --points 5",
)

MoveOption: TypeAlias = Annotated[
    list[str],
    typer.Option(
        "--move",
        metavar="NAME=LOW:HIGH",
        show_default=False,
        rich_help_panel=SEARCH_PANEL,
        help="What may move, and how far from where it is, mm or deg; repeat for more. NAME: a coordinate"
        " (strut.top.y), a point (strut.top: each coordinate by itself), a setting (mount_in), or a part that"
        " moves as one (subframe). A point that moves means a car built so, camber and toe at design set as"
        " before; a setting is moved on the car.",
    ),
]
LimitOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--limit",
        metavar="QUANTITY=LOW:HIGH",
        show_default=False,
        rich_help_panel=SEARCH_PANEL,
        help="What must be kept, written as --goal; in the reading's unit (deg/mm for a rate); leave one end empty for"
        " none. A range, largest value or magnitude takes HIGH only, a smallest one LOW only. Repeat for more.",
    ),
]
StartsOption: TypeAlias = Annotated[
    int,
    typer.Option(
        "--starts",
        metavar="N",
        rich_help_panel=SEARCH_PANEL,
        help="From how many places to set out, the car as it is first.",
    ),
]
SeedOption: TypeAlias = Annotated[
    int | None,
    typer.Option(
        "--seed", metavar="N", show_default=False, rich_help_panel=SEARCH_PANEL, help="Seed of the other starts."
    ),
]
Start: TypeAlias = Annotated[
    float | None, range_option("--from", "MM", "First travel of a range; the car's limit unless given.")
]
Stop: TypeAlias = Annotated[
    float | None, range_option("--to", "MM", "Last travel of a range; the car's limit unless given.")
]
Step: TypeAlias = Annotated[float | None, range_option("--step", "MM", "Distance of neighbours; 10 mm unless given.")]


def _goal_option(text: str) -> Any:
    return typer.Option(
        "--goal",
        metavar="QUANTITY",
        show_default=False,
        rich_help_panel=SEARCH_PANEL,
        help=f"{text} QUANTITY: a reading in the pose below (camber), or {_KINDS} before it, over travel (range:toe)."
        " Names: strutsweep readings.",
    )


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("search", help=help_of(search), epilog=example_text(*SEARCH_EXAMPLES))(search)
    app.command("trade-off", help=help_of(trade_off), epilog=example_text(*TRADE_OFF_EXAMPLES))(trade_off)


@takes_settings()
def search(
    car: CarName,
    goal: Annotated[str, _goal_option("What is to become as good as can be.")],
    move: MoveOption,
    aim: Annotated[
        str,
        typer.Option(
            "--aim",
            metavar="least|most|VALUE",
            rich_help_panel=SEARCH_PANEL,
            help="As small as can be, as large as can be, or as near to a value as can be.",
        ),
    ] = "least",
    limit: LimitOption = None,
    starts: StartsOption = 4,
    seed: SeedOption = None,
    mended: MendedPath = None,
    force: Force = False,
    start: Start = None,
    stop: Stop = None,
    step: Step = None,
    side: SideChoice = Side.LEFT,
    format: FormatChoice = None,
    output: DataPath = None,
    *,
    settings: dict[str, float],
    travel: TravelValue = 0.0,
    rack: RackValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """How should points and settings move to make one thing as good as can be, within bounds and limits?

    Exact slopes and several starts; of answers that are equally good the one that moves least.
    """
    check_paths(output, None)
    check_mended(mended, force)
    axle = load_car(car)
    poses = _Poses(axle, start, stop, step, {"travel": travel, "rack": rack, **settings}, travel_at)
    found = searched(
        corner_of(axle, side),
        poses.quantity(goal, "goal"),
        _moves(move),
        aim=_aim(aim),
        limits=[poses.limit(text) for text in limit or ()],
        starts=starts,
        seed=seed,
    )
    records = [
        {
            "variable": str(name),
            "unit": str(found.data.unit.values[place]),
            "move": float(found.data.move[place]),
            "low": float(found.data.low[place]),
            "high": float(found.data.high[place]),
            "at_bound": bool(found.data.at_bound[place]),
            "goal": found.goal.words,
            "goal_unit": found.goal.units,
            "before": found.before,
            "after": found.after,
            "limits_met": found.met,
            "seed": found.data.attrs["seed"],
        }
        for place, name in enumerate(found.data.variable.values)
    ]
    deliver([found.table()], records, found.data, format, output, None, None, cautions=True)
    if mended is not None:
        write_mended(mended, axle, side, found.corner, found.setting, "moved")


@takes_settings()
def trade_off(
    car: CarName,
    goal: Annotated[list[str], _goal_option("Both are to become small; give two, the one to be paid for first.")],
    move: MoveOption,
    limit: LimitOption = None,
    points: Annotated[
        int, typer.Option("--points", metavar="N", rich_help_panel=SEARCH_PANEL, help="How many points of the curve.")
    ] = 7,
    starts: StartsOption = 3,
    seed: SeedOption = None,
    start: Start = None,
    stop: Stop = None,
    step: Step = None,
    side: SideChoice = Side.LEFT,
    format: FormatChoice = None,
    output: DataPath = None,
    plot: PlotPath = None,
    *,
    settings: dict[str, float],
    travel: TravelValue = 0.0,
    rack: RackValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """What does one goal cost another?

    The best of the first goal for each amount of the second, from the best of the one to the best of the other. --plot
    draws the curve.
    """
    check_paths(output, plot)
    if len(goal) != 2:
        raise typer.BadParameter(f"--goal was given {len(goal)} times, and a trade-off is between two")
    axle = load_car(car)
    poses = _Poses(axle, start, stop, step, {"travel": travel, "rack": rack, **settings}, travel_at)
    first, second = (poses.quantity(text, "goal") for text in goal)
    found = traded_off(
        corner_of(axle, side),
        first,
        second,
        _moves(move),
        limits=[poses.limit(text) for text in limit or ()],
        points=points,
        starts=starts,
        seed=seed,
    )
    data = found.data
    records = []
    for place in range(data.sizes["point"]):
        one = data.isel(point=place)
        record: dict[str, Any] = {
            "first": float(one["first"]),
            "second": float(one.second),
            "limits_met": bool(one.met),
        }
        record |= {f"move {name}": float(one.move.sel(variable=name)) for name in data.variable.values}
        records.append(record | {"first_goal": first.words, "second_goal": second.words, "seed": data.attrs["seed"]})

    def draw() -> Figure:
        from strutsweep import plots

        return plots.trade_off_curve(found)

    deliver([found.table()], records, data, format, output, plot, draw, cautions=True)


class _Poses:
    """The poses that quantities are looked at in: one, or a range of travel."""

    def __init__(
        self,
        axle: Axle,
        start: float | None,
        stop: float | None,
        step: float | None,
        inputs: Mapping[str, float],
        travel_at: TravelAt,
    ) -> None:
        self._travels = Range("travel", *limits_of(axle, "travel"), start, stop, step, None, usual_step=10.0)
        self._inputs = {name: value for name, value in inputs.items() if value}
        self._travel_at = travel_at

    def quantity(self, text: str, option: str) -> Quantity:
        """The quantity that a text names."""
        kind, colon, name = (part.strip() for part in text.rpartition(":"))
        over = kind or "value"
        if over not in OVER or (colon and not kind):
            raise typer.BadParameter(f"--{option} {text!r} is neither READING nor one of {_KINDS} before it")
        inputs: dict[str, Any] = dict(self._inputs)
        if over != "value":
            inputs["travel"] = np.asarray(self._travels.values())
        return Quantity(reading_names([name], ())[0], cast(Over, over), inputs, self._travel_at.value)

    def limit(self, text: str) -> Limit:
        """The limit that a text names."""
        name, _, ends = text.partition("=")
        bounds = low_and_high(ends)
        if bounds is None:
            raise typer.BadParameter(f"--limit {text!r} is not QUANTITY=LOW:HIGH, LOW: or :HIGH")
        return Limit(self.quantity(name, "limit"), *bounds)


def _aim(text: str) -> Aim:
    if text in ("least", "most"):
        return cast(Aim, text)
    try:
        return float(text)
    except ValueError:
        raise typer.BadParameter(f"--aim {text!r} is neither least, most nor a number") from None


def _moves(given: Sequence[str]) -> dict[str | tuple[str, ...], tuple[float, float]]:
    moves: dict[str | tuple[str, ...], tuple[float, float]] = {}
    for text in given:
        name, _, ends = text.partition("=")
        low, high = low_and_high(ends) or (None, None)
        if not name.strip() or low is None or high is None:
            raise typer.BadParameter(f"--move {text!r} is not NAME=LOW:HIGH")
        name = name.strip()
        if name in moves:
            raise InputError(f"move: {name} is given twice", name="move", value=text)
        moves[name] = (low, high)
    return moves
