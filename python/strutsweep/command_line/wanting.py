"""What is wanted of a car, as commands take it: four angles by name, and any reading of either side by ``--want``."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

import typer

from strutsweep.command_line.arguments import in_place_of
from strutsweep.errors import InputError
from strutsweep.setting_up._kinds import SIDES, Side
from strutsweep.setting_up.quantities import angle_from_text, length_from_text, toe_angle
from strutsweep.words import MOTIONS, READINGS, SETTINGS

__all__ = ["ANGLES", "WANTED_PANEL", "Wanted", "amounts_by_side", "angle_of", "free_of", "name_of", "takes_wanted"]

WANTED_PANEL: Final = "What is wanted (deg, or text such as -1°30')"

ANGLES: Final = ("camber", "caster", "toe", "kingpin_inclination")
"""Readings that have an option of their own."""

_SIDE: Final = re.compile(r"\s*(?:(?P<side>\w+)\s*\.)?\s*(?P<name>[^=.]*?)\s*=\s*(?P<value>.*?)\s*$")


@dataclass(frozen=True)
class Wanted:
    """One reading that is wanted.

    ``side`` is None where it is wanted of both, ``motion`` says in which motion, ``text`` how it was written.
    """

    name: str
    value: str
    side: Side | None
    motion: Mapping[str, float]
    text: str

    def number(self, toe_diameter: float | None = None, *, advice: str = "write degrees") -> float:
        """Its value, in the reading's unit; ``advice`` for a toe length whose diameter is not known."""
        if READINGS.get(self.name, {}).get("units", "deg") == "deg":
            return angle_of(self.name, self.value, toe_diameter, advice=advice)
        return _number(self.value, self.text)


def takes_wanted(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command ``--camber`` and its like, and ``--want``, in place of its parameter ``wanted``."""
    signs = {name: f"{READINGS[name]['long_name']}, positive: {READINGS[name]['positive']}." for name in ANGLES}
    options: dict[str, tuple[Any, Any]] = {
        name: (
            None,
            Annotated[
                str | None,
                typer.Option(
                    "--" + name.replace("_", "-"),
                    metavar="ANGLE",
                    show_default=False,
                    rich_help_panel=WANTED_PANEL,
                    help=signs[name][0].upper() + signs[name][1:],
                ),
            ],
        )
        for name in ANGLES
    }
    options["want"] = (
        None,
        Annotated[
            list[str] | None,
            typer.Option(
                "--want",
                metavar="[SIDE.]NAME=VALUE",
                show_default=False,
                rich_help_panel=WANTED_PANEL,
                help="Any reading, or one side's: scrub_radius=5, left.camber=-1.3; repeat for more. In another motion,"
                " where that can be planned: toe=0.1@travel=30.",
            ),
        ],
    )

    def gather(given: Mapping[str, Any]) -> list[Wanted]:
        both = [Wanted(name, given[name], None, {}, given[name]) for name in ANGLES if given[name] is not None]
        return [*both, *map(_wanted, given["want"] or ())]

    return in_place_of("wanted", options, gather)(command)


def _wanted(text: str) -> Wanted:
    """``toe=0.1``, ``left.camber=-1.3`` or ``toe=0.1@travel=30,rack=5``."""
    what, _, where = text.partition("@")
    side, name, value = _side_name_value("want", what, text, "a reading and its value, such as camber=-1.5")
    motion: dict[str, float] = {}
    for part in where.split(",") if where else ():
        key, equals, amount = part.partition("=")
        if name_of(key) not in MOTIONS or not equals:
            message = f"--want {text!r}: after @ stand {', '.join(MOTIONS)} and a value, such as travel=30"
            raise InputError(message, name="want", value=text)
        motion[name_of(key)] = _number(amount, text)
    return Wanted(name, value, side, motion, text)


def _side_name_value(option: str, what: str, text: str, example: str) -> tuple[Side | None, str, str]:
    found = _SIDE.match(what)
    if found is None or not found["name"] or not found["value"]:
        raise InputError(f"--{option} {text!r}: give {example}", name=option, value=text)
    if found["side"] is None:
        return None, name_of(found["name"]), found["value"]
    for side in SIDES:
        if side == found["side"].lower():
            return side, name_of(found["name"]), found["value"]
    raise InputError(
        f"--{option} {text!r}: there is no side {found['side']!r}: left or right", name=option, value=text
    )


def angle_of(name: str, text: str, toe_diameter: float | None = None, *, advice: str = "write degrees") -> float:
    """An angle as it was typed: a number of degrees, degrees and minutes, or a toe length at a diameter.

    Raises
    ------
    InputError
        Neither of these, or a length without its diameter.
    """
    try:
        return float(text)
    except ValueError:
        pass
    angle = angle_from_text(text)
    if angle is not None:
        return angle
    length = length_from_text(text)
    if length is not None and name == "toe":
        if toe_diameter is None:
            raise InputError(f"toe = {text!r} is a length: {advice}", name="toe", value=text)
        return toe_angle(length, diameter=toe_diameter)
    raise InputError(f'{name} = {text!r} is no angle: write degrees, or "1°30\'"', name=name, value=text)


def amounts_by_side(option: str, texts: Sequence[str] | None) -> dict[Side, dict[str, float]]:
    """Amounts of adjusters by side, written as ``left.mount_in=4``.

    Raises
    ------
    InputError
        Anything else, or no such side or adjuster.
    """
    amounts: dict[Side, dict[str, float]] = {"left": {}, "right": {}}
    example = f"a side, an adjuster and a number, as left.mount_in=4; adjusters are {', '.join(SETTINGS)}"
    for text in texts or ():
        side, name, value = _side_name_value(option, text, text, example)
        if side is None or name not in SETTINGS:
            raise InputError(f"--{option} {text!r}: give {example}", name=option, value=text)
        amounts[side][name] = _number(value, text)
    return amounts


def free_of(texts: Iterable[str] | None) -> dict[str, float | tuple[float, float] | None]:
    """Adjusters and how far they may go, written as ``mount_in``, ``mount_in=25`` or ``mount_in=-5:15``."""
    free: dict[str, float | tuple[float, float] | None] = {}
    for text in texts or ():
        name, equals, limit = text.partition("=")
        least, colon, most = limit.partition(":")
        if not equals:
            free[name_of(name)] = None
        elif colon:
            free[name_of(name)] = (_number(least, text), _number(most, text))
        else:
            free[name_of(name)] = _number(least, text)
    return free


def name_of(text: str) -> str:
    """A name as it was typed; spaces and hyphens will do for its underscores."""
    return text.strip().lower().replace("-", "_").replace(" ", "_")


def _number(text: str, whole: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError(f"{whole!r}: {text!r} is not a number", name="want", value=whole) from None
