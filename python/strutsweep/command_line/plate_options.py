"""What the commands for adjustable strut tops have in common: the box, the band, the hardware, first checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Final, TypeAlias

import numpy as np
import typer

from strutsweep import top_plates
from strutsweep._core import Axle, Corner, TopPlate
from strutsweep.command_line.arguments import RANGE_PANEL, TravelAt
from strutsweep.errors import InputError
from strutsweep.top_plates.hardware import MOST_TRAVEL_MM

__all__ = [
    "CamberBox",
    "CasterBox",
    "CasterBy",
    "FitChoice",
    "FitOption",
    "Heights",
    "Marks",
    "MovedOver",
    "OffsetOption",
    "Pair",
    "Seating",
    "Toe",
    "ToeChoice",
    "Tolerance",
    "box_of",
    "check_band",
    "check_heights",
    "check_number",
    "plate_of",
    "trim_text",
]


class Toe(StrEnum):
    """What becomes of toe when the top moves."""

    PUT_BACK = "put_back"
    AS_IT_COMES = "as_it_comes"


class Marks(StrEnum):
    """What marks count."""

    DEGREES = "degrees"
    MILLIMETRES = "millimetres"


class FitChoice(StrEnum):
    """Clearance of bolts in slots."""

    FINE = "fine"
    MEDIUM = "medium"
    COARSE = "coarse"


Pair: TypeAlias = tuple[float, float]
_Box: TypeAlias = tuple[Pair, Pair]

ToeChoice: TypeAlias = Annotated[
    Toe, typer.Option("--toe", help="Put back to design by the tie rod, as after any such change, or as it comes.")
]
CamberBox: TypeAlias = Annotated[
    Pair | None,
    typer.Option(
        "--camber",
        metavar="DEG DEG",
        show_default=False,
        rich_help_panel=RANGE_PANEL,
        help="Least and greatest camber.",
    ),
]
CasterBox: TypeAlias = Annotated[
    Pair | None,
    typer.Option(
        "--caster",
        metavar="DEG DEG",
        show_default=False,
        rich_help_panel=RANGE_PANEL,
        help="Least and greatest caster.",
    ),
]
CasterBy: TypeAlias = Annotated[
    Pair | None,
    typer.Option(
        "--caster-by",
        metavar="DEG DEG",
        show_default=False,
        rich_help_panel=RANGE_PANEL,
        help="Or least and greatest change from the caster at design.",
    ),
]
Heights: TypeAlias = Annotated[
    Pair,
    typer.Option(
        "--ride-heights",
        metavar="MM MM",
        rich_help_panel=RANGE_PANEL,
        help="Least and greatest travel at which the car is set; bump positive.",
    ),
]
Tolerance: TypeAlias = Annotated[
    float, typer.Option("--tolerance", metavar="MM", help="How far towers and parts may be off; added to each half.")
]
Seating: TypeAlias = Annotated[
    float, typer.Option("--seating", metavar="MM", help="How far bolts stay from a slot's end; added to each half.")
]
FitOption: TypeAlias = Annotated[
    FitChoice, typer.Option("--fit", help="Clearance of the bolts, for slots of no stated width.")
]
OffsetOption: TypeAlias = Annotated[
    float | None,
    typer.Option("--offset", metavar="MM", show_default=False, help="Another offset of the insert's bearing."),
]


def check_number(option: str, value: float | None, unit: str, least: float = -np.inf) -> None:
    """Refuse what is no number, or too small, by the option as it was typed."""
    if value is None:
        return
    # Not `< least`: what is no number is not within the limit either.
    if not (np.isfinite(value) and value >= least):
        fault = f"{unit} must be {least:g} or more" if np.isfinite(value) else f"{unit} is not finite"
        message = f"{option} = {value:g} {fault}"
        raise InputError(message, name=option.lstrip("-"), value=value, limit=least, unit=unit)


def check_heights(option: str, heights: Sequence[float]) -> None:
    """Refuse ride heights that are none, by the option as it was typed."""
    for height in heights:
        check_number(option, height, "mm")
        if abs(height) > MOST_TRAVEL_MM:
            message = f"{option} = {height:g} mm is more than {MOST_TRAVEL_MM:g} mm from zero"
            raise InputError(message, name=option.lstrip("-"), value=height, limit=MOST_TRAVEL_MM, unit="mm")


def check_band(heights: Pair) -> None:
    """Refuse a band of ride heights that is none."""
    check_heights("--ride-heights", heights)
    if heights[0] > heights[1]:
        message = f"--ride-heights {heights[0]:g} {heights[1]:g}: the lesser first"
        raise InputError(message, name="ride-heights", value=heights)


def plate_of(car: Axle, offset: float | None = None) -> TopPlate:
    """The car's top plate, with another offset of its insert's bearing if one is given.

    Raises
    ------
    InputError
        The car file has none.
    """
    check_number("--offset", offset, "mm", 0.0)
    if car.top_plate is None:
        raise InputError(
            f"{car.name} has no [top_plate] in its car file; demo:gravel_hatch shows one (strutsweep new-car)",
            name="car",
            value=car.name,
        )
    return car.top_plate if offset is None else car.top_plate.replace(insert={"offset": offset})


def box_of(corner: Corner, camber: Pair | None, caster: Pair | None, by: Pair | None) -> _Box | None:
    """The box asked for, if one was."""
    for option, pair in (("--camber", camber), ("--caster", caster), ("--caster-by", by)):
        for end in pair or ():
            check_number(option, end, "deg")
        if pair is not None and not pair[0] < pair[1]:
            message = f"{option} {pair[0]:g} {pair[1]:g}: the lesser first, and some room between"
            raise InputError(message, name=option.lstrip("-"), value=pair)
    if caster is not None and by is not None:
        raise InputError("give --caster or --caster-by, not both", name="caster", value=caster)
    if by is not None:
        static = corner.solve().caster
        caster = static + by[0], static + by[1]
    if camber is None and caster is None:
        return None
    if camber is None or caster is None:
        raise InputError("a box needs --camber and --caster (or --caster-by)", name="camber", value=camber)
    return camber, caster


_ASSUMED_TRAVEL_MM: Final = 80.0


@dataclass(frozen=True)
class MovedOver:
    """Travels and rack positions over which clearances are taken, the bearing's limit, and what had to be assumed."""

    travel: Pair
    rack: Pair
    most_bearing_angle: float | None
    assumed: tuple[str, ...]

    @classmethod
    def of(cls, axle: Axle) -> MovedOver:
        """What the car file tells of them."""
        limits, stroke = axle.limits, axle.rack["stroke"]
        bump, droop = limits["bump"], limits["droop"]
        assumed = [
            f"{_ASSUMED_TRAVEL_MM:g} mm of {name}: the car file has no limits.{name}"
            for name, value in (("bump", bump), ("droop", droop))
            if value is None
        ]
        if stroke is None:
            assumed.append("rack held straight: the car file has no rack.stroke")
        travel = (
            -(_ASSUMED_TRAVEL_MM if droop is None else droop),
            _ASSUMED_TRAVEL_MM if bump is None else bump,
        )
        return cls(travel, (-(stroke or 0.0), stroke or 0.0), limits["bearing_angle"], tuple(assumed))

    def clearances(
        self, corner: Corner, plate: TopPlate, ride_height: float, toe: Toe, travel_at: TravelAt
    ) -> top_plates.Clearances:
        """What a plate clears over them."""
        return top_plates.clearances(
            corner,
            plate,
            travel=self.travel,
            rack=self.rack,
            ride_height=ride_height,
            toe=toe.value,
            travel_at=travel_at.value,
            most_bearing_angle=self.most_bearing_angle,
        )


def trim_text(cleared: top_plates.Clearances) -> str | None:
    """What lies outside the tower's opening, in words, if anything does."""
    trim = cleared.trim()
    if trim.is_empty:
        return None
    x0, y0, x1, y1 = trim.bounds
    return (
        f"  to trim, outside the opening: {trim.area:.0f} mm2, inboard {x0:+.1f} to {x1:+.1f}, rearward {y0:+.1f} to"
        f" {y1:+.1f} mm; whether a tower may be cut is for a licensed engineer to say"
    )
