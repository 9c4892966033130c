"""README.md and DEVELOPERS.md against the package: tables, printed results, commands, pictures, files that they name.

Words, units and signs are those of `strutsweep.words`, which the engine states. That the README's Python runs is tested
with the rest of the documentation; here is tested what it prints.
"""

from __future__ import annotations

import contextlib
import importlib.util
import io
import pkgutil
import re
import shlex
import struct
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest

import strutsweep as ss
from strutsweep.words import MOTIONS, READINGS, SETTINGS, TRAVEL_AT

ROOT: Final = Path(__file__).parents[2]
README: Final = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS: Final = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
TEXTS: Final = {"README.md": README, "DEVELOPERS.md": DEVELOPERS}

COMMAND_TIMEOUT_S: Final = 120.0
"""Far longer than any of these commands takes."""
LARGEST_PICTURE_BYTES: Final = 250_000
NARROWEST_PICTURE_PX: Final = 800
"""As wide as a README is shown: a narrower picture would be blown up."""
PNG: Final = b"\x89PNG\r\n\x1a\n"

INPUTS: Final = {**MOTIONS, **SETTINGS}


def table(text: str, *heads: str) -> list[list[str]]:
    """The rows of the table that has these heads."""
    lines = iter(text.splitlines())
    for line in lines:
        if cells(line) == list(heads):
            assert set("".join(cells(next(lines)))) <= set("-:")
            rows = []
            for row in lines:
                if not row.startswith("|"):
                    break
                rows.append(cells(row))
            return rows
    raise AssertionError(f"there is no table with the heads {heads}")


def cells(line: str) -> list[str]:
    """The cells of a row of a table, none for another line."""
    return [cell.strip() for cell in line.strip("|").split("|")] if line.startswith("|") else []


