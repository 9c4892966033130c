"""A million samples of a corner over 21 travels: how long `strutsweep.spread` takes, and how much memory.

    python tests/benches/spread_speed.py
"""

from __future__ import annotations

import resource
import time

import numpy as np

import strutsweep as ss
from strutsweep.spreading import USUAL_READINGS

SAMPLES = 1_000_000
TRAVEL = np.linspace(-60.0, 60.0, 21)


def main() -> None:
    """Print seconds and megabytes for a few sets of readings."""
    corner = ss.demo("hillclimb_saloon").left
    ss.spread(corner, {"points": 1.0}, samples=4096, seed=1)
    for readings in (["camber"], ["camber", "toe", "caster", "bump_steer"], list(USUAL_READINGS)):
        start = time.perf_counter()
        found = ss.spread(corner, {"points": 1.0}, readings=readings, travel=TRAVEL, samples=SAMPLES, seed=1)
        seconds = time.perf_counter() - start
        memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{found.data.attrs['samples']:,} samples, {len(TRAVEL)} travels, {len(readings)} readings:"
            f" {seconds:.1f} s, at most {memory_mb:,.0f} MB"
        )


if __name__ == "__main__":
    main()
