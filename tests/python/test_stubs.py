"""The typed stubs of the native module say what it holds, and the package is typed throughout.

SECOND METHOD: the stubs are written by hand, and `mypy.stubtest` compares them with the module as it was built.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest
import typed_sample

import strutsweep as ss
from strutsweep import _core
from strutsweep.words import READINGS, TRAVEL_AT

ROOT = Path(__file__).parents[2]
STUB = ROOT / "python" / "strutsweep" / "_core.pyi"
# A cold cache reads the types of NumPy, Matplotlib and xarray first.
CHECK_TIMEOUT_S = 300.0


def run_module(*arguments: str) -> None:
    """``python -m`` with these arguments, at the root of the project; it must find nothing to complain of."""
    command = [sys.executable, "-m", *arguments]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=CHECK_TIMEOUT_S, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_stub_and_native_module_agree() -> None:
    run_module("mypy.stubtest", "strutsweep._core")


def test_package_and_typed_sample_pass_the_strict_type_check() -> None:
    run_module("mypy", "--strict", "python/strutsweep", "tests/python/typed_sample.py")


def test_typed_sample_runs(tmp_path: Path) -> None:
    typed_sample.run(tmp_path)


# What `stubtest` does not compare: annotations, and the private types that the stub gives its dictionaries.


def stub_class(name: str) -> ast.ClassDef:
    """A class of the stub as a syntax tree."""
    tree = ast.parse(STUB.read_text(encoding="utf-8"))
    return next(node for node in tree.body if isinstance(node, ast.ClassDef) and node.name == name)


def entries(name: str) -> list[str]:
    """The entries of a typed dictionary of the stub, in order."""
    body = stub_class(name).body
    return [node.target.id for node in body if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)]


def test_every_reading_is_a_property_of_type_float_in_the_stub() -> None:
    getters = [node for node in stub_class("Pose").body if isinstance(node, ast.FunctionDef)]
    floats = [node.name for node in getters if node.returns is not None and ast.unparse(node.returns) == "float"]
    assert floats == list(READINGS)


def test_typed_dictionaries_of_the_stub_have_the_entries_of_the_native_ones(car: ss.Axle) -> None:
    assert entries("_Rack") == list(car.rack)
    assert entries("_Dimensions") == list(car.dimensions)
    assert entries("_Limits") == list(car.limits)
    assert entries("_Spring") == list(car.spring)
    assert entries("_Damper") == list(car.damper)
    assert all(entries("_TieRod") == list(threads) for threads in car.tie_rods.values())
    assert entries("_Vocabulary") == list(_core.vocabulary())


def test_changes_of_the_stub_are_those_that_replace_takes(corner: ss.Corner) -> None:
    with pytest.raises(ss.InputError) as caught:
        corner.replace(**{"no such field": 1.0})
    fields = str(caught.value).partition(" is not one of ")[2].split(", ")
    assert sorted(entries("_Changes")) == sorted(fields)


def test_ways_to_measure_travel_are_spelled_out_in_the_stub() -> None:
    words = ", ".join(f'"{name}"' for name in TRAVEL_AT)
    assert f"_TravelAt: TypeAlias = Literal[{words}]" in STUB.read_text(encoding="utf-8")
