"""The engine itself, through its Python face: result arrays, labels and status included."""

from __future__ import annotations

import strutsweep as ss

from .job import READINGS, Car, Floats, Grid, Sweep


def prepare(car: Car, threads: int) -> Sweep:
    """The sweep, ready to be timed."""
    corner = ss.Corner.from_dict(dict(car))

    def sweep(grid: Grid) -> list[Floats]:
        found = ss.sweep(
            corner,
            travel=grid.travel,
            mount_in=grid.mount_in,
            mount_back=grid.mount_back,
            travel_at="ground",
            readings=READINGS,
            threads=threads,
            progress=False,
        )
        return [found[name].values for name in READINGS]

    return sweep
