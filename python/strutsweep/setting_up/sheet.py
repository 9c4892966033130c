"""A measured alignment sheet: what gauges showed of the two wheels of an axle, and its file form.

A sheet is TOML, like a car file::

    sheet = 1                             # the form of this file
    car = "Gravel hatch"
    note = "as it came in"
    toe_diameter = 431.8                  # mm; only where toe is a length
    [accuracy]                            # deg; what the gauges are good for
    camber = 0.05
    [left]
    camber = -0.62                        # degrees, or "-0°37'"
    caster = 2.95
    kingpin_inclination = 13.8
    toe = "0.8 mm"                        # or degrees, or degrees and minutes
    [right]
    camber = -0.44

Toe may stand as a total instead, in ``[total]``, for both wheels together.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from os import PathLike
from pathlib import Path
from typing import Final

from strutsweep._core import Axle, Pose
from strutsweep.errors import FileError, InputError
from strutsweep.setting_up._kinds import SIDES, Side
from strutsweep.setting_up._poses import pose_of
from strutsweep.setting_up.quantities import angle_from_text, length_from_text, toe_angle

__all__ = ["ANGLES", "USUAL_ACCURACY", "Sheet", "WheelReadings", "load_sheet"]

SHEET_FORM: Final = 1

USUAL_ACCURACY: Final[Mapping[str, float]] = {
    "camber": 0.05,
    "caster": 0.15,
    "kingpin_inclination": 0.2,
    "toe": 0.03,
}
"""What readings are taken to be good for where a sheet does not say, deg; common practice, no source. Caster and
kingpin inclination are worse than camber, as they come from camber read twice."""

ANGLES: Final = tuple(USUAL_ACCURACY)
"""The angles of a sheet."""

# Per angle the least and the greatest that a sheet may tell, deg, and what its writer may have meant.
_RANGES: Final = {
    "camber": (-15.0, 15.0, 'is it told from the horizontal, or in minutes? Write 42 minutes as "0°42\'"'),
    "caster": (-10.0, 25.0, 'is it in minutes? Write 5 degrees 30 minutes as "5°30\'"'),
    "kingpin_inclination": (-10.0, 35.0, 'is it in minutes? Write 12 degrees 30 minutes as "12°30\'"'),
    "toe": (-5.0, 5.0, 'is it a length, or in minutes? Write 2 mm as "2 mm", and 10 minutes as "0°10\'"'),
}
_LEAST_HEIGHT, _MOST_HEIGHT = 20.0, 2000.0


@dataclass(frozen=True)
class WheelReadings:
    """What gauges showed of one wheel; None where nothing was read.

    Attributes
    ----------
    camber : float or None
        deg, top outboard positive.
    caster : float or None
        deg, top of the steering axis rearward positive.
    kingpin_inclination : float or None
        deg, top of the steering axis inboard positive.
    toe : float or None
        deg of this wheel, toe-in positive.
    ride_height : float or None
        mm, as the sheet's writer measures it, body up positive; only differences count.
    """

    camber: float | None = None
    caster: float | None = None
    kingpin_inclination: float | None = None
    toe: float | None = None
    ride_height: float | None = None

    @property
    def included_angle(self) -> float | None:
        """Camber and kingpin inclination together, deg; None where one of them was not read."""
        if self.camber is None or self.kingpin_inclination is None:
            return None
        return self.camber + self.kingpin_inclination

    def angles(self) -> Iterator[tuple[str, float]]:
        """Name and value, deg, of each angle that was read."""
        for name in ANGLES:
            value: float | None = getattr(self, name)
            if value is not None:
                yield name, value


@dataclass(frozen=True)
class Sheet:
    """A measured alignment sheet of one axle. Made by `load_sheet`, `Sheet.from_toml` and `Sheet.of`.

    Attributes
    ----------
    left, right : WheelReadings
        The two wheels.
    car : str
        The car's name, as the sheet tells it.
    note : str
        Anything the reader should know.
    accuracy : dict
        What each angle is good for, deg; the usual one where the sheet does not say.
    shared_toe : bool
        Whether toe was told as a total only, and is shared evenly here.

    Examples
    --------
    >>> import strutsweep as ss
    >>> sheet = ss.Sheet.of(ss.demo("gravel_hatch"))
    >>> round(sheet.left.camber, 3), round(sheet.total_toe, 3)
    (-0.5, 0.0)
    >>> ss.Sheet.from_toml(sheet.to_toml()) == sheet
    True
    """

    left: WheelReadings
    right: WheelReadings
    car: str = ""
    note: str = ""
    accuracy: Mapping[str, float] = field(default_factory=lambda: dict(USUAL_ACCURACY))
    shared_toe: bool = False

    def __post_init__(self) -> None:
        for side in SIDES:
            for name, value in self.wheel(side).angles():
                _check_angle(f"{side}.{name}", name, value)

    def wheel(self, side: Side) -> WheelReadings:
        """The readings of one wheel.

        Parameters
        ----------
        side : {"left", "right"}
            Which.
        """
        return self.left if side == "left" else self.right

    @property
    def total_toe(self) -> float | None:
        """Toe of both wheels together, deg, toe-in positive; None where one was not read."""
        if self.left.toe is None or self.right.toe is None:
            return None
        return self.left.toe + self.right.toe

    @classmethod
    def of(
        cls,
        car: Axle,
        left: Mapping[str, float] | None = None,
        right: Mapping[str, float] | None = None,
        *,
        rack: float = 0.0,
        note: str = "",
    ) -> Sheet:
        """The sheet that gauges would show of a car, by the engine.

        Parameters
        ----------
        car : Axle
            The car.
        left, right : mapping of str to float, optional
            Setting and travel of either corner, as `Corner.solve` takes them, mm and deg.
        rack : float
            Rack displacement, mm toward the left.
        note : str
            A note for the sheet.

        Raises
        ------
        ReachError
            A corner does not get there.
        """
        return cls(
            _wheel_of(pose_of(car.left, left or {}, rack=rack)),
            _wheel_of(pose_of(car.right, right or {}, rack=rack)),
            car=car.name,
            note=note,
        )

    @classmethod
    def from_toml(cls, text: str) -> Sheet:
        """A sheet from the text of its file form.

        Parameters
        ----------
        text : str
            TOML, as `load_sheet` reads it.

        Raises
        ------
        FileError
            With ``line`` and ``field``: an unknown key, a wrong unit, a value that no gauge shows.
        """
        return _Reader(text).sheet()

    def to_toml(self) -> str:
        """The text of a file that reads back to the same sheet; every angle in degrees."""
        lines = [f"sheet = {SHEET_FORM}", f"car = {_quoted(self.car)}"]
        if self.note:
            lines.append(f"note = {_quoted(self.note)}")
        lines += ["", "[accuracy]  # deg"]
        lines += [f"{name} = {value!r}" for name, value in self.accuracy.items()]
        for side in SIDES:
            wheel = self.wheel(side)
            lines += ["", f"[{side}]  # deg, mm"]
            lines += [
                f"{entry.name} = {getattr(wheel, entry.name)!r}"
                for entry in fields(wheel)
                if getattr(wheel, entry.name) is not None and not (self.shared_toe and entry.name == "toe")
            ]
        if self.shared_toe and self.total_toe is not None:
            lines += ["", "[total]  # deg", f"toe = {self.total_toe!r}"]
        return "\n".join(lines) + "\n"

    def save(self, path: str | PathLike[str]) -> None:
        """Write the sheet to a file.

        Parameters
        ----------
        path : str or path
            The file; one that is there already is written over.

        Raises
        ------
        FileError
            The file cannot be written.
        """
        try:
            Path(path).write_text(self.to_toml(), encoding="utf-8", newline="\n")
        except OSError as error:
            raise FileError(f"{path}: {error.strerror}", path=path, reason=str(error.strerror)) from None


def load_sheet(path: str | PathLike[str]) -> Sheet:
    """Read a measured alignment sheet.

    Parameters
    ----------
    path : str or path
        A TOML file: ``sheet = 1``, ``[left]`` and ``[right]`` with ``camber``, ``caster``, ``kingpin_inclination``,
        ``toe`` and ``ride_height``, as far as they were read; ``[total]`` with ``toe`` instead; ``[accuracy]``;
        ``car``, ``note``, ``toe_diameter``. An angle is a number of degrees or a text such as ``"-1°30'"``; toe may be
        a text such as ``"2 mm"``.

    Returns
    -------
    Sheet

    Raises
    ------
    FileError
        With ``path``, ``line`` and ``field``: what cannot be read, and why.

    Examples
    --------
    >>> import pathlib, tempfile, strutsweep as ss
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = pathlib.Path(folder) / "sheet.toml"
    ...     _ = path.write_text('sheet = 1\\n[left]\\ncamber = "-1°30\\'"\\n[right]\\ncamber = -1.2\\n')
    ...     sheet = ss.load_sheet(path)
    >>> sheet.left.camber, sheet.right.toe
    (-1.5, None)
    """
    try:
        text = Path(path).read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise FileError(f"{path}: not text in UTF-8", path=path, reason="not text in UTF-8") from None
    except OSError as error:
        raise FileError(f"{path}: {error.strerror}", path=path, reason=str(error.strerror)) from None
    try:
        return Sheet.from_toml(text)
    except FileError as error:
        raise FileError(
            f"{path}: {error}", path=path, **{key: value for key, value in vars(error).items() if key != "path"}
        ) from None


def _wheel_of(pose: Pose) -> WheelReadings:
    return WheelReadings(
        camber=pose.camber, caster=pose.caster, kingpin_inclination=pose.kingpin_inclination, toe=pose.toe
    )


def _quoted(text: str) -> str:
    escapes = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}
    body = "".join(
        escapes.get(letter, f"\\u{ord(letter):04x}" if ord(letter) < 0x20 or ord(letter) == 0x7F else letter)
        for letter in text
    )
    return f'"{body}"'


def _check_angle(where: str, name: str, value: float, line: int | None = None) -> None:
    least, most, hint = _RANGES[name]
    if math.isfinite(value) and least <= value <= most:
        return
    lead = "" if line is None else f"line {line}: "
    limit = least if value < least else most
    reason = f"is not between {least:g} and {most:g} deg: {hint}"
    raise FileError(
        f"{lead}{where} = {value:g} deg {reason}",
        field=where,
        value=value,
        limit=limit,
        unit="deg",
        line=line,
        reason=reason,
    )


class _Reader:
    """A sheet's text being read; knows the line of each key."""

    def __init__(self, text: str) -> None:
        try:
            self.tables = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            found = re.search(r"\(at line (\d+)", str(error))
            line = int(found[1]) if found else None
            reason = f"not valid TOML: {str(error).partition(' (at ')[0]}"
            raise FileError(
                f"line {line}: {reason}" if line else reason, line=line, reason=reason, field=None
            ) from None
        self.lines = _lines_of_keys(text)
        self.diameter: float | None = None

    def sheet(self) -> Sheet:
        self._known("", ("sheet", "car", "note", "toe_diameter", "accuracy", *SIDES, "total"))
        form = self.tables.get("sheet")
        if form != SHEET_FORM or isinstance(form, bool):
            raise self._wrong("sheet", f"`sheet = {SHEET_FORM}` is missing: it tells that this is an alignment sheet")
        self.diameter = self._number("", "toe_diameter")
        accuracy = dict(USUAL_ACCURACY)
        self._known("accuracy", tuple(USUAL_ACCURACY))
        for name in USUAL_ACCURACY:
            value = self._number("accuracy", name)
            if value is not None:
                if not 0.0 < value <= 5.0:
                    raise self._wrong(
                        f"accuracy.{name}", f"`accuracy.{name}` = {value:g} deg is not above 0 and up to 5"
                    )
                accuracy[name] = value
        left, right = self._wheel("left"), self._wheel("right")
        self._known("total", ("toe",))
        total = self._toe("total", wheels=2)
        if total is not None:
            if left.toe is not None or right.toe is not None:
                raise self._wrong("total.toe", "toe stands both as a total and per wheel: keep one of them")
            left, right = replace(left, toe=total), replace(right, toe=total)
        if not any([*left.angles(), *right.angles()]):
            raise self._wrong("left", "no angle stands in [left] or [right]: a sheet needs at least one")
        return Sheet(
            left,
            right,
            car=self._text("car"),
            note=self._text("note"),
            accuracy=accuracy,
            shared_toe=total is not None,
        )

    def _wheel(self, side: Side) -> WheelReadings:
        self._known(side, (*USUAL_ACCURACY, "ride_height"))
        height = self._number(side, "ride_height")
        if height is not None and not _LEAST_HEIGHT <= height <= _MOST_HEIGHT:
            raise self._wrong(
                f"{side}.ride_height",
                f"`{side}.ride_height` = {height:g} mm is not between {_LEAST_HEIGHT:g} and {_MOST_HEIGHT:g} mm",
            )
        return WheelReadings(
            camber=self._angle(side, "camber"),
            caster=self._angle(side, "caster"),
            kingpin_inclination=self._angle(side, "kingpin_inclination"),
            toe=self._toe(side, wheels=1),
            ride_height=height,
        )

    def _angle(self, table: str, name: str) -> float | None:
        where = f"{table}.{name}"
        value = self._value(table, name)
        if isinstance(value, str):
            angle = angle_from_text(value)
            if angle is None:
                raise self._wrong(where, f'`{where}` = {value!r} is no angle: write degrees, or "1°30\'"')
        else:
            angle = self._number(table, name)
        if angle is not None:
            _check_angle(where, name, angle, self.lines.get(where))
        return angle

    def _toe(self, table: str, *, wheels: int) -> float | None:
        """The toe of each wheel, deg."""
        where = f"{table}.toe"
        value = self._value(table, "toe")
        length = length_from_text(value) if isinstance(value, str) else None
        if length is None:
            angle = self._angle(table, "toe")
            return None if angle is None else angle / wheels
        if self.diameter is None:
            raise self._wrong(
                where, f"`{where}` = {value!r} is a length: `toe_diameter` must tell where it was measured, in mm"
            )
        try:
            angle = toe_angle(length, diameter=self.diameter, wheels=wheels)
        except InputError as error:
            raise self._wrong(where if error.name == "toe" else "toe_diameter", str(error)) from None
        _check_angle(where, "toe", angle, self.lines.get(where))
        return angle

    def _table(self, table: str) -> Mapping[str, object]:
        if not table:
            return self.tables
        found = self.tables.get(table, {})
        if not isinstance(found, dict):
            raise self._wrong(table, f"`{table}` is no table of named values")
        return found

    def _value(self, table: str, key: str) -> object:
        return self._table(table).get(key)

    def _number(self, table: str, key: str) -> float | None:
        where = f"{table}.{key}" if table else key
        value = self._value(table, key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._wrong(where, f"`{where}` is no number")
        number = float(value)
        if not math.isfinite(number):
            raise self._wrong(where, f"`{where}` = {number} is not a finite number")
        return number

    def _text(self, key: str) -> str:
        value = self.tables.get(key, "")
        if not isinstance(value, str):
            raise self._wrong(key, f"`{key}` is no text in quotes")
        return value

    def _known(self, table: str, keys: tuple[str, ...]) -> None:
        for key in self._table(table):
            if key not in keys:
                where = f"{table}.{key}" if table else key
                place = f"[{table}]" if table else "the top of the sheet"
                raise self._wrong(where, f"unknown key `{key}` in {place}; keys known there: {', '.join(keys)}", key)

    def _wrong(self, where: str, reason: str, key: str | None = None) -> FileError:
        line = self.lines.get(where)
        lead = "" if line is None else f"line {line}: "
        return FileError(f"{lead}{reason}", field=where, line=line, reason=reason, key=key)


def _lines_of_keys(text: str) -> dict[str, int]:
    """The line, counted from one, of each table and of each key in it, for a text that is valid TOML."""
    lines: dict[str, int] = {}
    table = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if found := re.match(r"\s*\[\s*([\w.]+)\s*\]", line):
            table = found[1]
            lines.setdefault(table, number)
        elif found := re.match(r"\s*([\w.\"-]+)\s*=", line):
            key = found[1].strip('"')
            lines.setdefault(f"{table}.{key}" if table else key, number)
    return lines
