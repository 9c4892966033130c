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
ROUNDS = 20
IN_A_ROW = 20
STATISTICS = {"best": np.min, "median": np.median, "mean": np.mean}


def best_seconds(poses: dict[str, np.ndarray], **options: object) -> float:
    corner = ss.demo("hillclimb_saloon").left
    best = float("inf")
    for _ in range(REPEATS):
        start = time.perf_counter()
        ss.sweep(corner, **poses, **options)  # type: ignore[arg-type]
        best = min(best, time.perf_counter() - start)
    return best


def seconds_in_rounds(in_a_row: int) -> dict[int, np.ndarray]:
    """Times of sweeps on one thread and on two, so many of a kind in a row, kinds in turns.

    Where several of a kind follow each other the first is not counted: the sweep before left the caches as another
    number of threads leaves them, and a second thread that had nothing to do may have fallen fast asleep.
    """
    corner = ss.demo("gravel_hatch").left
    mount = np.linspace(-15.0, 15.0, 64)
    grid = {"travel": np.linspace(-60.0, 60.0, 41), "mount_in": mount, "mount_back": mount}
    taken: dict[int, list[float]] = {1: [], 2: []}
    for turn in range(ROUNDS * IN_A_ROW // in_a_row):
        for threads in (1, 2) if turn % 2 else (2, 1):
            for place in range(in_a_row):
                start = time.perf_counter()
                ss.sweep(corner, **grid, readings=EIGHT, threads=threads)
                if place or in_a_row == 1:
                    taken[threads].append(time.perf_counter() - start)
    return {threads: np.array(times) for threads, times in taken.items()}


def print_gain_of_two_threads() -> None:
    print("two threads against one, eight readings of 167,936 poses")
    kinds = ((IN_A_ROW, f"{IN_A_ROW} sweeps of a kind in a row"), (1, "one and two in turns"))
    for in_a_row, words in kinds:
        # The first ones load what is loaded once.
        seconds_in_rounds(in_a_row)
        taken = seconds_in_rounds(in_a_row)
        gains = {what: of(taken[1]) / of(taken[2]) for what, of in STATISTICS.items()}
        print(f"  {words:28}", ", ".join(f"{what} {gain:.2f}" for what, gain in gains.items()))


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
    print_gain_of_two_threads()
    start = time.perf_counter()
    corner = ss.demo("hillclimb_saloon").left
    number = 20_000
    for _ in range(number):
        corner.solve(travel=10.0, mount_in=5.0)
    print(f"one solve: {(time.perf_counter() - start) / number * 1e6:.2f} microseconds")


if __name__ == "__main__":
    main()
