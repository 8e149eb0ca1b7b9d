"""Crystals that come in more than one form. Facts in the CSV beside; the rule that names them
where they may show stands in `crystal_findings`."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def crystal_forms() -> dict[str, tuple[str, str]]:
    text = (files("blendwright.verdict") / "crystal_forms.csv").read_text(encoding="utf-8")
    return {
        row["material"]: (row["note"], row["source"]) for row in csv.DictReader(text.splitlines())
    }


def crystal_form_source(material: str) -> str:
    """Who says so; raises KeyError for a material without known forms."""
    return crystal_forms()[material][1]
