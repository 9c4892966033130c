"""Poses per second and peak memory beside the same job written with general-purpose libraries. Run by hand.

    python tests/benches/against_peers.py [--sizes 1e3,1.7e5,1e7] [--threads 1,2] [--peers numpy,jax] [--quick]

The job: a demonstration car, wheel travel at the ground, 41 travels on a square of top-mount positions, eight readings,
results in arrays. The engine is timed through Python, labels, status and checks of its input included; its peers, which
have none of these, are given its mathematics ready-made (`peers/job.py`) and written to run at their best.

Every measurement has a process of its own, tied to as many cores as it may have threads. At each size and number of
threads all processes stand ready and take turns, so that whatever else the machine does hits all alike; the best turn
counts. A peer must agree with the engine in every reading, first on a small grid, at the end on all poses.
Figures depend on the machine and on what else it does: quote ratios from one run.
"""

from __future__ import annotations

import argparse
import importlib.metadata
import importlib.util
import json
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import IO, Any, NamedTuple

import numpy as np
import strutsweep as ss
from peers.job import READINGS, Grid
from peers.roster import ENGINE, PEERS
from rich.console import Console
from rich.table import Table

HERE = Path(__file__).resolve().parent
CAR = "hillclimb_saloon"

AGREEMENT = 1e-8
"""Degrees or mm: the largest difference between a peer and the engine. Both end within 1e-9 mm of the wanted travel,
and no reading changes by more than one degree or five mm per mm of travel here."""

CHECK_POSES = 1e3
"""Size of the grid on which a peer is checked before it is timed."""

LANES = "STRUTSWEEP_LANES"
"""The environment variable that sets the engine's vector instructions; handed on as it is."""

MEGA = 1e6


class Plan(NamedTuple):
    """How often and how long is measured."""

    turns: int
    seconds_a_turn: float


THOROUGH = Plan(7, 0.3)
QUICK = Plan(3, 0.05)


class Disagreement(Exception):
    """A peer does not give what the engine gives, or did not come to an end."""


class Measurement:
    """A peer's process, ready to take turns."""

    def __init__(self, name: str, threads: int, poses: float, references: Path, plan: Plan) -> None:
        self.name, self.peer = name, PEERS[name]
        self.grid = Grid.near(min(poses, self.peer.most_poses))
        self.scaled = poses > self.peer.most_poses
        self.best_s = float("inf")
        self._errors: IO[str] = tempfile.TemporaryFile("w+")
        (references / f"{name}.json").write_text(json.dumps([CHECK_POSES, self.grid.poses]))
        cores = ",".join(map(str, available_cores()[-threads:]))
        self._process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "peers.worker",
                name,
                str(threads),
                cores,
                str(references),
                str(plan.seconds_a_turn),
            ],
            cwd=HERE,
            env=environment(threads),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._errors,
            text=True,
        )

    def __enter__(self) -> Measurement:
        try:
            self.difference: dict[str, float] = self._answer()["difference"]
            self._check()
            self.compile_s: float = self._answer()["compile_s"]
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.communicate()
        self._errors.close()

    def take_turn(self) -> None:
        """Run the job for one turn."""
        self._ask("run")
        self.best_s = min(self.best_s, self._answer()["seconds"])

    def finish(self) -> None:
        """Memory, and the comparison of all poses."""
        self._ask("end")
        last = self._answer()
        self.difference, self.memory, self.memory_before = last["difference"], last["memory"], last["memory_before"]
        self._check()

    @property
    def poses_per_s(self) -> float:
        return self.grid.poses / self.best_s

    def _check(self) -> None:
        wrong = {name: gap for name, gap in self.difference.items() if not gap < AGREEMENT}
        if wrong:
            gaps = ", ".join(f"{name} by {gap:.1e}" for name, gap in wrong.items())
            raise Disagreement(f"{self.peer.label} differs from the engine by more than {AGREEMENT:.0e}: {gaps}")

    def _ask(self, what: str) -> None:
        assert self._process.stdin is not None
        try:
            print(what, file=self._process.stdin, flush=True)
        except BrokenPipeError:
            self._fail()

    def _answer(self) -> Any:
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        if not line:
            self._fail()
        return json.loads(line)

    def _fail(self) -> None:
        self._process.wait()
        self._errors.seek(0)
        raise Disagreement(f"{self.peer.label} came to grief:\n{self._errors.read()[-2_000:]}")


