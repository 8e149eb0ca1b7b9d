"""Shared by all tests: the catalogue, and formulas in one line."""

from __future__ import annotations

import itertools
import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

# each worker of the suite has one core: threads of BLAS would wait for one another
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
import typer.testing
from hypothesis import settings

from blendwright import Formula
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.mixture import machine
from blendwright.questions.accuracy.split import CONCENTRATE

# the code that rebuilds the learned tables is not installed with the package
sys.path.append(str(Path(__file__).parents[1] / "src"))

# nobody's own settings are read by a test
os.environ["BLENDWRIGHT_SETTINGS"] = str(Path(__file__).parent / "no-such-settings.toml")

settings.register_profile("blendwright", deadline=None, max_examples=25, derandomize=True)
settings.load_profile("blendwright")


def formula(*rows: tuple[str, float] | tuple[str, float, str]) -> Formula:
    """A formula from (material, grams) or (material, grams, strength)."""
    return Formula.from_rows(
        {"material": row[0], "grams": row[1], "strength_pct": row[2] if len(row) > 2 else ""}
        for row in rows
    )


ESTER_RICH_CONCENTRATE = CONCENTRATE
"""About 16 % short esters, 2 % vanillin, 1 % triethyl citrate, 1 % phenols and aldehydes, and
80 % propylene glycol: common practice, no source."""


@pytest.fixture(scope="session")
def observation_files(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Names of files that are not there yet, in one folder: a folder for each of thousands of
    tests takes seconds to make and to clear away."""
    folder = tmp_path_factory.mktemp("observations")
    return (folder / f"{number}.sqlite" for number in itertools.count())


@pytest.fixture(autouse=True)
def no_observations_of_our_own(
    observation_files: Iterator[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The tests see neither what whoever runs them has recorded nor what another test has."""
    monkeypatch.setenv("BLENDWRIGHT_OBSERVATIONS", str(next(observation_files)))


@pytest.fixture(autouse=True, scope="session")
def one_arithmetic() -> None:
    """Machine code from the first test on: were it to come halfway through one, two answers that
    must be equal would differ in the last digit."""
    machine.load()


@pytest.fixture(autouse=True, scope="session")
def commands_made_once() -> None:
    """As in a program that runs: typer's runner would make all of them anew for each test."""
    typer.testing._get_command = cache(typer.testing._get_command)  # type: ignore[assignment]


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    return default_catalogue()


@pytest.fixture(scope="session")
def with_house_powder(catalogue: Catalogue) -> Catalogue:
    """Ours and "house powder": vanillin, were it of a structure that no group set divides. Nothing
    in the catalogue is without groups any more."""
    powder = replace(
        catalogue.material("vanillin"), name="house powder", groups={}, solubilities=()
    )
    return catalogue.extended([powder], {}, "house powder")


@pytest.fixture
def write(tmp_path: Path) -> Callable[[str, bytes | str], Path]:
    """Write a file into a temporary folder and return its path."""

    def make(name: str, content: bytes | str) -> Path:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return make
