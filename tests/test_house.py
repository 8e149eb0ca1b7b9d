"""What holds over the whole of the source: no chemistry, but what lets one find it."""

from __future__ import annotations

import ast
import inspect
import re
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import blendwright

SOURCE = Path(__file__).parent.parent / "src"


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """Everything that a file says, as Python reads it."""
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


def test_two_functions_turn_kelvin_into_degrees_and_back() -> None:
    """Compiled code can't call them."""
    for path in SOURCE.rglob("*.py"):
        if path.name == "estimate.py" or path.parent.name == "machine":
            continue
        assert not re.search(r"\b273\.1", path.read_text(encoding="utf-8")), path


def test_one_name_is_one_class() -> None:
    files: dict[str, list[str]] = {}
    for path in SOURCE.rglob("*.py"):
        for node in nodes(path):
            if isinstance(node, ast.ClassDef):
                files.setdefault(node.name, []).append(str(path.relative_to(SOURCE)))
    assert {name: paths for name, paths in files.items() if len(paths) > 1} == {}


def test_no_file_leans_on_itself() -> None:
    """Lazy imports count."""
    names = {
        ".".join(path.relative_to(SOURCE).with_suffix("").parts).removesuffix(".__init__"): path
        for path in (SOURCE / "blendwright").rglob("*.py")
    }
    leans_on: dict[str, set[str]] = {name: set() for name in names}
    for name, path in names.items():
        for node in nodes(path):
            if isinstance(node, ast.ImportFrom) and node.module:
                whole = {f"{node.module}.{alias.name}" for alias in node.names}
                leans_on[name] |= ({node.module} | whole) & names.keys() - {name}
    packages = {name for name, path in names.items() if path.name == "__init__.py"}
    for name, others in leans_on.items():  # what a package gathers stands below it
        leans_on[name] = {o for o in others if not (o in packages and name.startswith(f"{o}."))}
    tuple(TopologicalSorter(leans_on).static_order())  # raises CycleError


def test_coinages_that_gave_way_to_the_trade_s_words_stay_away() -> None:
    for path in SOURCE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        for coinage in ("reckon", "voice", "at_the_edge", "of its like", "last crystals go at"):
            assert coinage not in text, (path, coinage)


def test_no_docstring_has_a_sentence_that_begins_with_of_or_the_same() -> None:
    """It says what it is."""
    with_text = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef
    for path in SOURCE.rglob("*.py"):
        for node in nodes(path):
            if isinstance(node, with_text):
                text = " ".join((ast.get_docstring(node) or "").split())
                assert not re.search(r"(^|[.;:!?] )(Of|The same) ", text), (path, text)


def test_public_functions_say_what_they_take_and_give() -> None:
    """In NumPy style, so that the site can lay it out."""
    for name in blendwright.__all__:
        public = getattr(blendwright, name)
        if not inspect.isfunction(public):
            continue
        text = inspect.getdoc(public) or ""
        signature = inspect.signature(public)
        assert "Parameters\n---" in text, name
        assert ("Returns\n---" in text) == (signature.return_annotation != "None"), name
        for parameter in signature.parameters:
            assert re.search(rf"^(.*, )?{parameter}(, .*)? : ", text, re.MULTILINE), (
                name,
                parameter,
            )
