"""The bibliography of one assessment: as text, as BibTeX and as CSL-JSON.

The records are CSL-JSON (`catalogue/csl`); pybtex writes them as BibTeX and sets them as text. It
is imported when first asked for.
"""

from __future__ import annotations

import io
import json
import re
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any

from blendwright.catalogue import Source
from blendwright.catalogue.csl import item_of
from blendwright.report.sources import TITLES, Entry

WIDTH = 80
INDENT = "    "
FIELDS = {"container-title": "journal", "volume": "volume", "issue": "number", "page": "pages"}
_SPECIAL = {  # braces by name, since BibTeX counts escaped ones too
    "\\": r"\textbackslash{}", "{": r"\textbraceleft{}", "}": r"\textbraceright{}", "&": r"\&",
    "%": r"\%", "#": r"\#", "_": r"\_", "$": r"\$", "~": r"\textasciitilde{}",
    "^": r"\textasciicircum{}",
}  # fmt: skip


def bibliography_text(name: str, entries: Sequence[Entry]) -> str:
    """Grouped by standing, each entry with what it was used for and how it was read; at most 80
    columns, addresses whole."""
    set_as_text = dict(zip((e.key for e in entries), _set(entries), strict=True))
    lines = [f"What the assessment of {name} leans on"]
    for standing, group in groupby(entries, key=lambda entry: entry.standing):
        lines += ["", TITLES[standing]]
        for entry in group:
            note = f" [{entry.source.note}]" if entry.source.note else ""
            lines += _wrapped(set_as_text[entry.key] + note, "- ", "  ")
            if entry.source.address:
                lines.append(f"{INDENT}{entry.source.address}")
            told = [entry.source.reading, f"used for: {'; '.join(entry.used_for())}"]
            lines += _wrapped("; ".join(filter(None, told)), INDENT, INDENT + "  ")
    return "\n".join(lines) + "\n"


def _wrapped(text: str, first: str, rest: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )


def csl_json(entries: Iterable[Entry]) -> str:
    """The records as a CSL-JSON array, with standing and uses in `custom`."""
    items = []
    for entry in entries:
        item = item_of(entry.source)
        told = {"standing": entry.standing, "used-for": entry.used_for()}
        items.append({**item, "custom": {**item.get("custom", {}), **told}})
    return json.dumps(items, ensure_ascii=False, indent=1) + "\n"


def bibtex(entries: Iterable[Entry]) -> str:
    """One BibTeX entry each: @article where journal, volume and pages are known, else @misc.

    Standing and uses go into `note`, UTF-8 as it is.
    """
    from pybtex.database import BibliographyData  # type: ignore[import-untyped]
    from pybtex.database.output.bibtex import Writer  # type: ignore[import-untyped]

    class AsEscaped(Writer):  # type: ignore[misc]
        """Writes what we have escaped, once."""

        def _encode(self, text: str) -> str:
            return text

    data = BibliographyData()
    taken: set[str] = set()
    for entry in entries:
        said = [TITLES[entry.standing], entry.source.note]
        said.append(f"Used for: {'; '.join(entry.used_for())}")
        note = ". ".join(_escaped(text) for text in said if text)
        made = _pybtex_entry(entry.source, {"note": note})
        data.add_entry(_key(entry.key, taken), made)
    out = io.StringIO()
    AsEscaped().write_stream(data, out)
    return out.getvalue()


def _set(entries: Sequence[Entry]) -> list[str]:
    """Each source as a line of text, without address and note."""
    from pybtex.plugin import find_plugin  # type: ignore[import-untyped]

    style = find_plugin("pybtex.style.formatting", "plain")(
        name_style="lastfirst", sorting_style="none"
    )
    backend = find_plugin("pybtex.backends", "plaintext")()
    made = []
    for number, entry in enumerate(entries):
        one = _pybtex_entry(entry.source, {})
        one.key = str(number)
        for address in ("doi", "url"):
            one.fields.pop(address, None)
        (formatted,) = style.format_entries([one])
        made.append(str(formatted.text.render(backend)))
    return made


def _pybtex_entry(source: Source, more: Mapping[str, str]) -> Any:
    from pybtex.database import Entry as Record
    from pybtex.database import Person

    item = item_of(source)
    role = "editor" if "editor" in item else "author"
    people = [
        Person("others")
        if person == {"literal": "others"}
        else Person(f"{{{_escaped(person['literal'])}}}")
        if "literal" in person
        else Person(last=_escaped(person["family"]), first=_escaped(person["given"]))
        for person in item.get(role, [])
    ]
    fields = {"title": f"{{{_escaped(source.title)}}}"}
    is_article = bool(people) and {"container-title", "volume", "page"} <= set(item)
    if is_article:
        fields |= {ours: _escaped(item[name]) for name, ours in FIELDS.items() if name in item}
    elif source.published_in:
        fields["howpublished"] = _escaped(source.published_in)
    for name, text in (("year", source.year), ("doi", source.doi), ("url", source.url)):
        if text:
            fields[name] = text
    if accessed := item.get("accessed"):
        fields["urldate"] = "-".join(f"{part:02d}" for part in accessed["date-parts"][0])
    kind = "article" if is_article else "misc"
    return Record(kind, fields={**fields, **more}, persons={role: people} if people else {})


def _key(key: str, taken: set[str]) -> str:
    """The source's key with letters, digits and hyphens only, unlike any before it."""
    plain = re.sub(r"[^A-Za-z0-9]+", "-", key).strip("-").lower()[:40].strip("-") or "source"
    made, number = plain, 2
    while made in taken:
        made, number = f"{plain}-{number}", number + 1
    taken.add(made)
    return made


def _escaped(text: str) -> str:
    return "".join(_SPECIAL.get(letter, letter) for letter in text)
