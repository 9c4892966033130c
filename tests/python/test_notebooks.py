"""Notebooks run without a failure or a warning, and stand in the repository as they run today.

Each is executed once, in a copy. What the copy prints is held against what the committed file shows: every word, and
every number. Figures are not compared; that there is one is.
"""

from __future__ import annotations

import base64
import importlib.util
import json
import re
import shutil
from pathlib import Path
from types import ModuleType
from typing import Any, Final

import nbformat
import pytest
from nbclient.exceptions import CellExecutionError

FOLDER: Final = Path(__file__).parents[2] / "notebooks-demo"
NOTEBOOKS: Final = sorted(FOLDER.glob("*.ipynb"))

LAST_PLACES: Final = 1.0 + 1e-6
"""A number on the edge between two roundings may fall either way on another machine: one unit of its last place."""
LARGEST_FILE_BYTES: Final = 1_200_000
"""A notebook that is much larger is not shown by hosts of repositories, and weighs on every clone."""

NUMBER: Final = re.compile(r"[-+\u2212]?\d+(?:\.\d+)?")

each_notebook = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def the_executor() -> ModuleType:
    """The script that executes notebooks in place."""
    spec = importlib.util.spec_from_file_location("execute_notebooks", FOLDER / "execute.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def executed(tmp_path_factory: pytest.TempPathFactory) -> dict[Path, Any]:
    """Per committed notebook a copy of it, executed by the script; a cell that fails raises."""
    folder = tmp_path_factory.mktemp("notebooks")
    executor = the_executor()
    fresh = {}
    for path in NOTEBOOKS:
        copy = Path(shutil.copy(path, folder))
        executor.execute(copy)
        fresh[path] = read(copy)
    return fresh


def read(path: Path) -> Any:
    return nbformat.read(path, as_version=nbformat.NO_CONVERT)


def code_cells(notebook: Any) -> list[Any]:
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def said(output: Any) -> dict[str, str]:
    """What an output says in text, by the kind of text."""
    if output.output_type == "stream":
        return {output.name: output.text}
    if "image/png" in output.data:
        return {}  # beside a picture stands only its size, which depends on the machine's fonts
    return {kind: text for kind, text in output.data.items() if kind.startswith("text/")}


def kinds(cell: Any) -> list[list[str]]:
    """Per output of a cell the kinds of its data, or the name of its stream."""
    return [sorted(output.get("data", {output.get("name"): ""})) for output in cell.outputs]


def differences(shown: str, fresh: str) -> list[str]:
    """Where two texts differ: in words, or in a number by more than one unit of its last place."""
    old_lines, new_lines = shown.splitlines(), fresh.splitlines()
    if len(old_lines) != len(new_lines):
        return [f"{len(old_lines)} lines are now {len(new_lines)}: {fresh!r}"]
    found = []
    for old_line, new_line in zip(old_lines, new_lines, strict=True):
        if NUMBER.sub("#", old_line) != NUMBER.sub("#", new_line):
            found.append(f"{old_line!r} is now {new_line!r}")
            continue
        for old, new in zip(NUMBER.findall(old_line), NUMBER.findall(new_line), strict=True):
            places = [len(number.partition(".")[2]) for number in (old, new)]
            values = [float(number.replace("\u2212", "-")) for number in (old, new)]
            if places[0] != places[1] or abs(values[0] - values[1]) > LAST_PLACES * 10.0 ** -places[0]:
                found.append(f"{old} is now {new}")
    return found


def test_there_are_notebooks() -> None:
    assert NOTEBOOKS


@each_notebook
def test_notebook_runs_without_failure_or_warning(path: Path, executed: dict[Path, Any]) -> None:
    for cell in code_cells(executed[path]):
        for output in cell.outputs:
            assert output.output_type != "error", cell.source
            # The kernel hides no warning, and a warning is written to standard error.
            assert output.get("name") != "stderr", f"{cell.source}\n{output.get('text')}"


@each_notebook
def test_notebook_is_committed_executed(path: Path, executed: dict[Path, Any]) -> None:
    committed, fresh = code_cells(read(path)), code_cells(executed[path])
    # From a fresh kernel, from top to bottom, every cell once.
    assert [cell.execution_count for cell in committed] == list(range(1, len(committed) + 1))
    for old, new in zip(committed, fresh, strict=True):
        assert kinds(old) == kinds(new), old.source


@each_notebook
def test_notebook_shows_what_it_computes_today(path: Path, executed: dict[Path, Any]) -> None:
    compared = 0
    for old, new in zip(code_cells(read(path)), code_cells(executed[path]), strict=True):
        for shown, fresh in zip(map(said, old.outputs), map(said, new.outputs), strict=True):
            assert shown.keys() == fresh.keys()
            for kind in shown:
                assert differences(shown[kind], fresh[kind]) == [], old.source
                compared += len(NUMBER.findall(shown[kind]))
    assert compared > 0, "the notebook shows no number"


@each_notebook
def test_notebook_has_figures(path: Path) -> None:
    pictures = [
        base64.b64decode(output.data["image/png"])
        for cell in code_cells(read(path))
        for output in cell.outputs
        if "image/png" in output.get("data", {})
    ]
    assert pictures
    assert all(picture.startswith(b"\x89PNG\r\n") for picture in pictures)


@each_notebook
def test_notebook_tells_nothing_of_a_machine(path: Path) -> None:
    assert path.stat().st_size < LARGEST_FILE_BYTES
    notebook = json.loads(path.read_text(encoding="utf-8"))
    assert notebook["metadata"] == {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "language_info": {"name": "python"},
    }
    for cell in notebook["cells"]:
        assert cell["metadata"] == {}
        for output in cell.get("outputs", []):
            shown = " ".join("".join(text) for kind, text in output.get("data", {}).items() if kind.startswith("text/"))
            shown += "".join(output.get("text", ""))
            assert re.search(r"(?<![\w<])/\w+/\w|[A-Z]:\\", shown) is None, f"a path of some machine: {shown}"


# The checks above can fail.


def test_a_number_that_moved_is_found() -> None:
    shown = "camber \u22121.55 deg at 13 mm, rod +0.5"
    assert differences(shown, shown) == []
    assert differences(shown, shown.replace("1.55", "1.56")) == []
    assert differences(shown, shown.replace("1.55", "1.57")) == ["\u22121.55 is now \u22121.57"]
    assert differences(shown, shown.replace("\u22121.55", "1.55")) == ["\u22121.55 is now 1.55"]
    assert differences(shown, shown.replace("13", "15")) == ["13 is now 15"]
    assert differences(shown, shown.replace("+0.5", "+0.51")) == ["+0.5 is now +0.51"]
    assert len(differences(shown, shown.replace("rod", "arm"))) == 1
    assert len(differences(shown, f"{shown}\n{shown}")) == 1


def test_a_cell_that_fails_raises_and_leaves_the_file_alone(tmp_path: Path) -> None:
    path = tmp_path / "fails.ipynb"
    cells = [nbformat.v4.new_code_cell("1 + 1"), nbformat.v4.new_code_cell("1 / 0")]
    nbformat.write(nbformat.v4.new_notebook(cells=cells), path)
    before = path.read_bytes()
    with pytest.raises(CellExecutionError, match="ZeroDivisionError"):
        the_executor().execute(path)
    assert path.read_bytes() == before


def test_a_warning_is_seen(tmp_path: Path) -> None:
    path = tmp_path / "warns.ipynb"
    # Python hides such a warning outside the main program unless told otherwise.
    library = "import warnings; warnings.warn('old', DeprecationWarning)"
    source = f"exec({library!r}, {{'__name__': 'library'}})"
    nbformat.write(nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(source)]), path)
    the_executor().execute(path)
    (output,) = code_cells(read(path))[0].outputs
    assert output.name == "stderr"
    assert "DeprecationWarning: old" in output.text
