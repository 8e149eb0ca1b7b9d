"""One formula with everything that can go wrong on paper, and its dossier, made once."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest

from blendwright import Assessment, Formula, assess, read_formula
from blendwright.catalogue import default_catalogue
from blendwright.questions.materials.own import read_own_materials
from blendwright.report.papers.dossier import Dossier, gather

DAY = date(2026, 11, 25)
EXAMPLES = Path(__file__).parents[2] / "examples"
EVIL_MATERIALS = ("<script>alert(2)</script>", "=cmd|' /C calc'!A0", "[x](javascript:y) | z")
EVIL_NAME = "<script>alert(1)</script> | =cmd|' /C calc'!A0 \x07\u202e[x](javascript:y) & \"q\""


@pytest.fixture(scope="session")
def pear() -> Assessment:
    return assess(read_formula(EXAMPLES / "orchard-pear-cardamom.csv"))


@pytest.fixture(scope="session")
def pear_dossier(pear: Assessment) -> Dossier:
    return gather(pear, DAY, lot="PC-014")


@pytest.fixture(scope="session")
def fifteen_dossier() -> Dossier:
    """Fifteen rows that need warming, may part, burn, and have much to be warned of."""
    rows: list[tuple[str, object, str]] = [
        ("vanillin", 14, ""), ("maltol", 3, ""), ("ethyl maltol", 4, ""), ("menthol", 2, ""),
        ("diacetyl", 0.5, ""), ("ethyl acetate", 3, ""), ("ethyl butyrate", 2, ""),
        ("sweet orange oil", 6, ""), ("cardamom oil", 1, ""), ("clove bud oil", 0.5, ""),
        ("cis-3-hexenol", 1, "10"), ("linalool", 1, ""), ("gamma-decalactone", 0.7, ""),
        ("geranyl butyrate", 0.3, ""), ("water", "q.s.", ""),
    ]  # fmt: skip
    formula = Formula.from_rows(
        [{"material": m, "grams": g, "strength_pct": s} for m, g, s in rows],
        name="Fifteen rows with a name that runs on over the whole width of the sheet and further",
        batch_g=100,
    )
    return gather(assess(formula), DAY, lot="F-15")


@pytest.fixture(scope="session")
def evil_dossier(tmp_path_factory: pytest.TempPathFactory) -> Dossier:
    """Names, notes and a lot that would run as HTML, as a spreadsheet's command, or as Markdown."""
    own = tmp_path_factory.mktemp("own") / "own.csv"
    with own.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(("material", "property", "value"))
        for name in EVIL_MATERIALS:
            writer.writerows([(name, "formula", "C9H12O2"), (name, "density", "0.98")])
    catalogue = read_own_materials(own, default_catalogue())
    rows: list[dict[str, object]] = [
        {"material": "ethyl butyrate", "grams": 2, "note": EVIL_NAME, "role": "=1+1"},
        *({"material": name, "grams": 1} for name in EVIL_MATERIALS),
        {"material": "propylene glycol", "grams": 8},
    ]
    assessment = assess(Formula.from_rows(rows, name=EVIL_NAME), catalogue=catalogue)
    return gather(assessment, DAY, lot=EVIL_MATERIALS[1], catalogue=catalogue)
