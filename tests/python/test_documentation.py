"""Documentation: everything public has a docstring, its examples run, its parameters are those of the signature.

Native functions, classes and methods are asked too; pytest's own collection of doctests does not see them.
"""

from __future__ import annotations

import contextlib
import doctest
import importlib
import inspect
import io
import pkgutil
import pydoc
import re
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

import strutsweep as ss
from strutsweep.words import MOTIONS, READINGS, SETTINGS

README = Path(__file__).parents[2] / "README.md"


def public_modules() -> list[ModuleType]:
    """The package and every public module directly within it."""
    names = [name for _, name, _ in pkgutil.iter_modules(ss.__path__) if not name.startswith("_")]
    return [ss, *(importlib.import_module(f"strutsweep.{name}") for name in sorted(names))]


@dataclass(frozen=True)
class Documented:
    """Something public that needs a docstring."""

    name: str
    thing: Any
    is_member: bool = False

    @property
    def text(self) -> str:
        """Its own docstring, without the indentation; not one that it inherits."""
        return inspect.cleandoc(self.thing.__doc__ or "")


def is_function(thing: Any) -> bool:
    """Whether this is a function or a method, native or not."""
    return inspect.isroutine(thing)


def members(owner: str, cls: type) -> list[Documented]:
    """Public methods and properties that a class itself defines, each as it is reached through the class."""
    found = []
    # Sorted: a native class tells its attributes in another order each time.
    for name, attribute in sorted(vars(cls).items(), key=lambda item: item[0]):
        if name.startswith("_"):
            continue
        thing = getattr(cls, name)
        if is_function(thing) or isinstance(attribute, property) or inspect.isgetsetdescriptor(attribute):
            found.append(Documented(f"{owner}.{name}", thing, is_member=True))
    return found


def everything_public() -> list[Documented]:
    """Modules, functions, classes, methods and properties, each once, under the first name that reaches it."""
    found: dict[int, Documented] = {}
    for module in public_modules():
        found[id(module)] = Documented(module.__name__, module)
        for name in module.__all__:
            thing = getattr(module, name)
            if not (is_function(thing) or inspect.isclass(thing)) or id(thing) in found:
                continue
            full_name = f"{module.__name__}.{name}"
            found[id(thing)] = Documented(full_name, thing)
            if inspect.isclass(thing):
                for member in members(full_name, thing):
                    found.setdefault(id(member.thing), member)
    return list(found.values())


PUBLIC = everything_public()
FUNCTIONS = [public for public in PUBLIC if is_function(public.thing)]
each_public = pytest.mark.parametrize("public", PUBLIC, ids=lambda public: public.name)
each_function = pytest.mark.parametrize("public", FUNCTIONS, ids=lambda public: public.name)


def test_the_walk_sees_native_and_python_things_alike() -> None:
    names = {public.name for public in PUBLIC}
    assert {"strutsweep.Corner.solve", "strutsweep.Axle.from_toml", "strutsweep.Pose.point"} <= names
    assert {"strutsweep.load", "strutsweep.sweep", "strutsweep.words.attributes", "strutsweep.ReachError"} <= names
    assert {f"strutsweep.Pose.{reading}" for reading in READINGS} <= names


@pytest.mark.parametrize("module", public_modules(), ids=lambda module: module.__name__)
def test_every_name_that_a_module_lists_exists(module: ModuleType) -> None:
    missing = [name for name in module.__all__ if not hasattr(module, name)]
    assert missing == []
    assert len(set(module.__all__)) == len(module.__all__)


@each_public
def test_docstring_begins_with_a_sentence(public: Documented) -> None:
    paragraph = public.text.split("\n\n")[0]
    assert paragraph.endswith("."), f"{paragraph!r} is no sentence"


# Examples.


def examples_of(public: Documented) -> doctest.DocTest:
    """The examples of a docstring; names come from the examples alone."""
    return doctest.DocTestParser().get_doctest(public.text, {}, public.name, None, None)


WITH_EXAMPLES = [public for public in PUBLIC if examples_of(public).examples]


