"""What the commands have in common on the command line: the car, the side, the settings, the way out."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Final, TypeAlias

import typer

from strutsweep._core import Axle, Corner, demo, demos, load
from strutsweep.errors import FileError, InputError
from strutsweep.words import MOTIONS, READINGS, SETTINGS, TRAVEL_AT

__all__ = [
    "CarName",
    "Force",
    "Format",
    "FormatChoice",
    "MeasuredSideChoice",
    "OutputPath",
    "PlotPath",
    "RackValue",
    "ReadingNames",
    "RollValue",
    "Side",
    "SideChoice",
    "TravelAt",
    "TravelAtChoice",
    "TravelValue",
    "corner_of",
    "example_text",
    "file_option",
    "help_of",
    "in_place_of",
    "load_car",
    "reading_names",
    "takes_settings",
]

DEMO_PREFIX: Final = "demo:"
EVERY_READING: Final = "all"

SETTINGS_PANEL: Final = "Settings and pose (zero: as measured)"
RANGE_PANEL: Final = "Range"
OUTPUT_PANEL: Final = "What to show, and where"


class Side(StrEnum):
    """The corners of a car."""

    LEFT = "left"
    RIGHT = "right"


class TravelAt(StrEnum):
    """Where travel can be measured."""

    GROUND = "ground"
    HUB = "hub"
    STRUT = "strut"


class Format(StrEnum):
    """What standard output can carry."""

    TABLE = "table"
    CSV = "csv"
    JSON = "json"


def _input_help(words: dict[str, str]) -> str:
    text = f"{words['long_name']}, {words['units']}; positive: {words['positive']}."
    return text[0].upper() + text[1:]


def file_option(name: str, what: str) -> Any:
    """An option that names a file to write."""
    return typer.Option(name, metavar="FILE", show_default=False, rich_help_panel=OUTPUT_PANEL, help=what)


_HELD: Final = ", ".join(f"{place} ({held})" for place, held in TRAVEL_AT.items())

CarName: TypeAlias = Annotated[
    str,
    typer.Argument(
        metavar="CAR", show_default=False, help=f"A car file (TOML), or {DEMO_PREFIX}NAME for an invented one."
    ),
]
SideChoice: TypeAlias = Annotated[
    Side, typer.Option("--side", rich_help_panel=OUTPUT_PANEL, help="Which corner of the car.")
]
MeasuredSideChoice: TypeAlias = Annotated[
    Side | None,
    typer.Option(
        "--side",
        show_default=False,
        rich_help_panel=OUTPUT_PANEL,
        help="Which corner of the car: the one that the measurement file says, or the left one, unless given.",
    ),
]
TravelAtChoice: TypeAlias = Annotated[
    TravelAt,
    typer.Option(
        "--travel-at",
        metavar="PLACE",
        rich_help_panel=SETTINGS_PANEL,
        help=f"Where travel is measured, and so what a changed setting holds: {_HELD}.",
    ),
]
TravelValue: TypeAlias = Annotated[
    float,
    typer.Option(
        "--travel",
        metavar="MM",
        show_default=False,
        rich_help_panel=SETTINGS_PANEL,
        help=_input_help(MOTIONS["travel"]),
    ),
]
RackValue: TypeAlias = Annotated[
    float,
    typer.Option(
        "--rack", metavar="MM", show_default=False, rich_help_panel=SETTINGS_PANEL, help=_input_help(MOTIONS["rack"])
    ),
]
RollValue: TypeAlias = Annotated[
    float,
    typer.Option(
        "--roll", metavar="DEG", show_default=False, rich_help_panel=SETTINGS_PANEL, help=_input_help(MOTIONS["roll"])
    ),
]
ReadingNames: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--reading",
        metavar="NAME",
        show_default=False,
        rich_help_panel=OUTPUT_PANEL,
        help=f"A reading to show; repeat for more, or '{EVERY_READING}'. Names: strutsweep readings.",
    ),
]
FormatChoice: TypeAlias = Annotated[
    Format | None,
    typer.Option(
        "--format",
        show_default=False,
        rich_help_panel=OUTPUT_PANEL,
        help="What to print: a table unless --output is given. Data keeps every digit.",
    ),
]
OutputPath: TypeAlias = Annotated[
    Path | None, file_option("--output", "Write the data to a file instead: .csv, .json or .nc (NetCDF).")
]
PlotPath: TypeAlias = Annotated[Path | None, file_option("--plot", "Draw it too: .png, .svg or .pdf.")]
Force: TypeAlias = Annotated[bool, typer.Option("--force", help="Overwrite the file if there is one.")]


def help_of(command: Callable[..., None]) -> str:
    """A command's docstring with each paragraph on one line, for a terminal to break."""
    paragraphs = inspect.cleandoc(command.__doc__ or "").split("\n\n")
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in paragraphs)


