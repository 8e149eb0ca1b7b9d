"""Crystals that come in more than one form, named where they may show. Facts in the CSV beside."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from functools import cache
from importlib.resources import files

from blendwright.verdict.finding import Finding


@cache
def crystal_forms() -> dict[str, tuple[str, str]]:
    text = (files("blendwright.verdict") / "crystal_forms.csv").read_text(encoding="utf-8")
    return {
        row["material"]: (row["note"], row["source"]) for row in csv.DictReader(text.splitlines())
    }


def crystal_form_source(material: str) -> str:
    """Who says so; raises KeyError for a material without known forms."""
    return crystal_forms()[material][1]


def crystal_form_findings(materials: Iterable[str]) -> list[Finding]:
    """One for each of these materials whose forms or hydrates are known."""
    known = crystal_forms()
    return [
        Finding(
            "CRYSTAL-FORMS",
            "info",
            f"{name}: {known[name][0]} ({known[name][1]}).",
            "The estimate is for the stable form.",
            (name,),
        )
        for name in sorted(set(materials) & set(known))
    ]
