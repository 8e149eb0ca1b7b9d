"""Everything known of one material: chosen values, the rejected ones and why, and sources."""

from __future__ import annotations

import math
from collections.abc import Callable

from rich.console import Console
from rich.table import Table
from rich.text import Text

from blendwright.catalogue import Catalogue, Curve, Datum, Material
from blendwright.catalogue.csl import item_of
from blendwright.catalogue.origins import all_from_memory
from blendwright.estimate import Estimate, to_celsius
from blendwright.formula.conditions import ROOM_K
from blendwright.pure.boiling_point import boiling_point
from blendwright.pure.constants import pure_constants
from blendwright.pure.density import liquid_density
from blendwright.pure.fusion import melting_point
from blendwright.questions.accuracy.influence import influences, phrases
from blendwright.report.terminal import number

_SHOWN: dict[str, tuple[str, Callable[[float], float]]] = {
    "K": ("°C", to_celsius),
    "Pa": ("Pa", lambda pascal: pascal),
    "kg/m3": ("g/mL", lambda density: density / 1e3),
    "J/mol": ("kJ/mol", lambda heat: heat / 1e3),
    "mol/mol": ("vol %", lambda fraction: fraction * 100.0),
    "g/L": ("g/L", lambda value: value),
}
UNIT_OF = {
    "boiling_point": "K",
    "melting_point": "K",
    "flash_point": "K",
    "heat_of_fusion": "J/mol",
    "density": "kg/m3",
    "vapour_pressure": "Pa",
    "lower_flammable_limit": "mol/mol",
    "upper_flammable_limit": "mol/mol",
    "water_solubility": "g/L",
}


def chosen_values(material: Material) -> dict[str, Estimate]:
    """What the rules of choice make of the facts of one substance."""
    constants = pure_constants(material)
    chosen = {
        "boiling_point": boiling_point(material),
        "melting_point": melting_point(material),
        "flash_point": constants.flash,
        "density at 25 °C": liquid_density(material, ROOM_K),
        "lower_flammable_limit": constants.lower_limit,
    }
    if constants.fusion is not None:
        chosen["heat_of_fusion"] = constants.fusion.heat
    vapour = constants.vapour
    if vapour is None:
        chosen["vapour_pressure at 25 °C"] = Estimate.unknown("Pa", "nothing is known")
    else:
        value = vapour.pressure_Pa(ROOM_K)
        factor = math.exp(vapour.ln_uncertainty_at(ROOM_K))
        chosen["vapour_pressure at 25 °C"] = Estimate.ok(
            value, value / factor, value * factor, "Pa", vapour.method, vapour.sources
        )
    return chosen


def material_dict(material: Material, catalogue: Catalogue) -> dict[str, object]:
    """All facts of a material as JSON data."""
    keys: list[str] = [d.source for d in material.data] + [c.source for c in material.curves]
    keys += [c.source for c in material.constituents]
    result: dict[str, object] = {
        "schema": "blendwright/material/1",
        "name": material.name,
        "kind": material.kind,
        "family": material.family,
        "names": list(material.names),
        "cas": material.cas or None,
        "formula": material.formula or None,
        "smiles": material.smiles or None,
        "inchikey": material.inchikey or None,
        "state_20C": material.state_20C,
        "fema": material.fema or None,
        "note": material.note or None,
        "curated": material.curated,
        "groups": {
            column: {str(k): n for k, n in groups.items()}
            for column, groups in material.groups.items()
        },
        "groups_assigned_by": material.groups_assigned_by or None,
        "constituents": [
            {
                "material": c.material,
                "typical_pct": c.typical * 100.0,
                "low_pct": c.low * 100.0,
                "high_pct": c.high * 100.0,
                "source": c.source,
            }
            for c in material.constituents
        ],
        "facts": [_fact(d, catalogue) for d in material.data],
        "curves": [
            {
                "property": c.property,
                "form": c.form,
                "coefficients": list(c.coefficients),
                "minimum_C": to_celsius(c.minimum_K),
                "maximum_C": to_celsius(c.maximum_K),
                "source": c.source,
                "rejected": c.rejected or None,
            }
            for c in material.curves
        ],
        "sources": {
            key: catalogue.sources[key].citation()
            for key in dict.fromkeys(keys)
            if key in catalogue.sources
        },
        "source_records": [
            item_of(catalogue.sources[key])
            for key in dict.fromkeys(keys)
            if key in catalogue.sources
        ],
    }
    if material.kind == "substance" and not material.is_undisclosed:
        result["molar_mass_g_mol"] = material.molar_mass_kg_mol * 1e3
        result["influences"] = phrases(influences(material, catalogue.material("propylene glycol")))
        result["chosen"] = {name: e.to_dict() for name, e in chosen_values(material).items()}
    return result


