"""Put the program's own output into README.md and docs/catalogue.md, so that it never goes stale.

    python docs/refresh.py

Tests compare both files with what the program says now.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from pathlib import Path

from rich.console import Console

from blendwright import assess, read_formula
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.questions.materials.audit import families, library_errors, summary
from blendwright.report.assessment import print_assessment
from blendwright.report.terminal import WIDTH

ROOT = Path(__file__).parent.parent
EXAMPLE = ROOT / "examples" / "cardamom-pear.csv"
READ_BY_FITS = (
    ("fitting/flash_points.csv", "Sun et al. 2020, medians", "CC BY 4.0"),
    ("fitting/excess/reference/solid_solubility_carriers.csv", "BigSolDB 2.0", "CC BY 4.0"),
    (
        "fitting/excess/reference/activity_infinite_dilution_more.csv",
        "collected by Brouwer et al. 2021, as copied in GH-GNN",
        "MIT",
    ),
    (
        "questions/accuracy/reference/density*.csv, excess_volume*.csv, activity*.csv, "
        "vapour_liquid_points.csv",
        "ThermoML archive (NIST/TRC)",
        "NIST public data, free with attribution; each row names its paper",
    ),
    ("questions/accuracy/reference/flash_point_pure.csv", "Sun et al. 2020, medians", "CC BY 4.0"),
    (
        "questions/accuracy/reference/solid_solubility_beyond.csv",
        "BigSolDB 2.0; Boobier et al. 2020",
        "CC BY 4.0",
    ),
    (
        "questions/accuracy/reference/solid_solubility_ethanol.csv",
        "Open Notebook Science",
        "CC0 1.0",
    ),
    ("questions/accuracy/reference/water_solubility.csv", "AqSolDB", "CC0 1.0"),
    (
        "questions/accuracy/reference/odorants.csv",
        "Keller and Vosshall 2016 (doi:10.1186/s12868-016-0287-2), as tabulated in pyrfume-data",
        "open access, read so at its page; CC BY 4.0, data CC0 by the journal's terms, from "
        "memory; pyrfume-data MIT",
    ),
)
"""Files of data sets below `src/` or `src/blendwright/`; the other reference tables hold single
facts, with the source on each row."""


def refreshed(readme: str) -> str:
    """README.md with the example and its assessment as they are now."""
    out = io.StringIO()
    print_assessment(assess(read_formula(EXAMPLE)), Console(file=out, width=WIDTH, highlight=False))
    shown = "\n".join(line.rstrip() for line in out.getvalue().splitlines())
    readme = _between(readme, "formula", f"```csv\n{EXAMPLE.read_text(encoding='utf-8')}```")
    return _between(readme, "assessment", f"```text\n{shown}\n```")


def _between(text: str, mark: str, block: str) -> str:
    pattern = re.compile(f"(<!-- {mark} -->\n).*?(<!-- /{mark} -->)", re.DOTALL)
    return pattern.sub(lambda found: f"{found.group(1)}{block}\n{found.group(2)}", text)


def how_read(catalogue: Catalogue) -> dict[str, int]:
    """How many sources were read in which way."""
    counts = Counter(source.read for source in catalogue.sources.values())
    return dict(sorted(counts.items()))


def catalogue_page() -> str:
    """docs/catalogue.md: counts, licences, and the library values that were found wrong."""
    catalogue = default_catalogue()
    lines = [
        "# The catalogue",
        "",
        "Made by `python docs/refresh.py`; the counts are those of `material audit --summary`.",
        "",
        "| what | count |",
        "|---|---|",
        *(f"| {name} | {count:,} |" for name, count in summary(catalogue).items()),
        *(f"| family: {name} | {count} |" for name, count in families(catalogue).items()),
        "",
        "## Rule of choice",
        "",
        "Measured and consistent first. An estimate never outranks a measurement. A value that",
        "fails a physical check is out, stays in the file, and says why. Among those left, the",
        "median (the lower of two for a flash point).",
        "",
        "## Sources",
        "",
        "Each source says how it was read: itself (`full`), its abstract, where another quotes or",
        "tabulates it (`secondary`), or not at all (`memory`); `none` is what was made here.",
        "",
        "| read | sources |",
        "|---|---|",
        *(f"| {read} | {count} |" for read, count in how_read(catalogue).items()),
        "",
        "## Licences of the values",
        "",
        "Our choice of values, names, notes and estimates are under CC0. Values of a data set are",
        "under its own licence: CC BY asks you to name the authors where you pass its values on.",
        "Nothing here comes from a source that forbids commerce.",
        "",
        "| source | licence | where it opens |",
        "|---|---|---|",
        *(
            f"| {s.title} (`{s.key}`) | {s.licence} | {s.address} |"
            for s in catalogue.sources.values()
            if s.licence
        ),
        "",
        "All other values are single facts quoted from papers, standards and pages whose licence",
        "isn't known, or come from memory; the source of each says which.",
        "",
        "To be named where their values are passed on (CC BY):",
        "",
        *(
            f"- {s.citation()}; {s.licence}"
            for s in catalogue.sources.values()
            if s.licence.startswith("CC BY")
        ),
        "",
        "Data sets that only the fits and the accuracy tables read:",
        "",
        "| file | from | licence |",
        "|---|---|---|",
        *(f"| `{file}` | {of} | {licence} |" for file, of, licence in READ_BY_FITS),
        "",
        "## Values found wrong in libraries",
        "",
        "As tabulated in `chemicals` 1.5.2. One fault is not in the list because it touches nearly",
        "every row: the table of CRC densities runs the value and its superscript temperature",
        "together (acetone 784.525 is 0.7845 g/mL at 25 °C).",
        "",
        "| material | property | value | tabulated from | why it is out | what stands instead |",
        "|---|---|---|---|---|---|",
        *(
            f"| {e.material} | {e.property.replace('_', ' ')} | {e.value} | {e.source} "
            f"| {e.reason} | {e.instead} |"
            for e in library_errors(catalogue)
        ),
        "",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    path = ROOT / "README.md"
    path.write_text(refreshed(path.read_text(encoding="utf-8")), encoding="utf-8")
    (ROOT / "docs" / "catalogue.md").write_text(catalogue_page(), encoding="utf-8")
