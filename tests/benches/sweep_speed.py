"""Poses per second from Python, result arrays and labels included. Run by hand.

    python tests/benches/sweep_speed.py

The figures depend on the machine and on what else it does: compare lines of one run.
"""

from __future__ import annotations

import os
import platform
import time

import numpy as np
import strutsweep as ss

EIGHT = (
    "camber",
    "toe",
    "caster",
    "kingpin_inclination",
    "scrub_radius",
    "mechanical_trail",
    "strut_compression",
    "half_track",
)
REPEATS = 5


def best_seconds(poses: dict[str, np.ndarray], **options: object) -> float:
    corner = ss.demo("hillclimb_saloon").left
    best = float("inf")
    for _ in range(REPEATS):
        start = time.perf_counter()
        ss.sweep(corner, **poses, **options)  # type: ignore[arg-type]
        best = min(best, time.perf_counter() - start)
    return best


def main() -> None:
    print(f"strutsweep {ss.__version__}, Python {platform.python_version()}, {os.cpu_count()} cores; best of {REPEATS}")
    grid = {
        "travel": np.linspace(-60.0, 60.0, 41),
        "mount_in": np.linspace(-20.0, 20.0, 101),
        "mount_back": np.linspace(-10.0, 10.0, 101),
    }
    count = int(np.prod([len(values) for values in grid.values()]))
    print(f"{count:,} poses (41 travels x 101 x 101 top-mount positions)")
    for name, readings in (("all readings", None), ("eight readings, no rates", EIGHT)):
        for threads in (1, 2):
            seconds = best_seconds(grid, readings=readings, threads=threads)
            print(f"  {name:26} {threads} thread(s): {seconds:7.3f} s, {count / seconds / 1e6:6.2f} million poses/s")
    start = time.perf_counter()
    corner = ss.demo("hillclimb_saloon").left
    number = 20_000
    for _ in range(number):
        corner.solve(travel=10.0, mount_in=5.0)
    print(f"one solve: {(time.perf_counter() - start) / number * 1e6:.2f} microseconds")


if __name__ == "__main__":
    main()