def _fact(datum: Datum, catalogue: Catalogue) -> dict[str, object]:
    source = catalogue.sources.get(datum.source)
    unit, convert = _SHOWN[UNIT_OF[datum.property]]
    return {
        "property": datum.property,
        "value": convert(datum.value),
        "unit": unit,
        "temperature_C": to_celsius(datum.temperature_K) if datum.temperature_K else None,
        "method": datum.method,
        "source": datum.source,
        "address": source.address or None if source else None,
        "read": source.read if source else None,
        "rejected": datum.rejected or None,
        "note": datum.note or None,
    }


def _text(value: float, unit: str) -> str:
    return (
        f"{value:.3g} {unit}"
        if unit in ("Pa", "kJ/mol", "vol %")
        else (f"{value:.1f} {unit}" if unit == "°C" else f"{number(value, unit)} {unit}")
    )


def print_material(material: Material, catalogue: Catalogue, out: Console) -> None:
    """The card of one material."""
    out.print(Text(material.name, style="bold"))
    out.print(Text(in_one_line(material)))
    facts = [
        ("also called", ", ".join(material.names)),
        ("CAS", material.cas),
        ("formula", material.formula),
        ("structure", material.smiles),
        ("FEMA", material.fema),
        ("kind", f"{material.kind.replace('_', ' ')}, {material.family}"),
        ("note", material.note),
    ]
    table = Table.grid(padding=(0, 2))
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for name, text in facts:
        if text:
            table.add_row(name, Text(text))
    out.print(table)
    out.print()
    if material.constituents:
        _print_constituents(material, out)
    if material.kind == "substance" and not material.is_undisclosed:
        _print_chosen(material, out)
        _print_influences(material, catalogue, out)
    if material.data or material.curves:
        _print_facts(material, catalogue, out)


def in_one_line(material: Material) -> str:
    """What is asked most: its state, flash point, boiling point, melting point and density."""
    named = {
        "flash point": "flash_point",
        "boils at": "boiling_point",
        "melts at": "melting_point",
        "density": "density",
    }
    if material.kind == "substance" and not material.is_undisclosed:
        chosen = chosen_values(material)
        found = {name.split(" at ")[0]: one.value for name, one in chosen.items()}
    else:
        facts = {name: material.accepted(name) for name in named.values()}
        found = {name: data[0].value for name, data in facts.items() if data}
    told = [f"{material.state_20C.capitalize()} at 20 °C"]
    for words, name in named.items():
        value = found.get(name)
        if value is not None:
            unit, convert = _SHOWN[UNIT_OF[name]]
            told.append(f"{words} {_text(convert(value), unit)}")
        elif name == "flash_point":
            told.append("flash point unknown")
    return f"{', '.join(told)}."


def _print_constituents(material: Material, out: Console) -> None:
    table = Table.grid(padding=(0, 2))
    heads = ("constituent", "typical % by mass", "range", "source")
    table.add_row(*(Text(head, style="bold") for head in heads))
    for c in material.constituents:
        table.add_row(
            c.material,
            f"{c.typical * 100:.2f}",
            f"{c.low * 100:.2f} to {c.high * 100:.2f}",
            c.source,
        )
    out.print(table)
    out.print()


