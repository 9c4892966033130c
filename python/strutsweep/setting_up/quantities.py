"""Angles and toe lengths as gauges and sheets write them: ``-1.5``, ``"-1°30'"``, ``"2.0 mm"``.

Inside the package an angle is a number of degrees; these functions are the only way in and out of other forms.
"""

from __future__ import annotations

import math
import re
from typing import Final, Literal, TypeAlias

from strutsweep.errors import InputError
from strutsweep.gauges import toe_as_length, toe_from_length

__all__ = [
    "MINUS",
    "AngleForm",
    "amount_text",
    "angle_from_text",
    "angle_text",
    "length_from_text",
    "miss_text",
    "toe_angle",
    "toe_length",
]

AngleForm: TypeAlias = Literal["degrees", "minutes"]
"""How angles are shown: ``"degrees"`` as -0.70, ``"minutes"`` as -0°42'."""

MINUS: Final = "\u2212"

_DEGREES_AND_MINUTES: Final = re.compile(
    r"""^\s*(?P<sign>[+\-\u2212]?)\s*
    (?P<degrees>\d+(?:\.\d+)?)\s*(?:°|deg|d)\s*
    (?:(?P<minutes>\d+(?:\.\d+)?)\s*(?:'|\u2032|min|m)?\s*)?
    (?:(?P<seconds>\d+(?:\.\d+)?)\s*(?:"|''|\u2033|sec|s)\s*)?$""",
    re.VERBOSE,
)
_MINUTES: Final = re.compile(r"^\s*(?P<sign>[+\-\u2212]?)\s*(?P<minutes>\d+(?:\.\d+)?)\s*(?:'|\u2032|min)\s*$")
_LENGTH: Final = re.compile(r"^\s*(?P<number>[+\-\u2212]?\s*\d+(?:\.\d+)?)\s*mm\s*$")


def angle_from_text(text: str) -> float | None:
    """The angle that a text tells, or None if it tells none.

    Parameters
    ----------
    text : str
        Degrees and minutes, ``"-1°30'"``, ``"0° 42' 30\\""``, or minutes alone, ``"-42'"``. The sign counts for all
        of it.

    Returns
    -------
    float or None
        deg.

    Examples
    --------
    >>> from strutsweep.setting_up.quantities import angle_from_text
    >>> angle_from_text("-1°30'"), angle_from_text("-0°42'"), angle_from_text("1 mm")
    (-1.5, -0.7, None)
    """
    found = _DEGREES_AND_MINUTES.match(text) or _MINUTES.match(text)
    if found is None:
        return None
    parts = found.groupdict()
    minutes = float(parts.get("minutes") or 0.0)
    seconds = float(parts.get("seconds") or 0.0)
    if minutes >= 60.0 and parts.get("degrees") is not None or seconds >= 60.0:
        return None
    angle = float(parts.get("degrees") or 0.0) + (minutes + seconds / 60.0) / 60.0
    return -angle if parts["sign"] in ("-", MINUS) else angle


def length_from_text(text: str) -> float | None:
    """The length in mm that a text such as ``"2.0 mm"`` tells, or None if it tells none.

    Examples
    --------
    >>> from strutsweep.setting_up.quantities import length_from_text
    >>> length_from_text("-1.5 mm"), length_from_text("1°30'")
    (-1.5, None)
    """
    found = _LENGTH.match(text)
    return None if found is None else float(found["number"].replace(MINUS, "-").replace(" ", ""))


def angle_text(angle: float, form: AngleForm = "degrees", *, decimals: int = 2, sign: bool = True) -> str:
    """An angle as a sheet shows it.

    Parameters
    ----------
    angle : float
        deg.
    form : {"degrees", "minutes"}
        Decimal degrees, or degrees and whole minutes.
    decimals : int
        Decimals of degrees; whole minutes have none.
    sign : bool
        Whether a plus stands before what is positive.

    Examples
    --------
    >>> from strutsweep.setting_up.quantities import angle_text
    >>> angle_text(-0.7), angle_text(-0.7, "minutes"), angle_text(1.999, "minutes")
    ('−0.70°', "−0°42'", "+2°00'")
    """
    if not math.isfinite(angle):
        return "—"
    if form == "minutes":
        whole = round(abs(angle) * 60.0)
        body = f"{whole // 60}°{whole % 60:02d}'"
        zero = whole == 0
    else:
        body = f"{abs(angle):.{decimals}f}°"
        zero = float(body[:-1]) == 0.0
    lead = "" if zero else MINUS if angle < 0.0 else "+" if sign else ""
    return lead + body


