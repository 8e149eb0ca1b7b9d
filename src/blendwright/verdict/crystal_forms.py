"""Crystals that come in more than one form. Facts in the CSV beside; the rule that names them
where they may show stands in `crystal_findings`."""

from __future__ import annotations

from functools import cache

from blendwright.catalogue.tables import table_rows


@cache
def crystal_forms() -> dict[str, tuple[str, str]]:
    return {
        row["material"]: (row["note"], row["source"])
        for row in table_rows("blendwright.verdict", "crystal_forms.csv")
    }


def crystal_form_source(material: str) -> str:
    """Who says so; raises KeyError for a material without known forms."""
    return crystal_forms()[material][1]