def _print_chosen(material: Material, out: Console) -> None:
    table = Table.grid(padding=(0, 2))
    heads = ("chosen", "value", "90 % interval", "how")
    table.add_row(*(Text(head, style="bold") for head in heads))
    for name, estimate in chosen_values(material).items():
        unit, convert = _SHOWN[estimate.unit]
        label = name.replace("_", " ")
        if not estimate.is_ok:
            table.add_row(label, "unknown", "", Text("; ".join(estimate.notes)))
            continue
        value, low, high = (convert(v) for v in estimate.interval())
        agree = agreement(material, name.split(" at ")[0])
        table.add_row(
            label,
            _text(value, unit),
            f"{_text(low, unit)} to {_text(high, unit)}",
            Text(f"{estimate.method}; {agree}" if agree else estimate.method),
        )
    out.print(table)
    out.print()


def agreement(material: Material, name: str) -> str:
    """How many accepted values there are that are no estimates, and how far apart."""
    data = [d for d in material.accepted(name) if d.method != "estimated"]
    if len(data) < 2:
        return ""
    at = {d.temperature_K for d in data}
    if len(at) > 1:
        return f"{len(data):,} values"
    what = "values" if all_from_memory(d.source for d in data) else "sources"
    unit, convert = _SHOWN[UNIT_OF[name]]
    values = [convert(d.value) for d in data]
    return f"{len(data)} {what} within {_text(max(values) - min(values), unit)}"


def _print_influences(material: Material, catalogue: Catalogue, out: Console) -> None:
    found = influences(material, catalogue.material("propylene glycol"))
    if found:
        out.print(Text("What its doubts move, at 5 % in propylene glycol", style="bold"))
        for line in phrases(found):
            out.print(Text(f"- {line}"))
        out.print()


def _print_facts(material: Material, catalogue: Catalogue, out: Console) -> None:
    table = Table.grid(padding=(0, 2))
    heads = ("fact", "value", "source", "")
    table.add_row(*(Text(head, style="bold") for head in heads))
    for datum in material.data:
        unit, convert = _SHOWN[UNIT_OF[datum.property]]
        at = f" at {to_celsius(datum.temperature_K):.0f} °C" if datum.temperature_K else ""
        table.add_row(
            datum.property.replace("_", " "),
            _text(convert(datum.value), unit) + at,
            _linked(datum.source, catalogue),
            Text(_standing_of(datum, catalogue)),
        )
    for curve in material.curves:
        span = f"{to_celsius(curve.minimum_K):.0f} to {to_celsius(curve.maximum_K):.0f} °C"
        table.add_row(
            f"{curve.property.replace('_', ' ')} curve",
            span,
            _linked(curve.source, catalogue),
            Text(_standing_of(curve, catalogue)),
        )
    out.print(table)
    out.print()
    out.print(Text("Sources", style="bold"))
    keys = dict.fromkeys([d.source for d in material.data] + [c.source for c in material.curves])
    for key in keys:
        source = catalogue.sources.get(key)
        if source is None:
            out.print(Text(f"{key}: not in the bibliography"))
            continue
        told = (source.citation(), source.reading, source.licence and f"licence: {source.licence}")
        out.print(Text(f"{key}: {'; '.join(filter(None, told))}"))


def _standing_of(fact: Datum | Curve, catalogue: Catalogue) -> str:
    """Rejected and why, or accepted; from memory where it is; and what a note says."""
    source = catalogue.sources.get(fact.source)
    told = [f"rejected: {fact.rejected}" if fact.rejected else "accepted"]
    if source is not None and source.read == "memory":
        told.append("from memory")
    if isinstance(fact, Datum) and fact.method == "estimated":
        told.append("estimated")
    if isinstance(fact, Datum) and fact.note:
        told.append(fact.note)
    return "; ".join(told)


def _linked(key: str, catalogue: Catalogue) -> Text:
    """A source's key, as a link where it has an address and the terminal shows links."""
    source = catalogue.sources.get(key)
    return Text(key, style=f"link {source.address}" if source and source.address else "")
