"""One measurement in a process of its own: one peer, on some cores, at one size.

    python -m peers.worker PEER THREADS CORES REFERENCES SECONDS

It compiles and checks its peer on a small grid, says so, and then does what is asked of it line by line: `run` times
the job, `end` tells the memory and compares the whole result. Answers are lines of JSON. Between two answers it waits,
so that several of them can take turns.
"""

from __future__ import annotations

import os
import sys

if hasattr(os, "sched_setaffinity"):
    # Before any library counts the cores.
    os.sched_setaffinity(0, [int(core) for core in sys.argv[3].split(",")])

import importlib
import json
import resource
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

import numpy as np

from peers.job import READINGS, Floats, Grid, Sweep
from peers.roster import PEERS


def main() -> None:
    """Check, then answer until told to end."""
    # Whatever a library prints goes to standard error; standard output is for answers.
    answers = os.fdopen(os.dup(1), "w", buffering=1)
    os.dup2(2, 1)
    name, threads, _, folder, seconds = sys.argv[1:]
    peer = PEERS[name]
    module = importlib.import_module(f"peers.{peer.module}")
    references = Path(folder)
    car = json.loads((references / "car.json").read_text())
    small, grid = (Grid.near(poses) for poses in json.loads((references / f"{name}.json").read_text()))
    sweep: Sweep = getattr(module, peer.prepare)(car, int(threads))

    compile_s = first_call_extra(sweep, small)
    tell(answers, difference=differences(sweep(small), references / f"{small.poses}.npy"))
    memory_before = peak_memory_bytes()
    compile_s += first_call_extra(sweep, grid)
    tell(answers, compile_s=compile_s)
    for line in sys.stdin:
        if line.strip() == "run":
            tell(answers, seconds=best_seconds(sweep, grid, float(seconds)))
        else:
            break
    memory = peak_memory_bytes()
    # From here on memory is not counted any more.
    difference = differences(sweep(grid), references / f"{grid.poses}.npy")
    tell(answers, memory_before=memory_before, memory=memory, difference=difference)


def first_call_extra(sweep: Sweep, grid: Grid) -> float:
    """How many seconds longer a first call takes than a second: what is compiled in it."""
    times = []
    for _ in range(2):
        start = time.perf_counter()
        sweep(grid)
        times.append(time.perf_counter() - start)
    return max(0.0, times[0] - times[1])


def best_seconds(sweep: Sweep, grid: Grid, at_least: float) -> float:
    """The shortest of as many runs as fill a time; one at least."""
    best = float("inf")
    end = time.perf_counter() + at_least
    while True:
        start = time.perf_counter()
        results = sweep(grid)
        now = time.perf_counter()
        best = min(best, now - start)
        # Let go before the next run, so that no two results stand side by side.
        del results
        if now >= end:
            return best


def differences(results: Sequence[Floats], reference: Path) -> dict[str, float]:
    """The largest difference of each reading from the engine's; NaN counts as infinite."""
    largest = {}
    for name, result, expected in zip(READINGS, results, np.load(reference, mmap_mode="r"), strict=True):
        if result.shape != expected.shape:
            raise ValueError(f"{name} has the shape {result.shape}, wanted {expected.shape}")
        gaps = (np.abs(ours - theirs).max() for ours, theirs in zip(result, expected, strict=True))
        largest[name] = max(float("inf") if np.isnan(gap) else float(gap) for gap in gaps)
    return largest


def peak_memory_bytes() -> int:
    """The most memory that this process has held at once."""
    status = Path("/proc/self/status")
    if status.exists():
        # Not `getrusage`: on Linux its figure begins with that of the process that started this one.
        lines = status.read_text().splitlines()
        return 1024 * next(int(line.split()[1]) for line in lines if line.startswith("VmHWM:"))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak if sys.platform == "darwin" else 1024 * peak


def tell(answers: TextIO, **figures: object) -> None:
    """One answer."""
    answers.write(json.dumps(figures) + "\n")


if __name__ == "__main__":
    main()
