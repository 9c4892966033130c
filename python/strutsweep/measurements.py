"""Measurements: what a gauge showed, in which pose, and how good the gauge is; as a table, and as a file."""

from __future__ import annotations

import csv
import os
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._inputs import TravelAt, unknown
from strutsweep._poses import FIELDS
from strutsweep._printed import Table
from strutsweep._within import one_number, whole_number
from strutsweep.errors import FileError, InputError
from strutsweep.words import READINGS, TRAVEL_AT, attributes

__all__ = ["Measurements"]

SCHEMA: Final = 1
ENDINGS: Final = (".csv", ".toml")
_COLUMNS: Final = ("curve", "reading", "value", "accuracy", "zeroed", "travel_at", "side", *FIELDS)
_SIDES: Final = ("left", "right")


@dataclass(frozen=True, repr=False)
class Measurements:
    """Readings as measured on a car: one row a number.

    Made by `Measurements.curve`, added up with ``+``, read by `Measurements.load`.

    Attributes
    ----------
    reading : tuple of str
        What was measured.
    value : array
        What the gauge showed, in mm or deg.
    accuracy : array
        Standard deviation of the gauge's error, in the same unit.
    rows : array
        The poses, measurements by fields of setting and motion, mm and deg.
    travel_at : tuple of str
        Where travel was measured.
    curves : tuple of str
        Per measurement the curve that it belongs to.
    zeroed : tuple of bool
        Whether the gauge was zeroed on the curve, so that only changes along it count.
    side : {"left", "right"} or None
        The corner that was measured, if it is said: a fit of the other one is refused.

    Examples
    --------
    >>> import strutsweep as ss
    >>> bump = ss.Measurements.curve("toe", [0.10, 0.0, -0.12], 0.02, travel=[-40.0, 0.0, 40.0], zeroed=True)
    >>> sheet = ss.Measurements.curve("caster", 5.9, 0.1)
    >>> len(bump + sheet), (bump + sheet).names
    (4, ('toe', 'caster'))
    """

    reading: tuple[str, ...]
    value: npt.NDArray[np.float64]
    accuracy: npt.NDArray[np.float64]
    rows: npt.NDArray[np.float64]
    travel_at: tuple[str, ...]
    curves: tuple[str, ...]
    zeroed: tuple[bool, ...]
    side: Literal["left", "right"] | None = None

    @staticmethod
    def none() -> Measurements:
        """No measurement at all, to start a sum with.

        Returns
        -------
        Measurements

        Examples
        --------
        >>> import strutsweep as ss
        >>> len(ss.Measurements.none())
        0
        """
        empty = np.zeros(0)
        return Measurements((), empty, empty, np.zeros((0, len(FIELDS))), (), (), ())

    @staticmethod
    def curve(
        reading: str,
        value: float | npt.ArrayLike,
        accuracy: float | npt.ArrayLike,
        *,
        name: str | None = None,
        zeroed: bool = False,
        travel_at: TravelAt = "ground",
        side: Literal["left", "right"] | None = None,
        **inputs: float | npt.ArrayLike,
    ) -> Measurements:
        """One curve, or one number.

        Parameters
        ----------
        reading : str
            What was measured.
        value : number or array
            What the gauge showed, in the reading's unit.
        accuracy : number or array
            Standard deviation of its error, in the same unit; above zero.
        name : str, optional
            Of the curve, the reading's unless given. Curves of a sum whose names are alike are one.
        zeroed : bool
            The gauge was set to zero somewhere on the curve: only changes along it count.
        travel_at : {"ground", "hub", "strut"}
            Where travel was measured.
        side : {"left", "right"}, optional
            The corner that was measured.
        **inputs : number or array
            Settings and motions of each number, in mm and deg; what is not given is zero.

        Returns
        -------
        Measurements

        Raises
        ------
        InputError
            An unknown name, an accuracy that is not above zero, lengths that do not fit, numbers that are not finite.

        Examples
        --------
        >>> import strutsweep as ss
        >>> ss.Measurements.curve("camber", [-0.5, -1.3], 0.05, name="plate in and out", mount_in=[0.0, 10.0]).value
        array([-0.5, -1.3])
        """
        if reading not in READINGS:
            raise unknown("reading", reading, READINGS)
        if travel_at not in TRAVEL_AT:
            raise unknown("travel_at", travel_at, TRAVEL_AT)
        if side is not None and side not in _SIDES:
            raise unknown("side", side, _SIDES)
        values = _numbers("value", value)
        count = len(values)
        rows = np.zeros((count, len(FIELDS)))
        for field, given in inputs.items():
            if field not in FIELDS:
                raise unknown("inputs", field, FIELDS)
            rows[:, FIELDS.index(field)] = _as_long(field, given, count)
        accuracies = _as_long("accuracy", accuracy, count)
        if (accuracies <= 0.0).any():
            worst = float(accuracies.min())
            raise InputError(
                f"accuracy = {worst:g} {READINGS[reading]['units']} is not above 0",
                name="accuracy",
                value=worst,
                limit=0.0,
                unit=READINGS[reading]["units"],
            )
        if zeroed and count < 2:
            raise InputError("zeroed: a curve of one number says nothing of changes", name="zeroed", value=zeroed)
        label = reading if name is None else name
        return Measurements(
            (reading,) * count, values, accuracies, rows, (travel_at,) * count, (label,) * count, (zeroed,) * count, side
        )

    @staticmethod
    def from_sweep(
        dataset: xr.Dataset,
        readings: str | Sequence[str],
        accuracy: float | Mapping[str, float],
        *,
        name: str | None = None,
        zeroed: bool = False,
        seed: int | None = None,
    ) -> Measurements:
        """What gauges would show of a sweep: to plan measurements, or to try a fit on a truth that is known.

        Parameters
        ----------
        dataset : xarray.Dataset
            What `strutsweep.sweep` returned.
        readings : str or sequence of str
            What is measured, a curve each.
        accuracy : float or mapping of reading to float
            Standard deviation of the gauges' errors, in the reading's unit.
        name : str, optional
            Put before the reading's name in that of its curve.
        zeroed : bool
            Whether gauges are zeroed on each curve.
        seed : int, optional
            Of the errors that are added; none are added unless given.

        Returns
        -------
        Measurements
            Poses out of reach are left out.

        Raises
        ------
        InputError
            A reading that the dataset lacks, an accuracy that is missing or not above zero, a seed that is none.

        Examples
        --------
        >>> import numpy as np, strutsweep as ss
        >>> ds = ss.sweep(ss.demo().left, travel=np.linspace(-60, 60, 7))
        >>> found = ss.Measurements.from_sweep(ds, ["toe", "camber"], {"toe": 0.02, "camber": 0.05}, seed=1)
        >>> len(found)
        14
        """
        names = [readings] if isinstance(readings, str) else list(readings)
        if not isinstance(dataset, xr.Dataset) or "status" not in dataset:
            raise InputError(
                f"dataset: {type(dataset).__name__} is no result of a sweep", name="dataset", value=dataset
            )
        noise = None if seed is None else np.random.default_rng(whole_number("seed", seed, 0))
        reached = dataset.status.values.ravel() == 0
        together = Measurements.none()
        if "side" in dataset.dims:
            advice = 'choose one: dataset.sel(side="left")'
            raise InputError(f"dataset: it is of both wheels; {advice}", name="dataset", value=dict(dataset.sizes))
        said: Any = str(dataset["side"].values) if "side" in dataset.coords else dataset.attrs.get("side")
        side = said if said in _SIDES else None
        for reading in names:
            if reading not in dataset:
                raise InputError(f"readings: the dataset has no {reading!r}", name="readings", value=reading)
            values = dataset[reading].values.ravel()[reached].astype(np.float64)
            if isinstance(accuracy, Mapping) and reading not in accuracy:
                raise InputError(f"accuracy: there is none for {reading}", name="accuracy", value=list(accuracy))
            good = one_number("accuracy", accuracy[reading] if isinstance(accuracy, Mapping) else accuracy)
            if not good > 0.0:
                units = READINGS[reading]["units"]
                raise InputError(
                    f"accuracy = {good:g} {units} is not above 0", name="accuracy", value=good, limit=0.0, unit=units
                )
            if noise is not None:
                values = values + noise.normal(0.0, good, len(values))
            inputs = {
                field: np.broadcast_to(
                    dataset[field].broadcast_like(dataset.status).transpose(*dataset.status.dims).values,
                    dataset.status.shape,
                ).ravel()[reached]
                for field in FIELDS
                if field in dataset.coords
            }
            label = reading if name is None else f"{name}: {reading}"
            together += Measurements.curve(
                reading, values, good, name=label, zeroed=zeroed, travel_at=dataset.attrs["travel_at"], side=side, **inputs
            )
        return together

    def __len__(self) -> int:
        return len(self.reading)

    def __add__(self, other: Measurements) -> Measurements:
        if not isinstance(other, Measurements):
            return NotImplemented
        if self.side and other.side and self.side != other.side:
            message = f"measurements: some are of the {self.side} corner and some of the {other.side} one: fit each by itself"
            raise InputError(message, name="side", value=other.side)
        return Measurements(
            self.reading + other.reading,
            np.concatenate([self.value, other.value]),
            np.concatenate([self.accuracy, other.accuracy]),
            np.concatenate([self.rows, other.rows]),
            self.travel_at + other.travel_at,
            self.curves + other.curves,
            self.zeroed + other.zeroed,
            self.side or other.side,
        )

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the curves, in order."""
        return tuple(dict.fromkeys(self.curves))

    def chosen(self, which: npt.NDArray[np.bool_]) -> Measurements:
        """Some of the measurements.

        Parameters
        ----------
        which : array of bool
            Per measurement whether it is wanted.

        Returns
        -------
        Measurements

        Examples
        --------
        >>> import numpy as np, strutsweep as ss
        >>> curve = ss.Measurements.curve("toe", [0.1, 0.0, -0.1], 0.02, travel=[-40.0, 0.0, 40.0])
        >>> len(curve.chosen(curve.value > 0.05))
        1
        """
        places = np.flatnonzero(which)

        def some(column: tuple[Any, ...]) -> tuple[Any, ...]:
            return tuple(column[place] for place in places)

        return Measurements(
            some(self.reading),
            self.value[places],
            self.accuracy[places],
            self.rows[places],
            some(self.travel_at),
            some(self.curves),
            some(self.zeroed),
            self.side,
        )

    def described(self, place: int) -> str:
        """One measurement in words: its curve and pose.

        Parameters
        ----------
        place : int

        Returns
        -------
        str

        Examples
        --------
        >>> import strutsweep as ss
        >>> ss.Measurements.curve("toe", [0.1, 0.0], 0.02, travel=[-40.0, 0.0]).described(0)
        'toe, travel -40 mm'
        """
        pose = [
            f"{field} {value:g} {attributes(field)['units']}"
            for field, value in zip(FIELDS, self.rows[place], strict=True)
            if value
        ]
        return ", ".join([self.curves[place], *pose])

    def _records(self) -> Iterator[dict[str, Any]]:
        for place in range(len(self)):
            fields = dict(zip(FIELDS, self.rows[place].tolist(), strict=True))
            yield {
                "curve": self.curves[place],
                "reading": self.reading[place],
                "value": float(self.value[place]),
                "accuracy": float(self.accuracy[place]),
                "zeroed": self.zeroed[place],
                "travel_at": self.travel_at[place],
                "side": self.side or "",
            } | fields

    def to_dict(self) -> dict[str, Any]:
        """The measurements as the tables of a measurement file.

        Returns
        -------
        dict

        Examples
        --------
        >>> import strutsweep as ss
        >>> ss.Measurements.curve("caster", 5.9, 0.1).to_dict()["curve"][0]["value"]
        [5.9]
        """
        curves = []
        for name in self.names:
            places = [place for place, curve in enumerate(self.curves) if curve == name]
            heads = {(self.reading[p], self.travel_at[p], self.zeroed[p]) for p in places}
            for reading, travel_at, zeroed in sorted(heads):
                own = [
                    p
                    for p in places
                    if (self.reading[p], self.travel_at[p], self.zeroed[p]) == (reading, travel_at, zeroed)
                ]
                accuracy = self.accuracy[own]
                table: dict[str, Any] = {"name": name, "reading": reading}
                if travel_at != "ground":
                    table["travel_at"] = travel_at
                if zeroed:
                    table["zeroed"] = True
                table["accuracy"] = float(accuracy[0]) if (accuracy == accuracy[0]).all() else accuracy.tolist()
                for column, field in enumerate(FIELDS):
                    values = self.rows[own, column]
                    if values.any():
                        table[field] = float(values[0]) if (values == values[0]).all() else values.tolist()
                table["value"] = self.value[own].tolist()
                curves.append(table)
        return {"schema": SCHEMA, **({"side": self.side} if self.side else {}), "curve": curves}

    @staticmethod
    def from_dict(tables: Mapping[str, Any]) -> Measurements:
        """Measurements from the tables of a measurement file.

        Parameters
        ----------
        tables : dict
            ``schema`` = 1, ``side`` if it is to be said, and a list ``curve`` of tables: ``reading``, ``value``, ``accuracy``, and, if wanted,
            ``name``, ``zeroed``, ``travel_at`` and any field of setting or motion, each one number or as many as there
            are values.

        Returns
        -------
        Measurements

        Raises
        ------
        FileError
            An unknown or missing entry.
        InputError
            A value that cannot be worked with.

        Examples
        --------
        >>> import strutsweep as ss
        >>> curve = ss.Measurements.curve("toe", [0.1, 0.0], 0.02, travel=[-40.0, 0.0])
        >>> ss.Measurements.from_dict(curve.to_dict()).to_dict() == curve.to_dict()
        True
        """
        for key in tables:
            if key not in ("schema", "side", "curve", "note"):
                raise FileError(
                    f"measurements: there is no {key!r}; known: schema, side, note, curve", key=key, reason="unknown"
                )
        if "schema" not in tables:
            raise FileError(f"measurements: schema = {SCHEMA} is missing", field="schema", reason="missing")
        if tables["schema"] != SCHEMA:
            found = tables["schema"]
            raise FileError(f"measurements: schema = {found!r}, and {SCHEMA} is known", field="schema", reason="schema")
        side = tables.get("side")
        # Compared one by one: what a file's tables hold may be an array too.
        if side is not None and str(side) not in _SIDES:
            message = f"measurements: side = {side!r} is neither left nor right"
            raise FileError(message, field="side", reason="unknown")
        curves = tables.get("curve", [])
        if not isinstance(curves, list) or not all(isinstance(curve, Mapping) for curve in curves):
            raise FileError("measurements: curve must be tables, [[curve]]", field="curve", reason="no tables")
        known = ("reading", "value", "accuracy", "zeroed", "name", "travel_at", *FIELDS)
        together = Measurements.none()
        for number, curve in enumerate(curves, 1):
            entries = dict(curve)
            where = f"curve {number}"
            for key in entries:
                if key not in known:
                    told = f"{where}: {unknown('curve', key, known)}"
                    raise FileError(told, key=key, table="curve", reason="unknown")
            for key in ("reading", "value", "accuracy"):
                if key not in entries:
                    raise FileError(f"{where}: {key} is missing", field=key, table="curve", reason="missing")
            try:
                together += Measurements.curve(
                    entries.pop("reading"), entries.pop("value"), entries.pop("accuracy"), side=side, **entries
                )
            except InputError as error:
                raise InputError(f"{where}: {error}", name=error.name, value=error.value) from None
        return replace(together, side=side)

    @staticmethod
    def load(path: str | os.PathLike[str]) -> Measurements:
        """Read a measurement file.

        Parameters
        ----------
        path : path
            ``.toml``, with a ``[[curve]]`` table a curve as `from_dict` tells; or ``.csv``, a row a number, with
            columns ``reading``, ``value``, ``accuracy`` and, if wanted, ``curve``, ``zeroed`` (true or false),
            ``travel_at``, ``side`` (left or right, the same in each row or blank) and fields of setting and motion.
            Millimetres and degrees.

        Returns
        -------
        Measurements

        Raises
        ------
        FileError
            The file cannot be read, or an entry of it, with its line or curve.
        InputError
            A value that cannot be worked with.

        Examples
        --------
        >>> import pathlib, strutsweep as ss
        >>> rows = "reading,value,accuracy,travel\\ntoe,0.1,0.02,-40\\ntoe,0,0.02,0\\n"
        >>> _ = pathlib.Path("sheet.csv").write_text(rows)
        >>> ss.Measurements.load("sheet.csv").described(0)
        'toe, travel -40 mm'
        """
        source = Path(path)
        ending = _ending(source)
        try:
            text = source.read_text(encoding="utf-8-sig")
        except OSError as error:
            reason = error.strerror or str(error)
            raise FileError(f"{source}: cannot be read: {reason}", path=source, reason=reason) from None
        except UnicodeDecodeError:
            raise FileError(f"{source}: is no text in UTF-8", path=source, reason="no text in UTF-8") from None
        try:
            if ending == ".toml":
                return Measurements.from_dict(tomllib.loads(text))
            return _from_csv(text)
        except tomllib.TOMLDecodeError as error:
            raise FileError(f"{source}: {error}", path=source, reason=str(error)) from None
        except FileError as error:
            raise FileError(f"{source}: {error}", path=source, reason=error.reason, line=error.line) from None
        except InputError as error:
            raise InputError(f"{source}: {error}", name=error.name, value=error.value) from None

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write a measurement file, ``.toml`` or ``.csv``, which `load` reads back to the same numbers.

        Parameters
        ----------
        path : path
            A file of that name is replaced.

        Raises
        ------
        FileError
            Another ending, or the file cannot be written.

        Examples
        --------
        >>> import strutsweep as ss
        >>> ss.Measurements.curve("caster", 5.9, 0.1).save("sheet.toml")
        >>> ss.Measurements.load("sheet.toml").value
        array([5.9])
        """
        target = Path(path)
        ending = _ending(target)
        try:
            if ending == ".toml":
                target.write_text(_toml(self.to_dict()), encoding="utf-8")
                return
            with target.open("w", encoding="utf-8", newline="") as stream:
                used = [f for f in FIELDS if self.rows[:, FIELDS.index(f)].any()]
                told = [*used, "side"] if self.side else used
                heads = [head for head in _COLUMNS if head not in (*FIELDS, "side") or head in told]
                writer = csv.writer(stream)
                writer.writerow(heads)
                for record in self._records():
                    writer.writerow([str(record[head]).lower() if head == "zeroed" else record[head] for head in heads])
        except OSError as error:
            raise FileError(f"{target}: cannot be written: {error}", path=target, reason=str(error)) from None

    def table(self) -> Table:
        """All measurements in print.

        Returns
        -------
        Table

        Examples
        --------
        >>> import strutsweep as ss
        >>> ss.Measurements.curve("caster", 5.9, 0.1).table().rows
        (('caster', '5.9', '0.1', 'deg', ''),)
        """
        rows = [
            (
                self.described(place),
                f"{self.value[place]:g}",
                f"{self.accuracy[place]:g}",
                READINGS[self.reading[place]]["units"],
                "changes only" if self.zeroed[place] else "",
            )
            for place in range(len(self))
        ]
        return Table.of("Measurements", ("what", "value", "accuracy", "unit", "gauge zeroed"), rows)

    def __repr__(self) -> str:
        of = f" of the {self.side} corner" if self.side else ""
        return f"Measurements({len(self)} in {len(self.names)} curves{of}: {', '.join(self.names)})"

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def check_side(measured: Measurements, side: str) -> None:
    """Refuse measurements of the other corner."""
    if measured.side not in (None, side):
        of = measured.side
        message = f"measurements: they are of the {of} corner, and this is the {side} one: take car.{of} (--side {of})"
        raise InputError(message, name="side", value=measured.side)


