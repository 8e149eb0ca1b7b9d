"""A hook of the site's build: one page of all materials, with properties, sources and a search."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import Any

from blendwright.catalogue import Catalogue, Material, default_catalogue
from blendwright.estimate import Estimate, to_celsius
from blendwright.report.material import chosen_values
from blendwright.report.terminal import number

PROPERTIES = {
    "flash_point": "flash °C",
    "boiling_point": "boils °C",
    "melting_point": "melts °C",
    "density": "g/mL, 25 °C",
}
HEAD = """---
hide: [toc]
---

# Every material

All {count} materials of the catalogue. Type a part of a name, a synonym, a CAS number, a family or
a source. A value stands with its 90 % interval, if it has one, and the keys of its sources, which
are explained [below](#sources); the source of an estimate says that it is one. An empty cell is
unknown. `blendwright material NAME` shows everything, with the rejected values.

<div><label for="find">Find </label><input id="find" type="search" size="40" autocomplete="off"
style="border: 1px solid; padding: .3em .5em">
<span id="count" role="status">{count} of {count}</span></div>
<style>
#materials td, #materials th {{ padding: .5em; min-width: 0; }}
#materials td:nth-child(2) {{ white-space: nowrap; }}
</style>
"""
SCRIPT = """
<script>
(() => {
  const rows = [...document.querySelectorAll("#materials tbody tr")];
  const texts = rows.map((row) => row.textContent.toLowerCase());
  const field = document.getElementById("find");
  field.addEventListener("input", () => {
    const words = field.value.toLowerCase().split(/\\s+/);
    let shown = 0;
    rows.forEach((row, place) => {
      const fits = words.every((word) => texts[place].includes(word));
      row.hidden = !fits;
      shown += fits;
    });
    document.getElementById("count").textContent = `${shown} of ${rows.length}`;
  });
})();
</script>
"""


def on_files(files: Any, config: Any) -> Any:
    from mkdocs.structure.files import File

    files.append(File.generated(config, "materials.md", content=materials_page()))
    return files


def materials_page() -> str:
    """materials.md: a row for each material, then what each source is."""
    catalogue = default_catalogue()
    materials = sorted(catalogue, key=lambda one: one.name.casefold())
    used = dict.fromkeys(
        key for one in materials for _, keys in _values(one).values() for key in keys
    )
    heads = ("material", "CAS", "family", *PROPERTIES.values())
    lines = [
        HEAD.format(count=len(materials)),
        '<div style="overflow-x: auto"><table id="materials">',
        f"<thead><tr>{''.join(f'<th>{head}</th>' for head in heads)}</tr></thead><tbody>",
        *(_row(one) for one in materials),
        "</tbody></table></div>",
        SCRIPT,
        "## Sources",
        "",
        '<dl markdown="0">',
        *_sources(catalogue, sorted(used)),
        "</dl>",
        "",
    ]
    return "\n".join(lines)


def _row(material: Material) -> str:
    names = f"<br><small>{escape(', '.join(material.names))}</small>" if material.names else ""
    values = _values(material)
    cells = [
        f"{escape(material.name)}{names}",
        escape(material.cas),
        f"{escape(material.family)}<br><small>{escape(material.state_20C)} at 20 °C</small>",
        *(_cell(*values[name]) if name in values else "" for name in PROPERTIES),
    ]
    return f"<tr>{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"


def _cell(value: str, keys: tuple[str, ...]) -> str:
    links = ", ".join(f'<a href="#source-{escape(key)}">{escape(key)}</a>' for key in keys)
    return f"{value}<br><small>{links}</small>"


def _values(material: Material) -> dict[str, tuple[str, tuple[str, ...]]]:
    """(value in words, keys of its sources) of each property that is known."""
    if material.kind == "substance" and not material.is_undisclosed:
        chosen = chosen_values(material)
        found = {name.split(" at ")[0]: estimate for name, estimate in chosen.items()}
        return {
            name: (_words(found[name]), found[name].sources)
            for name in PROPERTIES
            if found[name].is_ok
        }
    measured = {name: next(iter(material.accepted(name)), None) for name in PROPERTIES}
    return {
        name: (_in_its_unit(name, datum.value), (datum.source,))
        for name, datum in measured.items()
        if datum is not None
    }


def _words(estimate: Estimate) -> str:
    name = "density" if estimate.unit == "kg/m3" else ""
    value, low, high = (_in_its_unit(name, one) for one in estimate.interval())
    return value if low == high else f"{value} ({low} to {high})"


def _in_its_unit(name: str, value: float) -> str:
    return number(value / 1e3, "g/mL") if name == "density" else f"{to_celsius(value):.0f}"


def _sources(catalogue: Catalogue, keys: list[str]) -> Iterator[str]:
    for key in keys:
        source = catalogue.sources.get(key)
        words = "not in the bibliography" if source is None else source.citation()
        reading = "" if source is None else f" <small>{escape(source.reading)}</small>"
        yield f'<dt id="source-{escape(key)}">{escape(key)}</dt><dd>{escape(words)}{reading}</dd>'