@pytest.mark.parametrize("public", WITH_EXAMPLES, ids=lambda public: public.name)
def test_examples_run(public: Documented, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    complaints = io.StringIO()
    runner = doctest.DocTestRunner(verbose=False)
    runner.run(examples_of(public), out=complaints.write)
    assert runner.summarize(verbose=False).failed == 0, complaints.getvalue()


# A command is used from a shell: its examples stand in its help.
OF_A_LIBRARY = [f for f in FUNCTIONS if not f.is_member and not f.name.startswith("strutsweep.command_line.")]


@pytest.mark.parametrize("public", OF_A_LIBRARY, ids=lambda public: public.name)
def test_every_public_function_shows_an_example(public: Documented) -> None:
    assert examples_of(public).examples


# Parameters.


def section(text: str, title: str) -> list[str] | None:
    """The lines of a section of a numpydoc docstring; None if there is none."""
    lines = text.split("\n")
    for start, (heading, rule) in enumerate(zip(lines, lines[1:], strict=False)):
        if heading == title and set(rule) == {"-"}:
            body = lines[start + 2 :]
            ends = (i for i, (_, rule) in enumerate(zip(body, body[1:], strict=False)) if re.fullmatch("-{3,}", rule))
            return body[: next(ends, len(body))]
    return None


def documented_parameters(lines: list[str]) -> list[str]:
    """Names before the colon in lines that are not indented: one or several, separated by commas."""
    heads = [line.partition(" : ")[0] for line in lines if line and not line.startswith(" ")]
    return [name.strip() for head in heads for name in head.split(",")]


def fields_of_replace(corner: ss.Corner) -> set[str]:
    """What `Corner.replace` says it takes."""
    with pytest.raises(ss.InputError) as caught:
        corner.replace(**{"no such field": 1.0})
    return set(str(caught.value).partition(" is not one of ")[2].split(", "))


@each_function
def test_parameters_are_those_of_the_signature(public: Documented, corner: ss.Corner) -> None:
    parameters = [p for p in inspect.signature(public.thing).parameters.values() if p.name != "self"]
    stars = {inspect.Parameter.VAR_POSITIONAL: "*", inspect.Parameter.VAR_KEYWORD: "**"}
    names = [stars.get(parameter.kind, "") + parameter.name for parameter in parameters]
    lines = section(public.text, "Parameters")
    documented = [] if lines is None else documented_parameters(lines)
    if public.name == "strutsweep.Corner.replace":
        assert names == ["**changes"]
        assert len(documented) == len(set(documented))
        assert set(documented) == fields_of_replace(corner)
    else:
        assert documented == names


def test_solve_and_sweep_take_every_motion_and_setting() -> None:
    fields = {*MOTIONS, *SETTINGS}
    assert set(inspect.signature(ss.Corner.solve).parameters) - {"self", "travel_at"} == fields
    extra = {"corner", "turns", "steer", "inner_steer", "points", "travel_at", "readings", "places", "threads", "progress"}
    assert set(inspect.signature(ss.sweep).parameters) - extra == fields
    shared = [name for name in inspect.signature(ss.sweep).parameters if name in fields]
    assert shared == [name for name in inspect.signature(ss.Corner.solve).parameters if name in fields]


# Help.


@pytest.mark.parametrize("reading", READINGS)
def test_help_on_a_reading_shows_unit_sign_and_definition(reading: str) -> None:
    words = READINGS[reading]
    shown = " ".join(pydoc.plain(pydoc.render_doc(getattr(ss.Pose, reading))).split())
    assert f"({words['units']})" in shown
    assert words["long_name"] in shown
    assert f"Positive: {words['positive']}." in shown
    assert words["definition"] in shown


def test_help_on_the_package_and_its_classes_can_be_printed() -> None:
    for thing in (ss, ss.Corner, ss.Pose, ss.Axle, ss.ReachError):
        assert len(pydoc.plain(pydoc.render_doc(thing))) > len(thing.__doc__)


# README.


def python_blocks(text: str) -> list[tuple[int, str]]:
    """Blocks of Python in a Markdown text, each with the line before its first."""
    blocks = re.finditer(r"^```python\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)
    return [(text.count("\n", 0, block.start(1)), block.group(1)) for block in blocks]


def run_blocks(blocks: list[tuple[int, str]], name: str) -> None:
    """Run blocks one after another in one namespace; lines of a traceback are lines of the text."""
    namespace: dict[str, Any] = {"__name__": "__main__"}
    for line, block in blocks:
        exec(compile("\n" * line + block, name, "exec"), namespace)  # noqa: S102


def test_blocks_of_a_text_are_found_and_share_their_names() -> None:
    text = "x\n```python\na = 1\n```\n```sh\nexit 1\n```\n```python\nb = a + 1\n\nassert b == 3\n```\n"
    blocks = python_blocks(text)
    assert [line for line, _ in blocks] == [2, 8]
    with pytest.raises(AssertionError) as caught:
        run_blocks(blocks, "text.md")
    assert caught.traceback[-1].lineno + 1 == 11


def test_readme_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    blocks = python_blocks(README.read_text(encoding="utf-8"))
    assert blocks, "the README shows no Python"
    monkeypatch.chdir(tmp_path)
    with contextlib.redirect_stdout(io.StringIO()):
        run_blocks(blocks, str(README))