def blocks(text: str) -> list[tuple[str, str]]:
    """Language and content of each fenced block, in order."""
    return re.findall(r"^```(\w*)\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)


# Tables.


def rows_in_print(rows: list[list[str]]) -> str:
    """Rows as they stand in a Markdown text, for the message of a test that fails."""
    return "the README's rows must be\n" + "\n".join(f"| {' | '.join(row)} |" for row in rows)


def test_sign_table_is_that_of_the_engine() -> None:
    rows = [[f"`{name}`", words["units"], words["positive"]] for name, words in READINGS.items()]
    assert table(README, "reading", "unit", "positive when") == rows, rows_in_print(rows)


def test_input_table_is_that_of_the_engine() -> None:
    rows = [[f"`{name}`", w["units"], w["long_name"], w["positive"]] for name, w in INPUTS.items()]
    assert table(README, "input", "unit", "what", "positive") == rows, rows_in_print(rows)


def test_table_of_what_is_held_is_that_of_the_engine() -> None:
    rows = table(README, "`travel_at`", "travel is", "zero travel holds")
    assert {re.sub(r" \(the default\)", "", row[0]).strip('`"'): row[2] for row in rows} == TRAVEL_AT


# The tour.


def test_car_file_of_the_tour_is_the_car_of_the_tour(car: ss.Axle) -> None:
    (text,) = (block for language, block in blocks(README) if language == "toml")
    assert ss.Axle.from_toml(text).left == car.left


def test_tour_prints_what_it_says_it_prints(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    namespace: dict[str, Any] = {"__name__": "__main__"}
    printed = ""
    compared = 0
    for language, block in blocks(README):
        if language == "python":
            catch = io.StringIO()
            with contextlib.redirect_stdout(catch):
                exec(compile(block, "README.md", "exec"), namespace)  # noqa: S102
            printed = catch.getvalue()
        elif language == "text":
            assert printed == block
            printed = ""
            compared += 1
    assert printed == "", "the last block prints something that the README does not show"
    assert compared >= 2


# Commands.

COMMANDS: Final = [
    shlex.split(line.removeprefix("$"))
    for language, block in blocks(README)
    if language == "console"
    for line in block.splitlines()
]


@pytest.fixture(scope="module")
def folder_with_a_car(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the car file and the sheets that the commands name, as the commands that write them make them."""
    folder = tmp_path_factory.mktemp("readme")
    done = run(["strutsweep", "new-car", "car.toml"], folder)
    assert done.returncode == 0, done.stderr
    assert (folder / "car.toml").is_file()
    for sheet in ("sheet.toml",):
        done = run(["strutsweep", "new-sheet", sheet, "--like", "car.toml"], folder)
        assert done.returncode == 0, done.stderr
    return folder


def run(words: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a command of the README from the package itself, whatever stands on the shell's path."""
    assert words[0] == "strutsweep"
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", *words],
        cwd=folder,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=COMMAND_TIMEOUT_S,
        check=False,
    )


def test_readme_shows_commands() -> None:
    assert {"static", "bump", "rack", "map", "--help"} <= {words[1] for words in COMMANDS}


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_command_of_the_readme_runs(words: list[str], folder_with_a_car: Path) -> None:
    done = run(words, folder_with_a_car)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip()
    if "--plot" in words:
        assert (folder_with_a_car / words[words.index("--plot") + 1]).read_bytes().startswith(PNG)
    if "csv" in words:
        wanted = [word for option, word in zip(words, words[1:], strict=False) if option == "--reading"]
        assert wanted
        assert all(name in done.stdout for name in wanted)


# Pictures.

PICTURES: Final = re.findall(r"!\[([^\]]+)\]\(([^)]+\.png)\)", README)


def picture_script() -> Any:
    """The script that draws the README's pictures."""
    spec = importlib.util.spec_from_file_location("readme_pictures", ROOT / "notebooks-demo" / "pictures.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_readme_shows_pictures_and_says_what_they_show() -> None:
    assert len(PICTURES) == len(re.findall(r"!\[", README)) > 0
    assert all(len(alternative.split()) > 5 for alternative, _ in PICTURES)


@pytest.mark.parametrize("path", [path for _, path in PICTURES])
def test_picture_of_the_readme_is_there_legible_and_small(path: str) -> None:
    content = (ROOT / path).read_bytes()
    assert content.startswith(PNG)
    width_px, _ = struct.unpack(">II", content[16:24])
    assert width_px >= NARROWEST_PICTURE_PX
    assert len(content) < LARGEST_PICTURE_BYTES


def test_script_draws_the_pictures_that_the_readme_shows(tmp_path: Path) -> None:
    drawn = picture_script().draw(tmp_path / "pictures")
    assert [f"notebooks-demo/pictures/{path.name}" for path in drawn] == [path for _, path in PICTURES]
    assert all(path.read_bytes().startswith(PNG) for path in drawn)
    there = {path.name for path in (ROOT / "notebooks-demo" / "pictures").iterdir()}
    assert there == {path.name for path in drawn}, "a picture that nobody draws, or one that is not committed"


# Files.


def links(text: str) -> list[str]:
    """Targets of links and pictures that are files of this repository."""
    targets = re.findall(r"\]\(([^)\s]+)\)", text)
    return [target.partition("#")[0] for target in targets if not re.match(r"\w+:|#", target)]


@pytest.mark.parametrize(("name", "target"), [(name, target) for name, text in TEXTS.items() for target in links(text)])
def test_linked_file_exists(name: str, target: str) -> None:
    assert (ROOT / target).exists(), f"{name} links to {target}"


def test_links_are_found() -> None:
    assert "DEVELOPERS.md" in links(README)
    assert links("[a](b.md#c) ![d](e/f.png) [g](https://h.org) [i](#j)") == ["b.md", "e/f.png"]


def named_paths(text: str) -> Iterator[str]:
    """What is set in code type in prose and tables and is a path within the repository."""
    prose = re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL)
    for span in re.findall(r"`([^`\n]+)`", prose):
        for word in span.split():
            # Made by commands rather than committed; and options, which may hold a path.
            if "/" in word and not word.startswith((".venv/", "-", "'", "strutsweep-demo/")):
                yield word


@pytest.mark.parametrize(("name", "path"), [(name, path) for name, text in TEXTS.items() for path in named_paths(text)])
def test_named_path_exists(name: str, path: str) -> None:
    # The code map names the folder of the bindings as it stands in its own.
    assert (ROOT / path).exists() or (ROOT / "src" / path).exists(), f"{name} names {path}"


def test_named_paths_are_found() -> None:
    paths = list(named_paths(DEVELOPERS))
    assert {"src/reading.rs", "tests/rust", "notebooks-demo/execute.py", ".ci/run"} <= set(paths)


def engine_files_in_code_map() -> set[str]:
    """The names in the code map's column of files, without a folder's stroke; those deeper down stand as paths."""
    rows = table(DEVELOPERS, "floor", "file in `src/`", "room")
    names = {name.rstrip("/") for row in rows for name in re.findall("`(.+?)`", row[1])}
    return {name.removeprefix("src/").removesuffix(".rs") for name in names}


def package_files_in_code_map() -> set[str]:
    """The names in the paragraph on the package."""
    paragraph = re.search(r"^`python/strutsweep/`: (.*?)\n\n", DEVELOPERS, flags=re.MULTILINE | re.DOTALL)
    assert paragraph is not None
    return set(re.findall(r"`([\w.]+)`", paragraph[1]))


def test_engine_files_of_the_code_map_exist() -> None:
    named = engine_files_in_code_map()
    assert {"number", "linkage", "python"} <= named
    source = ROOT / "src"
    assert [name for name in named if not ((source / f"{name}.rs").is_file() or (source / name).is_dir())] == []


def test_package_files_of_the_code_map_exist() -> None:
    named = package_files_in_code_map()
    assert {"__init__", "sweeping", "plots"} <= named
    package = ROOT / "python" / "strutsweep"
    assert [name for name in named if not any((package / each).exists() for each in (name, f"{name}.py"))] == []


def test_code_map_leaves_out_no_file_of_the_engine() -> None:
    # A noun has a file, and may have a folder of its own besides; the crate's root only lists them.
    there = {path.stem for path in (ROOT / "src").glob("*.rs")} - {"lib"}
    assert there - engine_files_in_code_map() == set()


def test_code_map_leaves_out_no_public_module_of_the_package() -> None:
    there = {name for _, name, _ in pkgutil.iter_modules(ss.__path__) if not name.startswith("_")}
    assert there - package_files_in_code_map() == set()
