"""What can go wrong, as exceptions with attributes.

Every exception here is both a `StrutsweepError` and a `ValueError`. They are raised by the engine; their attributes
hold what their message says, for programs.
"""

from __future__ import annotations

from collections.abc import Sequence
from os import PathLike
from typing import Any

__all__ = ["FileError", "GeometryError", "InputError", "ReachError", "StrutsweepError"]


class StrutsweepError(ValueError):
    """What every exception of this package is."""

    def __init__(self, message: str, **attributes: Any) -> None:
        super().__init__(message)
        for name, value in attributes.items():
            setattr(self, name, value)

    def __reduce__(self) -> tuple[Any, ...]:
        # Attributes are keyword arguments, which the pickling of exceptions does not know by itself.
        return _rebuild, (type(self), str(self), dict(self.__dict__))


def _rebuild(cls: type[StrutsweepError], message: str, attributes: dict[str, Any]) -> StrutsweepError:
    return cls(message, **attributes)


class GeometryError(StrutsweepError):
    """Numbers that make no corner.

    Attributes
    ----------
    field : str
        The field as a car file spells it, such as ``"lower_arm.ball_joint"``.
    value : float or list of float or None
        What was given.
    reason : str
        What is wrong with it.
    limit : float or None
        The limit that it broke, where the limit is one number.
    unit : str or None
        The limit's unit.
    path : path or None
        The car file, if it came from one.
    line : int or None
        The line of the field, if the text has lines.
    """

    field: str = ""
    value: float | Sequence[float] | None = None
    reason: str = ""
    limit: float | None = None
    unit: str | None = None
    path: str | PathLike[str] | None = None
    line: int | None = None


class FileError(StrutsweepError):
    """A car file, or tables of its form, that cannot be read or written.

    Attributes
    ----------
    reason : str
        What is wrong.
    path : path or None
        The file, if there is one.
    line : int or None
        The line, if the text has lines.
    table, key, nearest : str or None
        For an unknown key: the table it stands in, the key, and the known key nearest to it, if any is near.
    field : str or None
        For a missing or a wrong value: the field.
    """

    reason: str = ""
    path: str | PathLike[str] | None = None
    line: int | None = None
    table: str | None = None
    key: str | None = None
    nearest: str | None = None
    field: str | None = None


class InputError(StrutsweepError):
    """An argument of a call that cannot be worked with.

    Attributes
    ----------
    name : str or None
        The argument.
    value : object
        What was given.
    index : int or None
        Where in a flattened array the value stood.
    limit : float or None
        The magnitude that it exceeds, where there is one.
    unit : str or None
        The limit's unit.
    """

    name: str | None = None
    value: Any = None
    index: int | None = None
    limit: float | None = None
    unit: str | None = None


class ReachError(StrutsweepError):
    """A single pose that cannot be reached.

    Attributes
    ----------
    part : str
        What ran out, as in the ``status`` of a sweep: ``"lower_arm"``, ``"strut"`` or ``"tie_rod"``.
    status : int
        The code of that status.
    reason : str
        What happened, in a sentence.
    """

    part: str = ""
    status: int = 0
    reason: str = ""