def example_text(*examples: str) -> str:
    """Examples as the end of a command's help, one a line."""
    return "\n\n".join(["[bold]Examples[/bold]", *examples])


def takes_settings(*, but: Sequence[str] = ()) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command an option for each field of a setting, in place of its parameter ``settings``.

    The fields, their units and their signs are the engine's: none is spelled here. The command gets those that were
    chosen as a dictionary of numbers.
    """
    names = [name for name in SETTINGS if name not in but]
    options: dict[str, tuple[Any, Any]] = {
        name: (
            0.0,
            Annotated[
                float,
                typer.Option(
                    "--" + name.replace("_", "-"),
                    metavar=SETTINGS[name]["units"].upper(),
                    show_default=False,
                    rich_help_panel=SETTINGS_PANEL,
                    help=_input_help(SETTINGS[name]),
                ),
            ],
        )
        for name in names
    }
    return in_place_of("settings", options, dict)


def in_place_of(
    parameter: str, options: Mapping[str, tuple[Any, Any]], gather: Callable[[Mapping[str, Any]], Any]
) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command several options, by name their default and their annotation, in place of one parameter.

    The command gets what `gather` makes of their values.
    """

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        @functools.wraps(command)
        def with_options(**given: Any) -> None:
            chosen = {name: given.pop(name) for name in options}
            command(**{parameter: gather(chosen)}, **given)

        parameters: list[inspect.Parameter] = []
        for one in inspect.signature(command, eval_str=True).parameters.values():
            if one.name == parameter:
                parameters.extend(
                    inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=annotation)
                    for name, (default, annotation) in options.items()
                )
            else:
                parameters.append(one.replace(kind=inspect.Parameter.KEYWORD_ONLY))
        with_options.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
        with_options.__annotations__ = {one.name: one.annotation for one in parameters}
        return with_options

    return decorate


def load_car(name: str) -> Axle:
    """The car of a ``CAR`` argument.

    Raises
    ------
    FileError, GeometryError
        As `strutsweep.load`.
    InputError
        No demonstration car of this name.
    """
    if name.startswith(DEMO_PREFIX):
        return demo_car(name.removeprefix(DEMO_PREFIX))
    try:
        return load(name)
    except FileError as error:
        if name in demos() and not Path(name).exists():
            raise FileError(
                f"{error}; the invented car is {DEMO_PREFIX}{name}", path=name, reason=error.reason
            ) from None
        raise


def demo_car(name: str) -> Axle:
    """The demonstration car of this name, with or without its prefix."""
    name = name.removeprefix(DEMO_PREFIX)
    if name not in demos():
        known = ", ".join(DEMO_PREFIX + known for known in demos())
        raise InputError(f"there is no invented car {DEMO_PREFIX}{name}; there are {known}", name="car", value=name)
    return demo(name)


def corner_of(car: Axle, side: Side) -> Corner:
    """The corner of this side."""
    return car.left if side is Side.LEFT else car.right


def reading_names(given: Sequence[str] | None, usual: Sequence[str]) -> list[str]:
    """Readings that were asked for, or the usual ones.

    Spaces and hyphens will do for the underscores of a name. An unknown name is the sweep's to refuse.
    """
    if not given:
        return list(usual)
    names = [name.strip().lower().replace("-", "_").replace(" ", "_") for name in given]
    return list(READINGS) if EVERY_READING in names else list(dict.fromkeys(names))
