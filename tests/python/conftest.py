"""Fixtures that several test files share: the demonstration cars, and Python programs run in a process of their own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import strutsweep as ss

# Far longer than any of these programs takes: a program that is still running then hangs, and must not hang the tests.
PROGRAM_TIMEOUT_S = 60.0

RunProgram = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="session")
def car() -> ss.Axle:
    """A demonstration car with its rack behind the axle; axles are immutable, so one serves all tests."""
    return ss.demo("gravel_hatch")


@pytest.fixture(scope="session")
def corner(car: ss.Axle) -> ss.Corner:
    """The left corner of that car."""
    return car.left


EVERY_CORNER = [(name, side) for name in ss.demos() for side in ("left", "right")]


@pytest.fixture(scope="session", params=EVERY_CORNER, ids="-".join)
def each_corner(request: pytest.FixtureRequest) -> ss.Corner:
    """Every corner of every demonstration car in turn: rack ahead of and behind the axle, left and right."""
    name, side = request.param
    found: ss.Corner = getattr(ss.demo(name), side)
    return found


@pytest.fixture
def run_program(tmp_path: Path) -> RunProgram:
    """Run the text of a Python program in a process of its own, in a folder of its own; it must end well.

    The fixture is called with the text and gives the finished process, with what it printed.
    """

    def run(text: str, timeout_s: float = PROGRAM_TIMEOUT_S) -> subprocess.CompletedProcess[str]:
        program = tmp_path / "program.py"
        program.write_text(text, encoding="utf-8")
        done = subprocess.run(
            [sys.executable, program], cwd=tmp_path, capture_output=True, text=True, timeout=timeout_s, check=False
        )
        assert done.returncode == 0, f"exit status {done.returncode}\n{done.stdout}\n{done.stderr}"
        return done

    return run
