"""A source as the bibliography's files hold it: an item of CSL-JSON (Citation Style Language).

Besides the standard's fields an item has `custom`: `kind` (what it is here: handbook, web page,
"from memory"), `read` (how its values were read) and `licence` (that of the values). `accessed` is
the day on which the record was written.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

from blendwright.catalogue.material import Read, Source
from blendwright.errors import CatalogueError

OTHERS = {"literal": "others"}
_READ = get_args(Read)


def source_of(place: str, item: Mapping[str, Any]) -> Source:
    """The source of an item. Raises CatalogueError for one that doesn't say how it was read."""
    custom = item.get("custom", {})
    if custom.get("read") not in _READ:
        raise CatalogueError(
            f"{place}, {item.get('id')}: read {custom.get('read')!r} is none of {', '.join(_READ)}"
        )
    for wanted in ("id", "title"):
        if not item.get(wanted):
            raise CatalogueError(f"{place}: an item without {wanted}")
    return Source(
        key=item["id"],
        kind=custom.get("kind", ""),
        author=authors(item),
        year=str(_first(item.get("issued")) or ""),
        title=item["title"],
        published_in=_published_in(item),
        doi=item.get("DOI", ""),
        note=item.get("note", ""),
        url=item.get("URL", ""),
        licence=custom.get("licence", ""),
        read=custom["read"],
        item=item,
    )


def item_of(source: Source) -> dict[str, Any]:
    """A source as an item, also one that is in no file (the person's own, a text of the law)."""
    if source.item:
        return dict(source.item)
    return {
        "id": source.key,
        "type": "document",
        "title": source.title,
        **({"note": source.note} if source.note else {}),
        "custom": {"kind": source.kind, "read": source.read},
    }


def authors(item: Mapping[str, Any]) -> str:
    """ "Liaw, H.-J., Lee, Y.-H. et al.", "Haynes, W. M. (ed.)"."""
    role = "editor" if "editor" in item else "author"
    people = item.get(role, [])
    named = ", ".join(_name(person) for person in people if person != OTHERS)
    text = f"{named} et al." if OTHERS in people else named
    if role == "editor":
        return f"{text} ({'ed.' if len(people) == 1 else 'eds.'})"
    return text


def _name(person: Mapping[str, str]) -> str:
    return person.get("literal") or f"{person['family']}, {person['given']}"


def _first(date: Mapping[str, Any] | None) -> int | None:
    return int(date["date-parts"][0][0]) if date else None


def _published_in(item: Mapping[str, Any]) -> str:
    """ "Ind. Eng. Chem. 58(5), 18"."""
    text = str(item.get("container-title", ""))
    if "volume" in item:
        issue = f"({item['issue']})" if "issue" in item else ""
        text = f"{text} {item['volume']}{issue}"
    return f"{text}, {item['page']}" if "page" in item else text
