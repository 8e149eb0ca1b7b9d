"""The bibliography of one assessment, for a reader and as BibTeX."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from itertools import groupby

from blendwright.report.sources import TITLES, Entry

WIDTH = 80
INDENT = "    "
_JOURNAL = re.compile(r"^(?P<journal>\D.*?),?\s(?P<volume>\d+)(?:\((?P<number>\d+)\))?, "
                      r"(?P<pages>\d[\d–-]*)$")  # fmt: skip
_EDITORS = re.compile(r"\s*\(eds?\.\)$")
_INITIAL_THEN_NAME = re.compile(r"(?<=\.),\s+")
_SPECIAL = {
    "\\": r"\textbackslash{}", "{": r"\{", "}": r"\}", "&": r"\&", "%": r"\%", "#": r"\#",
    "_": r"\_", "$": r"\$", "~": r"\textasciitilde{}", "^": r"\textasciicircum{}",
}  # fmt: skip


def bibliography_text(name: str, entries: Sequence[Entry]) -> str:
    """Grouped by standing, each entry with what it was used for; at most 80 columns."""
    lines = [f"What the assessment of {name} leans on"]
    for standing, group in groupby(entries, key=lambda entry: entry.standing):
        lines += ["", TITLES[standing]]
        for entry in group:
            lines += _wrapped(entry.citation(), "- ", "  ")
            uses = "; ".join(entry.used_for())
            lines += _wrapped(f"used for: {uses}", INDENT, INDENT + "  ")
    return "\n".join(lines) + "\n"


def _wrapped(text: str, first: str, rest: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )


def bibtex(entries: Iterable[Entry]) -> str:
    """One BibTeX entry each: @article where journal, volume and pages are known, else @misc.

    Standing and uses go into `note`, UTF-8 as it is.
    """
    taken: set[str] = set()
    return "\n".join(_bibtex(entry, _key(entry.key, taken)) for entry in entries)


def _bibtex(entry: Entry, key: str) -> str:
    source = entry.source
    authors, role = source.author, "author"
    if _EDITORS.search(authors):
        authors, role = _EDITORS.sub("", authors), "editor"
    fields = {role: _people(authors), "title": f"{{{_escaped(source.title)}}}"}
    journal = _JOURNAL.match(source.published_in)
    if journal and source.author:
        fields |= {part: _escaped(text) for part, text in journal.groupdict().items() if text}
    else:
        fields["howpublished"] = _escaped(source.published_in)
    fields["year"] = _escaped(source.year)
    fields["doi"] = _escaped(source.doi)
    said = [TITLES[entry.standing], source.note, f"Used for: {'; '.join(entry.used_for())}"]
    fields["note"] = ". ".join(_escaped(text) for text in said if text)
    kind = "article" if journal and source.author else "misc"
    body = "".join(f"  {name} = {{{text}}},\n" for name, text in fields.items() if text)
    return f"@{kind}{{{key},\n{body}}}\n"


def _key(key: str, taken: set[str]) -> str:
    """The source's key with letters, digits and hyphens only, unlike any before it."""
    plain = re.sub(r"[^A-Za-z0-9]+", "-", key).strip("-").lower()[:40].strip("-") or "source"
    made, number = plain, 2
    while made in taken:
        made, number = f"{plain}-{number}", number + 1
    taken.add(made)
    return made


def _people(authors: str) -> str:
    """Joined by "and", as BibTeX wants; a body without initials is kept whole in braces."""
    if not authors:
        return ""
    names = [
        name.strip()
        for part in authors.split(";")
        for half in part.split(" and ")
        for name in _INITIAL_THEN_NAME.split(half)
        if name.strip()
    ]
    return " and ".join(
        _escaped(name) if "," in name or name == "others" else f"{{{_escaped(name)}}}"
        for name in names
    )


def _escaped(text: str) -> str:
    return "".join(_SPECIAL.get(letter, letter) for letter in text)
