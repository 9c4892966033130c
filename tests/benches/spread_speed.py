"""A million samples of a corner over 21 travels: how long `strutsweep.spread` takes, and how much memory.

On a machine that does something else too, the processors' seconds are the ones to compare. A release build with its
link-time optimisation is what users get; a quick one takes several times as long.

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
        start, start_of_work = time.perf_counter(), time.process_time()
        found = ss.spread(corner, {"points": 1.0}, readings=readings, travel=TRAVEL, samples=SAMPLES, seed=1)
        seconds, work = time.perf_counter() - start, time.process_time() - start_of_work
        memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{found.data.attrs['samples']:,} samples, {len(TRAVEL)} travels, {len(readings)} readings:"
            f" {seconds:.1f} s by the clock, {work:.1f} s of the processors, at most {memory_mb:,.0f} MB"
        )


if __name__ == "__main__":
    main()