def miss_text(miss: float, form: AngleForm = "degrees", *, sign: bool = True) -> str:
    """How far an angle misses what is wanted; one too small to be shown is still no zero.

    Examples
    --------
    >>> from strutsweep.setting_up.quantities import miss_text
    >>> miss_text(-0.25), miss_text(0.002), miss_text(0.002, "minutes")
    ('−0.25°', 'less than 0.01°', "less than 0°01'")
    """
    text = angle_text(miss, form, sign=sign)
    shown = angle_text(0.0, form)
    return text if text != shown else f"less than {shown[:-2]}1{shown[-1]}"


def amount_text(value: float, unit: str, *, decimals: int = 1) -> str:
    """A number with its sign and unit, and no sign where it shows as nothing.

    Examples
    --------
    >>> from strutsweep.setting_up.quantities import amount_text
    >>> amount_text(-1.25, "mm", decimals=2), amount_text(0.01, "mm")
    ('−1.25 mm', '0 mm')
    """
    body = f"{abs(value):.{decimals}f}"
    if float(body) == 0.0:
        return f"0 {unit}"
    return f"{MINUS if value < 0.0 else '+'}{body} {unit}"


def toe_length(*toes: float, diameter: float) -> float:
    """Toe as a length: how much farther apart than its front the rear of the rims stands at hub height.

    Of one wheel it is D sin(toe) to the straight-ahead line; of two, the sum.

    Parameters
    ----------
    *toes : float
        deg, toe-in positive: of one wheel, or of both.
    diameter : float
        mm: where it is measured, at the rim's edge or across the tyre. The two differ by a third.

    Returns
    -------
    float
        mm, toe-in positive.

    Examples
    --------
    >>> from strutsweep.setting_up.quantities import toe_length
    >>> round(toe_length(0.2654, 0.2654, diameter=431.8), 3)
    4.0
    """
    _check_diameter(diameter)
    return math.fsum(toe_as_length(toe, diameter) for toe in toes)


def toe_angle(length: float, *, diameter: float, wheels: int = 1) -> float:
    """The toe of each wheel that a length tells; the inverse of `toe_length`.

    Parameters
    ----------
    length : float
        mm, toe-in positive.
    diameter : float
        mm, where it was measured.
    wheels : {1, 2}
        Whether the length is of one wheel, or across both and taken as shared evenly.

    Returns
    -------
    float
        deg of one wheel.

    Raises
    ------
    InputError
        The diameter is not above zero, or the length is more than it.

    Examples
    --------
    >>> from strutsweep.setting_up.quantities import toe_angle
    >>> round(2 * toe_angle(4.0, diameter=431.8, wheels=2), 4)
    0.5308
    """
    _check_diameter(diameter)
    sine = length / wheels / diameter
    if not abs(sine) <= 1.0:
        raise InputError(
            f"toe = {length:g} mm is more than the diameter {diameter:g} mm at which it was measured",
            name="toe",
            value=length,
            limit=diameter,
            unit="mm",
        )
    return toe_from_length(length / wheels, diameter)


def _check_diameter(diameter: float) -> None:
    if not (math.isfinite(diameter) and 100.0 <= diameter <= 2000.0):
        raise InputError(
            f"toe_diameter = {diameter:g} mm is not between 100 and 2000 mm: is it in inches? One inch is 25.4 mm",
            name="toe_diameter",
            value=diameter,
            limit=2000.0 if diameter > 2000.0 else 100.0,
            unit="mm",
        )
