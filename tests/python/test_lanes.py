"""Levels of vector instructions, forced one by one through the environment: the same bits at each."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

LEVELS = ("avx512", "avx2", "neon", "portable")

DIGEST = """
import hashlib, numpy as np, strutsweep as ss
digest = hashlib.sha256()
for name in ss.demos():
    for corner in (ss.demo(name).left, ss.demo(name).right):
        for travel_at in ("ground", "hub", "strut"):
            dataset = ss.sweep(corner, travel=np.linspace(-70, 65, 13), rack=np.linspace(-150, 150, 11),
                               mount_in=np.linspace(-21, 17, 9), mount_back=[-9.0, 4.0], travel_at=travel_at,
                               places=["contact_centre", "instant_centre"])
            for variable in dataset.values():
                digest.update(np.ascontiguousarray(variable.values).tobytes())
print(digest.hexdigest())
"""


def run(level: str | None, program: str) -> subprocess.CompletedProcess[str]:
    environment = {name: value for name, value in os.environ.items() if name != "STRUTSWEEP_LANES"}
    if level is not None:
        environment["STRUTSWEEP_LANES"] = level
    return subprocess.run(
        [sys.executable, "-c", program], env=environment, capture_output=True, text=True, timeout=120, check=False
    )


def levels_here() -> list[str]:
    """What the machine has, as the refusal of a level that no machine has tells."""
    told = run("none of them", "import strutsweep as ss; ss.sweep(ss.demo().left)")
    assert told.returncode != 0
    names = told.stderr.rsplit("but this machine has", maxsplit=1)[1].split()
    return [name.strip(",") for name in names]


def test_a_level_that_the_machine_has_not_is_refused_by_name() -> None:
    told = run("sixteen", "import strutsweep as ss; ss.sweep(ss.demo().left)")
    assert 'InputError: STRUTSWEEP_LANES is "sixteen", but this machine has' in told.stderr
    assert levels_here()[-1] == "portable"
    assert set(levels_here()) <= set(LEVELS)


def test_every_level_gives_the_same_bits() -> None:
    digests = {level: run(level, DIGEST) for level in [*levels_here(), None]}
    assert all(done.returncode == 0 for done in digests.values()), digests
    assert len({done.stdout for done in digests.values()}) == 1, digests


@pytest.mark.parametrize("level", LEVELS)
def test_the_outside_checks_hold_at_this_level(level: str) -> None:
    # The published and the second-method tables through sweeps, on the lanes of this level; levels of other machines
    # have nothing to check here and say so.
    here = levels_here()
    tests = Path(__file__).parent
    program = (
        f"import sys, pytest; sys.path.insert(0, {str(tests)!r}); "
        f"sys.exit(pytest.main(['-q', '-p', 'no:cacheprovider', '-k', 'sweep', "
        f"{str(tests / 'test_second_method.py')!r}]))"
    )
    done = run(level, program)
    if level in here:
        assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    else:
        assert "but this machine has" in done.stdout + done.stderr
