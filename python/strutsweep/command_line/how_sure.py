"""The commands ``sensitivities``, ``spread``, ``fit`` and ``next-measurements``.

How sure numbers are, how measurements make them surer, and which measurement would do so most.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, TypeAlias

import typer

from strutsweep.command_line.arguments import (
    OUTPUT_PANEL,
    CarName,
    Force,
    FormatChoice,
    MeasuredSideChoice,
    PlotPath,
    RackValue,
    ReadingNames,
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
from strutsweep.command_line.delivery import print_cautions
from strutsweep.command_line.endings import say
from strutsweep.command_line.findings import (
    DataPath,
    MendedPath,
    check_mended,
    check_paths,
    deliver,
    low_and_high,
    write_mended,
)
from strutsweep.command_line.layout import Printer
from strutsweep.distributions import normal, triangular, uniform
from strutsweep.errors import InputError
from strutsweep.fitting import DOUBTED, IMPROBABLE
from strutsweep.fitting import fit as fitted_to
from strutsweep.measurements import Measurements
from strutsweep.next_measuring import narrowed, narrowed_table
from strutsweep.sensitivity import sensitivities as slopes_of
from strutsweep.spreading import USUAL_READINGS
from strutsweep.spreading import spread as spread_of
from strutsweep.words import READINGS

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["add_to"]

SURE_PANEL: Final = "What is not known exactly"
USUAL_TOLERANCE: Final = ("points=1",)
USUAL_PRIOR: Final = ("points=normal:2", "wheel.camber=normal:0.1", "wheel.toe=normal:0.1")
SENSITIVE_READINGS: Final = ("caster", "scrub_radius", "bump_steer", "roll_centre_height")
_KINDS: Final = {"uniform": uniform, "normal": normal, "triangular": triangular}

SENSITIVITY_EXAMPLES: Final = (
    "strutsweep sensitivities demo:gravel_hatch --reading bump_steer",
    "strutsweep sensitivities demo:gravel_hatch --tolerance points=normal:0.5",
)
SPREAD_EXAMPLES: Final = (
    "strutsweep spread demo:hillclimb_saloon",
    "strutsweep spread demo:hillclimb_saloon --limit caster=5:6 --seed 1",
)
FIT_EXAMPLES: Final = (
    "strutsweep fit demo:gravel_hatch measured.toml",
    "strutsweep fit car.toml measured.csv --mended mended.toml --plot a.png",
)
NEXT_EXAMPLES: Final = (
    "strutsweep next-measurements demo:gravel_hatch candidates.toml --reading toe --travel 60",
    "strutsweep next-measurements car.toml candidates.csv --measured measured.csv --reading bump_steer",
)

ToleranceOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--tolerance",
        metavar="NAME=VALUE",
        show_default=False,
        rich_help_panel=SURE_PANEL,
        help="What varies and how much, mm or deg; repeat for more. NAME: points, a point (strut.top), a coordinate"
        " (strut.top.y), a setting (mount_in), wheel.camber, or a part that moves as one (knuckle, subframe). VALUE:"
        " plus or minus this, all of it equally likely (uniform:HALF); or triangular:HALF, plus or minus this,"
        f" likeliest in the middle; or normal:SD, one standard deviation. Unless given: {USUAL_TOLERANCE[0]}.",
    ),
]
PriorOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--prior",
        metavar="NAME=VALUE",
        show_default=False,
        rich_help_panel=SURE_PANEL,
        help="What may be wrong with the points and how much, as --tolerance of spread; inf for anything. Unless"
        f" given: {', '.join(USUAL_PRIOR)}.",
    ),
]


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("sensitivities", help=help_of(sensitivities), epilog=example_text(*SENSITIVITY_EXAMPLES))(sensitivities)
    app.command("spread", help=help_of(spread), epilog=example_text(*SPREAD_EXAMPLES))(spread)
    app.command("fit", help=help_of(fit), epilog=example_text(*FIT_EXAMPLES))(fit)
    app.command("next-measurements", help=help_of(next_measurements), epilog=example_text(*NEXT_EXAMPLES))(
        next_measurements
    )


@takes_settings()
def sensitivities(
    car: CarName,
    tolerance: ToleranceOption = None,
    most: Annotated[
        int, typer.Option("--most", min=1, metavar="N", rich_help_panel=OUTPUT_PANEL, help="How many rows a reading.")
    ] = 8,
    side: SideChoice = Side.LEFT,
    reading: ReadingNames = None,
    format: FormatChoice = None,
    output: DataPath = None,
    plot: PlotPath = None,
    *,
    settings: dict[str, float],
    travel: TravelValue = 0.0,
    rack: RackValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """Which dimension should be measured with the good tool?

    For each reading what scatters it most: the exact slope in every dimension, times that dimension's tolerance. --plot
    draws the first reading.
    """
    check_paths(output, plot)
    corner = corner_of(load_car(car), side)
    inputs: dict[str, Any] = {"travel": travel, "rack": rack, **settings}
    found = slopes_of(
        corner,
        _tolerances(tolerance or USUAL_TOLERANCE, "tolerance"),
        readings=reading_names(reading, SENSITIVE_READINGS),
        travel_at=travel_at.value,
        **inputs,
    )
    data = found.data
    names = [str(name) for name in data.reading.values]
    records = [
        {
            "reading": name,
            "reading_unit": READINGS[name]["units"],
            "source": str(source),
            "source_unit": str(data.source_unit.sel(source=source).item()),
            "source_standard_deviation": float(data.source_deviation.sel(source=source)),
            "effect": float(data.effect.sel(reading=name, source=source)),
            "share": float(data.share.sel(reading=name, source=source)),
            "left_if_known": float(data.left_if_known.sel(reading=name, source=source)),
        }
        for name in names
        for source in data.source.values
    ]
    tables = [found.ranked(name, most=most) for name in names]

    def draw() -> Figure:
        from strutsweep import plots

        return plots.tornado(found, names[0], most=most)

    deliver(tables, records, data, format, output, plot, draw, cautions=any(settings.values()))


@takes_settings()
def spread(
    car: CarName,
    tolerance: ToleranceOption = None,
    limit: Annotated[
        list[str] | None,
        typer.Option(
            "--limit",
            metavar="READING=LOW:HIGH",
            show_default=False,
            rich_help_panel=SURE_PANEL,
            help="Tell the chance of staying within limits, in the reading's unit (deg/mm for a rate); leave one end"
            " empty for none.",
        ),
    ] = None,
    samples: Annotated[
        int, typer.Option("--samples", metavar="N", rich_help_panel=SURE_PANEL, help="How many samples, at least.")
    ] = 65_536,
    seed: Annotated[
        int | None,
        typer.Option(
            "--seed", metavar="N", show_default=False, rich_help_panel=SURE_PANEL, help="Seed of the random numbers."
        ),
    ] = None,
    side: SideChoice = Side.LEFT,
    reading: ReadingNames = None,
    format: FormatChoice = None,
    output: DataPath = None,
    plot: PlotPath = None,
    *,
    settings: dict[str, float],
    travel: TravelValue = 0.0,
    rack: RackValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """How sure are the readings, when points and settings are only so sure?

    Samples of all that varies at once, and beside them the linear estimate. Static camber and toe stay as measured on
    the car unless they are given tolerances of their own (wheel.camber, wheel.toe). --plot draws histograms.
    """
    check_paths(output, plot)
    inputs: dict[str, Any] = {"travel": travel, "rack": rack, **settings}
    found = spread_of(
        corner_of(load_car(car), side),
        _tolerances(tolerance or USUAL_TOLERANCE, "tolerance"),
        readings=reading_names(reading, USUAL_READINGS),
        limits=_limits(limit or ()),
        samples=samples,
        seed=seed,
        travel_at=travel_at.value,
        **inputs,
    )
    data = found.data
    records = []
    for name in map(str, data.reading.values):
        one = data.sel(reading=name)
        record: dict[str, Any] = {"reading": name, "unit": READINGS[name]["units"]}
        for key in (
            "nominal",
            "sample_mean",
            "standard_deviation",
            "linear_mean",
            "linear_standard_deviation",
            "reached",
        ):
            record[key] = float(one[key])
        for percent in data.percentile.values:
            record[f"percentile_{percent:g}"] = float(one.percentiles.sel(percentile=percent))
        if "chance" in data:
            record["chance"] = float(one.chance)
            record["chance_error"] = float(one.chance_error)
        # A drawn seed makes the same numbers again.
        record |= {key: data.attrs[key] for key in ("samples", "method", "seed")}
        records.append(record)

    def draw() -> Figure:
        from strutsweep import plots

        return plots.histograms(found)

    deliver([found.table()], records, data, format, output, plot, draw, cautions=any(settings.values()))


def _measured_side(*sheets: Measurements) -> Side:
    """The corner that measurement files say they are of."""
    said = [sheet.side for sheet in sheets if sheet.side]
    return Side(said[0]) if said else Side.LEFT


def fit(
    car: CarName,
    measured: Annotated[
        Path,
        typer.Argument(metavar="MEASURED", show_default=False, help="A measurement file, .toml or .csv."),
    ],
    prior: PriorOption = None,
    mended: MendedPath = None,
    force: Force = False,
    side: MeasuredSideChoice = None,
    format: FormatChoice = None,
    output: DataPath = None,
    plot: PlotPath = None,
) -> None:
    """What do measured curves say of the points?

    Points are moved, no farther than is likely, until computed toe, camber and the rest agree with what gauges showed.
    The report says what moved, how well it fits, and which combinations of points the measurements cannot tell apart.
    --plot draws what the measurements taught.
    """
    check_paths(output, plot)
    check_mended(mended, force)
    axle = load_car(car)
    sheet = Measurements.load(measured)
    side = side or _measured_side(sheet)
    found = fitted_to(corner_of(axle, side), sheet, _tolerances(prior or USUAL_PRIOR, "prior", flat=True))
    data = found.unknowns
    records = [
        {
            "unknown": str(name),
            "unit": str(data.unit.values[place]),
            "moved": float(data.moved[place]),
            "standard_deviation_before": float(data.before[place]),
            "standard_deviation_after": float(data.after[place]),
        }
        for place, name in enumerate(data.source.values)
    ]

    def draw() -> Figure:
        from strutsweep import plots

        return plots.learned(found)

    words = found.report().split("\n\n", 1)[1].split("\n")
    deliver([found.table()], records, data, format, output, plot, draw, words)
    if mended is not None:
        write_mended(mended, axle, side, found.corner, found.setting, "fitted")
        if found.probability < IMPROBABLE:
            say(f"{mended}: the fit is improbable: {DOUBTED}")
        print_cautions(Printer(sys.stderr))


@takes_settings()
def next_measurements(
    car: CarName,
    candidates: Annotated[
        Path,
        typer.Argument(
            metavar="CANDIDATES",
            show_default=False,
            help="A measurement file, .toml or .csv, of what could be measured; its values do not matter, its"
            " accuracies do.",
        ),
    ],
    reading: Annotated[
        str,
        typer.Option(
            "--reading",
            metavar="NAME",
            show_default=False,
            rich_help_panel=SURE_PANEL,
            help="The reading that is to be known better, in the pose below. Names: strutsweep readings.",
        ),
    ],
    measured: Annotated[
        Path | None,
        typer.Option(
            "--measured",
            metavar="FILE",
            show_default=False,
            rich_help_panel=SURE_PANEL,
            help="What was measured already: a measurement file. Unless given, what is known is --prior alone.",
        ),
    ] = None,
    prior: PriorOption = None,
    side: MeasuredSideChoice = None,
    format: FormatChoice = None,
    output: DataPath = None,
    *,
    settings: dict[str, float],
    travel: TravelValue = 0.0,
    rack: RackValue = 0.0,
    travel_at: TravelAtChoice = TravelAt.GROUND,
) -> None:
    """What should be measured next to know a reading better?

    Each curve of the file by itself: the standard deviation of the wanted reading that it would leave, the most useful
    first.
    """
    check_paths(output, None)
    already = Measurements.none() if measured is None else Measurements.load(measured)
    offered = Measurements.load(candidates)
    corner = corner_of(load_car(car), side or _measured_side(already, offered))
    known = fitted_to(corner, already, _tolerances(prior or USUAL_PRIOR, "prior", flat=True))
    inputs = {name: value for name, value in {"travel": travel, "rack": rack, **settings}.items() if value}
    wanted = reading_names([reading], ())[0]
    found = narrowed(known, offered, wanted, travel_at=travel_at.value, **inputs)
    records = [
        {
            "candidate": str(name),
            "numbers": int(found.numbers[place]),
            "reading": wanted,
            "unit": READINGS[wanted]["units"],
            "standard_deviation_now": float(found.now),
            "standard_deviation_left": float(found.left[place]),
        }
        for place, name in enumerate(found.candidate.values)
    ]
    deliver([narrowed_table(found)], records, found, format, output, None, None)


def _tolerances(given: Sequence[str], option: str, *, flat: bool = False) -> dict[str | tuple[str, ...], Any]:
    found: dict[str | tuple[str, ...], Any] = {}
    for text in given:
        name, equals, value = (part.strip() for part in text.partition("="))
        kind, colon, size = value.rpartition(":")
        kind = kind.strip() or "uniform"
        try:
            number = float(size)
        except ValueError:
            number = math.nan
        if not equals or not name or math.isnan(number) or (colon and kind not in _KINDS):
            known = ", ".join(f"{known}:NUMBER" for known in _KINDS)
            raise typer.BadParameter(f"--{option} {text!r} is not NAME=NUMBER, nor NAME= one of {known}")
        if name in found:
            raise InputError(f"{option}: {name} is given twice", name=option, value=text)
        # What is no tolerance is refused where tolerances are, with its name.
        sound = math.isfinite(number) and number > 0.0
        found[name] = _KINDS[kind](number) if sound and kind != "uniform" else number
    return found


def _limits(given: Sequence[str]) -> dict[str, tuple[float | None, float | None]] | None:
    limits: dict[str, tuple[float | None, float | None]] = {}
    for text in given:
        name, _, ends = text.partition("=")
        bounds = low_and_high(ends)
        if bounds is None:
            raise typer.BadParameter(f"--limit {text!r} is not READING=LOW:HIGH, LOW: or :HIGH")
        limits[reading_names([name], ())[0]] = bounds
    return limits or None
