"""The commands ``sensitivities``, ``spread`` and ``fit``: how sure numbers are, and how measurements make them surer."""

from __future__ import annotations

import csv
import io
import json
import math
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, TypeAlias

import typer
import xarray as xr

from strutsweep._printed import Table
from strutsweep.command_line.arguments import (
    OUTPUT_PANEL,
    CarName,
    Force,
    Format,
    FormatChoice,
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
from strutsweep.command_line.delivery import print_cautions, save_plot
from strutsweep.command_line.endings import say
from strutsweep.command_line.layout import Column, Printer, Sheet
from strutsweep.command_line.records import check_plot_path, writing
from strutsweep.errors import FileError, InputError
from strutsweep.fitting import fit as fitted_to
from strutsweep.measurements import Measurements
from strutsweep.scattering import normal, triangular, uniform, unit_of
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

ToleranceOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--tolerance",
        metavar="NAME=VALUE",
        show_default=False,
        rich_help_panel=SURE_PANEL,
        help="What varies and how much, mm or deg; repeat for more. NAME: points, a point (strut.top), a coordinate"
        " (strut.top.y), a setting (mount_in), wheel.camber, or a part that moves as one (knuckle, subframe). VALUE: plus"
        " or minus this, all of it equally likely (uniform:HALF); or triangular:HALF, plus or minus this, likeliest in the"
        f" middle; or normal:SD, one standard deviation. Unless given: {USUAL_TOLERANCE[0]}.",
    ),
]
DataPath: TypeAlias = Annotated[
    Path | None,
    typer.Option(
        "--output",
        metavar="FILE",
        show_default=False,
        rich_help_panel=OUTPUT_PANEL,
        help="Write the data to a file instead: .csv or .json.",
    ),
]


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("sensitivities", help=help_of(sensitivities), epilog=example_text(*SENSITIVITY_EXAMPLES))(sensitivities)
    app.command("spread", help=help_of(spread), epilog=example_text(*SPREAD_EXAMPLES))(spread)
    app.command("fit", help=help_of(fit), epilog=example_text(*FIT_EXAMPLES))(fit)


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
    _check_paths(output, plot)
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

    _deliver(tables, records, data, format, output, plot, draw, cautions=any(settings.values()))


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
            help="Tell the chance of staying within limits, in the reading's unit (deg/mm for a rate); leave one end empty"
            " for none.",
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

    Samples of all that varies at once, and beside them the linear estimate. Static camber and toe stay as measured on the
    car unless they are given tolerances of their own (wheel.camber, wheel.toe). --plot draws histograms.
    """
    _check_paths(output, plot)
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
        for key in ("nominal", "sample_mean", "standard_deviation", "linear_mean", "linear_standard_deviation", "reached"):
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

    _deliver([found.table()], records, data, format, output, plot, draw, cautions=any(settings.values()))


def fit(
    car: CarName,
    measured: Annotated[
        Path,
        typer.Argument(metavar="MEASURED", show_default=False, help="A measurement file, .toml or .csv."),
    ],
    prior: Annotated[
        list[str] | None,
        typer.Option(
            "--prior",
            metavar="NAME=VALUE",
            show_default=False,
            rich_help_panel=SURE_PANEL,
            help="What may be wrong with the points and how much, as --tolerance of spread; inf for anything. Unless"
            f" given: {', '.join(USUAL_PRIOR)}.",
        ),
    ] = None,
    mended: Annotated[
        Path | None,
        typer.Option(
            "--mended",
            metavar="FILE",
            show_default=False,
            rich_help_panel=OUTPUT_PANEL,
            help="Write the car with its mended points to a car file.",
        ),
    ] = None,
    force: Force = False,
    side: SideChoice = Side.LEFT,
    format: FormatChoice = None,
    output: DataPath = None,
    plot: PlotPath = None,
) -> None:
    """What do measured curves say of the points?

    Points are moved, no farther than is likely, until computed toe, camber and the rest agree with what gauges showed. The
    report says what moved, how well it fits, and which combinations of points the measurements cannot tell apart. --plot
    draws what the measurements taught.
    """
    _check_paths(output, plot)
    if mended is not None and mended.exists() and not force:
        raise FileError(f"{mended}: there is such a file; --force overwrites it", path=mended, reason="exists")
    axle = load_car(car)
    found = fitted_to(
        corner_of(axle, side), Measurements.load(measured), _tolerances(prior or USUAL_PRIOR, "prior", flat=True)
    )
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
    _deliver([found.table()], records, data, format, output, plot, draw, words)
    if mended is not None:
        own_right = None if axle.right == axle.left.mirror() else axle.right
        corners = (found.corner, own_right) if side is Side.LEFT else (axle.left, found.corner)
        car_with = axle.with_corners(*corners)
        writing(mended, lambda: car_with.save(mended))
        say(f"wrote {mended}: {axle.name}, {side.value} corner mended")
        if found.setting:
            told = ", ".join(f"{name} {value:+.3f} {unit_of(name)}" for name, value in found.setting.items())
            say(f"a car file holds no settings; fitted: {told}")
        print_cautions(Printer(sys.stderr))


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
        name, equals, ends = (part.strip() for part in text.partition("="))
        low, colon, high = (part.strip() for part in ends.partition(":"))
        try:
            limits[reading_names([name], ())[0]] = (float(low) if low else None, float(high) if high else None)
        except ValueError:
            equals = ""
        if not equals or not colon or not (low or high):
            raise typer.BadParameter(f"--limit {text!r} is not READING=LOW:HIGH, LOW: or :HIGH")
    return limits or None


def _check_paths(output: Path | None, plot: Path | None) -> None:
    check_plot_path(plot)
    if output is not None and output.suffix.lower() not in (".csv", ".json"):
        raise InputError(f"{output}: data can be written as .csv, .json", name="path", value=output.suffix)


def _deliver(
    tables: Sequence[Table],
    records: Sequence[Mapping[str, Any]],
    data: xr.Dataset,
    format: Format | None,
    output: Path | None,
    plot: Path | None,
    draw: Callable[[], Figure],
    words: Sequence[str] = (),
    *,
    cautions: bool = False,
) -> None:
    """Hand over what was found in every form that was asked for."""
    if output is not None:
        text = _csv(records) if output.suffix.lower() == ".csv" else _json(records, data)
        writing(output, lambda: output.write_text(text, encoding="utf-8", newline=""))
        say(f"wrote {output}: {len(records)} rows")
    if plot is not None:
        save_plot(draw(), plot)
        say(f"wrote {plot}")
    shown = format or (Format.TABLE if output is None else None)
    if shown is Format.TABLE:
        printer = Printer()
        for table in tables:
            columns = [
                Column([head], [row[place] for row in table.rows], words=not table.is_numeric(place))
                for place, head in enumerate(table.heads)
            ]
            printer.sheet(Sheet(table.title, columns[0], columns[1:]))
            printer.notes(*table.notes)
            if table is not tables[-1]:
                printer.gap()
        if words:
            printer.gap()
            printer.notes(*words)
    elif shown is not None:
        sys.stdout.write(_csv(records) if shown is Format.CSV else _json(records, data))
    if cautions:
        print_cautions(Printer() if shown is Format.TABLE else Printer(sys.stderr))


def _csv(records: Sequence[Mapping[str, Any]]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, list(records[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(
        {key: "" if isinstance(value, float) and math.isnan(value) else value for key, value in record.items()}
        for record in records
    )
    return text.getvalue()


def _json(records: Sequence[Mapping[str, Any]], data: xr.Dataset) -> str:
    rows = [
        {key: None if isinstance(value, float) and not math.isfinite(value) else value for key, value in record.items()}
        for record in records
    ]
    about = {name: value for name, value in data.attrs.items() if isinstance(value, (str, int, float))}
    return json.dumps(about | {"rows": rows}, indent=2, allow_nan=False) + "\n"
