"""Who takes part."""

from __future__ import annotations

from typing import NamedTuple


class Peer(NamedTuple):
    """One way to do the job."""

    library: str
    """The package that must be installed, and the name by which it is chosen."""
    label: str
    module: str
    prepare: str = "prepare"
    compiles: bool = False
    most_poses: float = float("inf")
    """A larger job is timed on so many poses and scaled."""
    most_threads: int = 1_000


ENGINE = "strutsweep"

PEERS = {
    ENGINE: Peer("strutsweep", "strutsweep", "with_engine"),
    "numpy": Peer("numpy", "NumPy, arrays in chunks", "with_numpy"),
    "scipy": Peer("scipy", "SciPy, root finder a pose", "with_scipy", most_poses=2e3, most_threads=1),
    "jax": Peer("jax", "JAX, one unknown", "with_jax", compiles=True),
    "jax_constraints": Peer(
        "jax", "JAX, six unknowns", "with_jax", "prepare_constraints", compiles=True, most_poses=2e4
    ),
    "numba": Peer("numba", "Numba, plain loop", "with_numba", compiles=True),
    "numba_alone": Peer("numba", "Numba tuned, each alone", "with_numba_tuned", "prepare_alone", compiles=True),
    "numba_carried": Peer("numba", "Numba tuned, carried on", "with_numba_tuned", compiles=True),
}
"""Every peer by a short name; the engine first."""
