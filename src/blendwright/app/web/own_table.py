"""The table of own materials as the page edits it: a form a material, its rows in the file.

Pure: nothing here knows of a browser. A row of the file that the form has no field for (a vapour
pressure, a density at another temperature) stays as it is when the material is edited.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from blendwright.errors import Problem
from blendwright.formula.table_files import table_cells
from blendwright.questions.materials.own import COLUMNS, QUESTIONS, ask_facts, table_text

Row = dict[str, str]
FACTS = tuple(fact for fact, _ in QUESTIONS)
FIELDS = ("name", "source", "lot", *FACTS, "constituents")
UNITS = {"density": "g/mL", "flash_point": "°C", "boiling_point": "°C", "melting_point": "°C"}
HEADER_LINES = 1  # of the written file


@dataclass(frozen=True)
class OwnMaterial:
    """One material of the table, and its rows."""

    name: str
    rows: tuple[Row, ...]

    @property
    def words(self) -> str:
        """ "density 0.95 g/mL, flash point 31 °C; data sheet of May, lot 7"."""
        told = []
        for row in self.rows:
            if row["property"] == "constituent":
                told.append(f"{row['note']} {row['value']} %")
            else:
                unit = row["unit"] or UNITS.get(row["property"], "")
                name = row["property"].replace("_", " ")
                told.append(f"{name} {row['value']} {unit}".strip())
        whence = dict.fromkeys(filter(None, (row["source"] for row in self.rows)))
        lots = dict.fromkeys(f"lot {row['lot']}" for row in self.rows if row["lot"])
        return "; ".join(filter(None, (", ".join(told), ", ".join([*whence, *lots]))))


def own_materials(rows: Iterable[Row]) -> tuple[OwnMaterial, ...]:
    """The materials of a table, in its order."""
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row["material"], []).append(row)
    return tuple(OwnMaterial(name, tuple(theirs)) for name, theirs in found.items())


def form_of(material: OwnMaterial) -> dict[str, str]:
    """What the form's fields show of a material."""
    filled = [row for row in material.rows if is_of_the_form(row)]
    facts = {row["property"]: row["value"] for row in filled if row["property"] in FACTS}
    parts = [f"{r['note']} {r['value']}" for r in filled if r["property"] == "constituent"]
    return {
        "name": material.name,
        "source": next((row["source"] for row in material.rows if row["source"]), ""),
        "lot": next((row["lot"] for row in material.rows if row["lot"]), ""),
        **{fact: facts.get(fact, "") for fact in FACTS},
        "constituents": "; ".join(parts),
    }


def is_of_the_form(row: Row) -> bool:
    """Whether a field shows the row, in the field's own unit and at its own temperature."""
    usual = row["unit"] in ("", UNITS.get(row["property"], "")) and not row["temperature_C"]
    return (row["property"] in FACTS and usual) or row["property"] == "constituent"


def rows_of_form(answers: Mapping[str, str], day: date) -> list[Row]:
    """The rows that the filled fields stand for; none where there is no name or no fact."""
    left = iter([answers[key].strip() for key in FIELDS])
    rows = ask_facts(lambda question: next(left, ""))
    return [{**dict.fromkeys(COLUMNS, ""), "date": day.isoformat(), **row} for row in rows]


def replaced(rows: Sequence[Row], name: str, by: Sequence[Row]) -> list[Row]:
    """The table with a material's form rows replaced; rows that no field shows stay, under the
    new name. A name that isn't there is added."""
    new_name = by[0]["material"] if by else name
    kept = [
        {**row, "material": new_name} if row["material"] == name else row
        for row in rows
        if row["material"] != name or not is_of_the_form(row)
    ]
    return [*kept, *by]


def without(rows: Sequence[Row], name: str) -> list[Row]:
    """The table without one material."""
    return [row for row in rows if row["material"] != name]


def field_of(problem: Problem, rows: Sequence[Row], name: str) -> str:
    """The form's field that a problem of the written table belongs to; "" for none of them."""
    place = None if problem.row is None else problem.row - HEADER_LINES - 1
    if place is None or not 0 <= place < len(rows) or rows[place]["material"] != name:
        return ""
    if problem.column == "property" and problem.instead:
        return problem.instead[0] if problem.instead[0] in FIELDS else ""
    if problem.column == "material":
        return "name"
    what = "constituents" if rows[place]["property"] == "constituent" else rows[place]["property"]
    return what if what in FIELDS else ""


def read_table(path: Path) -> list[Row]:
    """A table of facts as rows. Raises FormulaError for what is no table."""
    cells = [values for _, values in table_cells(path) if any(values)]
    cells = [values for values in cells if not values[0].startswith("#")]
    if not cells:
        return []
    header = [value.strip() for value in cells[0]]
    rows = [dict(zip(header, values, strict=False)) for values in cells[1:]]
    return [{column: row.get(column, "") for column in COLUMNS} for row in rows]


def write_table(path: Path, rows: Sequence[Row]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(table_text(rows), encoding="utf-8")