def available_cores() -> list[int]:
    """The cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return sorted(os.sched_getaffinity(0))
    return list(range(os.cpu_count() or 1))


def environment(threads: int) -> dict[str, str]:
    """What tells each library how many threads it has, and JAX to use the whole width of the machine's vectors."""
    counts = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS", "NPROC")
    flags = [os.environ.get("XLA_FLAGS", "")]
    if threads == 1:
        flags.append("--xla_cpu_multi_thread_eigen=false")
    if "avx512f" in cpu()["flags"].split():
        flags.append("--xla_cpu_prefer_vector_width=512")
    return {
        **os.environ,
        **dict.fromkeys(counts, str(threads)),
        "XLA_FLAGS": " ".join(flags).strip(),
        "JAX_PLATFORMS": "cpu",
    }


def cpu() -> dict[str, str]:
    """Model and flags of the first core, as far as the system tells."""
    found = {"model name": platform.processor() or platform.machine(), "flags": ""}
    path = Path("/proc/cpuinfo")
    for line in path.read_text().split("\n\n")[0].splitlines() if path.exists() else ():
        key, _, value = line.partition(":")
        if key.strip() in found:
            found[key.strip()] = value.strip()
    return found


def describe_machine(console: Console) -> None:
    """What figures depend on."""
    about = cpu()
    vectors = [flag for flag in about["flags"].split() if flag.startswith(("avx", "fma", "sse4", "neon", "sve"))]
    versions = []
    for library in ("numpy", "scipy", "xarray", "jax", "jaxlib", "numba", "llvmlite"):
        try:
            versions.append(f"{library} {importlib.metadata.version(library)}")
        except importlib.metadata.PackageNotFoundError:
            continue
    console.print(f"Machine: {about['model name']}, {len(available_cores())} cores to be had, {platform.system()}")
    console.print(f"Vectors: {' '.join(vectors) or 'not told'}")
    console.print(f"Python {platform.python_version()}, {', '.join(versions)}")
    console.print(f"strutsweep {ss.__version__}, commit {commit()}, {LANES} {os.environ.get(LANES, 'not set')}")
    if hasattr(os, "getloadavg"):
        console.print(f"Load of the machine before: {os.getloadavg()[0]:.2f}")


def commit() -> str:
    """The commit that the checkout stands at."""
    git = ["git", "-C", str(HERE)]
    try:
        at = subprocess.run(
            [*git, "rev-parse", "--short=12", "HEAD"], capture_output=True, text=True, check=True
        ).stdout
        changed = subprocess.run(
            [*git, "status", "--porcelain", "--untracked-files=no"], capture_output=True, text=True, check=True
        ).stdout
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
    return at.strip() + (" with changes" if changed.strip() else "")


def chosen_peers(libraries: Iterable[str], console: Console) -> list[str]:
    """The engine and every peer whose library is there."""
    chosen = [ENGINE]
    for library in libraries:
        if importlib.util.find_spec(library) is None:
            console.print(f"{library} is not installed and left out: pip install 'strutsweep[bench]'", markup=False)
            continue
        chosen += [name for name, peer in PEERS.items() if peer.library == library]
    return chosen


def save_reference(poses: float, references: Path) -> None:
    """The engine's readings on a grid, for peers to be checked against."""
    grid = Grid.near(poses)
    path = references / f"{grid.poses}.npy"
    if path.exists():
        return
    corner = ss.demo(CAR).left
    inputs: Mapping[str, Any] = {"travel": grid.travel, "mount_in": grid.mount_in, "mount_back": grid.mount_back}
    found = ss.sweep(corner, **inputs, travel_at="ground", readings=READINGS, progress=False)
    if int(found.status.max()) != 0:
        raise Disagreement("the engine does not reach every pose of this grid")
    np.save(path, np.stack([found[name].values for name in READINGS]))


def measure(names: Iterable[str], poses: float, threads: int, plan: Plan, console: Console) -> list[Measurement]:
    """All peers at one size and number of threads, taking turns."""
    names = [name for name in names if PEERS[name].most_threads >= threads]
    with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
        references = Path(folder)
        (references / "car.json").write_text(json.dumps(ss.demo(CAR).left.to_dict()))
        for size in (CHECK_POSES, poses, *(PEERS[name].most_poses for name in names)):
            if size <= max(poses, CHECK_POSES):
                save_reference(size, references)
        measurements = []
        for name in names:
            # One after the other: none is checked while another compiles.
            with console.status(f"{PEERS[name].label}: compile and check"):
                measurements.append(stack.enter_context(Measurement(name, threads, poses, references, plan)))
        for turn in range(plan.turns):
            with console.status(f"turn {turn + 1} of {plan.turns}"):
                for measurement in measurements:
                    measurement.take_turn()
        for measurement in measurements:
            with console.status(f"{measurement.peer.label}: compare all poses"):
                measurement.finish()
    return measurements