def _numbers(name: str, given: float | npt.ArrayLike) -> npt.NDArray[np.float64]:
    try:
        values = np.atleast_1d(np.array(given, dtype=np.float64))
    except (TypeError, ValueError) as error:
        raise InputError(f"{name} is not made of numbers: {error}", name=name, value=given) from None
    if values.ndim != 1:
        raise InputError(f"{name} has {values.ndim} dimensions: one is wanted", name=name, value=values.shape)
    if not np.isfinite(values).all():
        place = int(np.flatnonzero(~np.isfinite(values))[0])
        raise InputError(f"{name} = {values[place]} is not a finite number", name=name, value=float(values[place]))
    return values


def _as_long(name: str, given: float | npt.ArrayLike, count: int) -> npt.NDArray[np.float64]:
    values = _numbers(name, given)
    if len(values) not in (1, count):
        raise InputError(f"{name} has {len(values)} numbers for {count} values", name=name, value=len(values))
    return np.array(np.broadcast_to(values, count))


def _ending(path: Path) -> str:
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise FileError(f"{path}: ends in none of {', '.join(ENDINGS)}", path=path, reason="unknown ending")
    return ending


def _from_csv(text: str) -> Measurements:
    reader = csv.DictReader(text.splitlines())
    heads = [head.strip() for head in reader.fieldnames or []]
    for head in heads:
        if head not in _COLUMNS:
            raise FileError(str(unknown("column", head, _COLUMNS)), key=head, line=1, reason="unknown")
    for head in ("reading", "value", "accuracy"):
        if head not in heads:
            raise FileError(f"the column {head} is missing", field=head, line=1, reason="missing")
    reader.fieldnames = heads
    groups: dict[tuple[str, str, str, bool], list[dict[str, float]]] = {}
    side: Any = None
    for line, record in enumerate(reader, 2):
        if None in record or None in record.values():
            raise FileError(f"line {line}: not as many cells as columns", line=line, reason="cells")
        cells = {str(head): str(cell).strip() for head, cell in record.items()}
        zeroed = {"": False, "false": False, "no": False, "0": False, "true": True, "yes": True, "1": True}
        said = cells.get("zeroed", "").lower()
        if said not in zeroed:
            raise FileError(f"line {line}: zeroed = {said!r} is neither true nor false", line=line, reason="zeroed")
        of = cells.get("side", "").lower() or side
        if of is not None and (of not in _SIDES or of != (side or of)):
            wanted = f"not {side}, as before: fit each corner by itself" if of in _SIDES else "neither left nor right"
            raise FileError(f"line {line}: side = {of!r} is {wanted}", line=line, field="side", reason="side")
        side = of
        key = (
            cells.get("curve") or cells["reading"],
            cells["reading"],
            cells.get("travel_at") or "ground",
            zeroed[said],
        )
        numbers = {}
        for head in ("value", "accuracy", *FIELDS):
            if head in cells and (cells[head] or head in ("value", "accuracy")):
                try:
                    numbers[head] = float(cells[head])
                except ValueError:
                    message = f"line {line}: {head} = {cells[head]!r} is not a number"
                    raise FileError(message, line=line, field=head, reason="no number") from None
        groups.setdefault(key, []).append(numbers)
    together = Measurements.none()
    for (curve, reading, travel_at, is_zeroed), records in groups.items():
        columns = {
            head: [record.get(head, 0.0) for record in records]
            for head in ("value", "accuracy", *FIELDS)
            if any(head in record for record in records)
        }
        together += Measurements.curve(
            reading,
            columns.pop("value"),
            columns.pop("accuracy"),
            name=curve,
            zeroed=is_zeroed,
            travel_at=travel_at,  # type: ignore[arg-type]
            side=side,
            **columns,
        )
    return together


def _toml(tables: Mapping[str, Any]) -> str:
    def told(value: object) -> str:
        if isinstance(value, bool):
            return str(value).lower()
        if isinstance(value, str):
            escaped = "".join(
                f"\\u{ord(c):04x}" if ord(c) < 0x20 or c == "\x7f" else f"\\{c}" if c in '\\"' else c for c in value
            )
            return f'"{escaped}"'
        if isinstance(value, list):
            return f"[{', '.join(told(item) for item in value)}]"
        return repr(value)

    lines = ["# Measurements: millimetres and degrees.", f"schema = {tables['schema']}"]
    if "side" in tables:
        lines.append(f"side = {told(tables['side'])}")
    for curve in tables["curve"]:
        lines += ["", "[[curve]]", *(f"{key} = {told(value)}" for key, value in curve.items())]
    return "\n".join(lines) + "\n"
