"""How large a result would be, and whether it fits."""

from __future__ import annotations

import psutil

from strutsweep.errors import InputError

__all__ = ["bytes_of", "refuse_if_too_large"]

_NUMBER = 8
"""Bytes of a number."""

_SMALL = 16_000_000
"""A result of fewer bytes is not worth asking the system what is free: the question takes as long as thousands of poses."""


def bytes_of(poses: int, readings: int, places: int) -> int:
    """Bytes of a sweep's result: a number a reading, three a place and one byte of status for each pose."""
    return poses * (_NUMBER * (readings + 3 * places) + 1)


def refuse_if_too_large(poses: int, readings: int, places: int, copies: int = 1) -> None:
    """Refuse a sweep whose result, so many times over while it is made, does not fit in the memory that is free.

    Raises
    ------
    InputError
        With the result's size, what is free, and what to do.
    """
    result = bytes_of(poses, readings, places)
    wanted = copies * result
    if wanted < _SMALL:
        return
    free = psutil.virtual_memory().available
    if wanted > free:
        meanwhile = f" ({_told(wanted)} while it is made)" if copies > 1 else ""
        message = (
            f"the result of {poses:,} poses would take {_told(result)}{meanwhile}, and {_told(free)} of memory are free: "
            "ask for fewer readings (readings=[...]), sweep fewer poses, or give an input in Dask chunks "
            "(DataArray.chunk) to compute the result piece by piece"
        )
        raise InputError(message, name="poses", value=poses)


def _told(size: int) -> str:
    return f"{size / 1e9:,.1f} GB" if size >= 1e9 else f"{size / 1e6:,.0f} MB"