def show(measurements: list[Measurement], poses: float, threads: int, console: Console) -> None:
    """One table a size and number of threads.

    The ratio is of poses per second: above one where strutsweep is the faster. The job's memory is what the peak grew
    by after libraries were loaded and the job had run on the small grid.
    """
    grid = Grid.near(poses)
    shape = f"{grid.shape[0]} travels x {grid.shape[1]} x {grid.shape[2]} mounts"
    one = "one thread on one core" if threads == 1 else f"{threads} threads on {threads} cores"
    results_mb = grid.poses * len(READINGS) * 8 / MEGA
    table = Table(title=f"{grid.poses:,} poses ({shape}), {one}; results {results_mb:,.1f} MB", title_justify="left")
    table.add_column("", no_wrap=True)
    for heading in (
        "million poses/s",
        "ns a pose",
        "strutsweep / peer",
        "peak MB",
        "job's MB",
        "compile s",
        "difference",
    ):
        table.add_column(heading, justify="right")
    engine = measurements[0]
    for one_measured in measurements:
        peer, whole = one_measured.peer, not one_measured.scaled
        table.add_row(
            peer.label + ("" if whole else f", on {one_measured.grid.poses:,}"),
            f"{one_measured.poses_per_s / MEGA:,.3g}",
            f"{1e9 / one_measured.poses_per_s:,.3g}",
            "" if one_measured is engine else f"{engine.poses_per_s / one_measured.poses_per_s:,.3g}",
            f"{one_measured.memory / MEGA:,.0f}" if whole else "",
            f"{max(0, one_measured.memory - one_measured.memory_before) / MEGA:,.0f}" if whole else "",
            f"{one_measured.compile_s:.1f}" if peer.compiles else "",
            "" if one_measured is engine else f"{max(one_measured.difference.values()):.0e}",
        )
    console.print(table)


def show_differences(measurements: list[Measurement], console: Console) -> None:
    """How far each peer is from the engine, reading by reading."""
    table = Table(title="Largest difference from strutsweep over all poses, deg or mm", title_justify="left")
    table.add_column("")
    for name in READINGS:
        table.add_column(name.replace("_", " "), justify="right")
    for one_measured in measurements[1:]:
        table.add_row(one_measured.peer.label, *(f"{one_measured.difference[name]:.0e}" for name in READINGS))
    console.print(table)


def arguments() -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sizes", help="numbers of poses, with commas between (1e3,1.7e5,1e7; quick: 1e3,1.7e5)")
    parser.add_argument("--threads", default="1,2", help="numbers of threads, with commas between")
    parser.add_argument("--peers", default="numpy,scipy,jax,numba", help="libraries, with commas between")
    parser.add_argument("--quick", action="store_true", help="fewer and shorter turns, no large size")
    given = parser.parse_args()
    given.sizes = [
        float(size) for size in (given.sizes or ("1e3,1.7e5" if given.quick else "1e3,1.7e5,1e7")).split(",")
    ]
    given.threads = [int(count) for count in given.threads.split(",")]
    given.peers = [name for name in given.peers.split(",") if name]
    known = {peer.library for peer in PEERS.values()} - {ENGINE}
    if unknown := set(given.peers) - known:
        parser.error(f"no peer is named {', '.join(sorted(unknown))}; known: {', '.join(sorted(known))}")
    if max(given.threads) > len(available_cores()) or min(given.threads) < 1:
        parser.error(f"threads are 1 to {len(available_cores())} here: one core each")
    return given


def main() -> int:
    """Measure, print, and say by the exit code whether all agreed."""
    given = arguments()
    console = Console(width=None if sys.stdout.isatty() else 150)
    plan = QUICK if given.quick else THOROUGH
    describe_machine(console)
    names = chosen_peers(given.peers, console)
    console.print(f"Best of {plan.turns} turns of {plan.seconds_a_turn} s or one run each, all peers in turn.")
    console.print(
        "'strutsweep / peer': ratio of poses/s. A peer 'on' a number of poses is timed on so many and scaled.\n"
    )
    try:
        for size in given.sizes:
            for threads in given.threads:
                measurements = measure(names, size, threads, plan, console)
                show(measurements, size, threads, console)
                if threads == given.threads[0]:
                    show_differences(measurements, console)
    except Disagreement as trouble:
        console.print(f"[bold red]Failed:[/] {trouble}")
        return 1
    if hasattr(os, "getloadavg"):
        console.print(f"Load of the machine after: {os.getloadavg()[0]:.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
