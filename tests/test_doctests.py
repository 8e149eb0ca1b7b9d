"""The examples in the docstrings, run on the installed package."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import blendwright

MODULES = sorted(
    module.name
    for module in pkgutil.walk_packages(blendwright.__path__, "blendwright.")
    if not module.name.endswith("__main__")
)


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples_at_all() -> None:
    finder = doctest.DocTestFinder()
    examples = [
        example
        for name in MODULES
        for found in finder.find(importlib.import_module(name))
        for example in found.examples
    ]
    assert len(examples) >= 10
