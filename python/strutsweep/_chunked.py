"""Sweeps larger than one machine's memory, or than one machine: inputs in Dask chunks, results in Dask chunks.

Nothing is computed until it is asked for. Each chunk of the grid is one call of `strutsweep.sweep` on one thread, on
whatever worker Dask gives it to; chunks are independent, and come out with the same bits as the whole would.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

if TYPE_CHECKING:
    from strutsweep._core import Corner
    from strutsweep._inputs import Input

__all__ = ["columns", "is_chunked"]

_INPUT, _POINT = "input ", "point "
"""Before the names of inputs and hard points of a chunk, so that none is taken for the other or for a dimension."""


def is_chunked(arrays: Mapping[str, Input]) -> bool:
    """Whether any of these arrays is backed by Dask."""
    return any(isinstance(array, xr.DataArray) and array.chunks is not None for array in arrays.values())


def columns(
    corner: Corner,
    inputs: Mapping[str, Input],
    moved: Mapping[str, xr.DataArray],
    sizes: Mapping[str, int],
    readings: Sequence[str],
    places: Sequence[str],
    travel_at: str,
    threads: int,
) -> tuple[dict[str, Any], Any]:
    """Every column of a sweep and its status as Dask arrays, to be computed chunk by chunk.

    Chunks along a dimension are those of the inputs; a dimension that no chunked input has is one chunk.
    """
    import dask.array as da

    named = {_INPUT + name: array for name, array in inputs.items()}
    named |= {_POINT + name: array for name, array in moved.items()}
    # Copies of plain arrays: they are looked at when the result is asked for.
    data = {name: array.data if isinstance(array, xr.DataArray) else array.values.copy() for name, array in named.items()}
    given = xr.Dataset({name: (array.dims, data[name]) for name, array in named.items()}).unify_chunks()
    chunks = {dim: given.chunksizes.get(dim, (size,)) for dim, size in sizes.items()}

    def empty(dims: Sequence[str], dtype: type) -> tuple[Sequence[str], Any]:
        lengths = {"xyz": 3} | dict(sizes)
        pieces = {"xyz": (3,)} | chunks
        shape = tuple(lengths[dim] for dim in dims)
        return dims, da.empty(shape, dtype=dtype, chunks=tuple(pieces[dim] for dim in dims))

    grid = tuple(sizes)
    template = xr.Dataset(
        {name: empty(grid, np.float64) for name in readings}
        | {name: empty(("xyz", *grid), np.float64) for name in places if name not in readings}
        | {"status": empty(grid, np.int8)}
    )
    result = xr.map_blocks(
        _chunk,
        given,
        kwargs={
            "corner": corner,
            "readings": list(readings),
            "places": list(places),
            "travel_at": travel_at,
            "threads": threads,
        },
        template=template,
    )
    return {str(name): result[name].data for name in result.data_vars if name != "status"}, result["status"].data


def _chunk(
    given: xr.Dataset, *, corner: Corner, readings: list[str], places: list[str], travel_at: Any, threads: int
) -> xr.Dataset:
    """One chunk of the grid, in memory."""
    from strutsweep.sweeping import sweep

    def named(prefix: str) -> dict[str, Any]:
        return {str(name)[len(prefix) :]: array for name, array in given.items() if str(name).startswith(prefix)}

    swept = sweep(
        corner,
        **named(_INPUT),
        points=named(_POINT),
        travel_at=travel_at,
        readings=readings,
        places=places,
        threads=threads,
        progress=False,
    )
    return swept.drop_vars(list(swept.coords)).drop_attrs()
