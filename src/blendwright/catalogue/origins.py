"""Was a value published, written down from memory, or is it the person's own?

A source of the bibliography that is read "memory" was not open before whoever wrote its values
down, be it remembered as a whole or cited as a standard or a page. The words that tell how a value
was chosen follow from the sources behind it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache

from blendwright.catalogue.loader import default_catalogue
from blendwright.catalogue.material import Curve, Datum

FROM_MEMORY = "from memory"
OWN_KEY = "yours"  # how the keys of the person's own values begin


@cache
def memory_keys() -> frozenset[str]:
    """The keys of the sources that stand from memory."""
    sources = default_catalogue().sources
    return frozenset(key for key, source in sources.items() if source.read == "memory")


def all_from_memory(sources: Iterable[str]) -> bool:
    """Whether there are sources, and every one of them stands from memory."""
    found = set(sources)
    return bool(found) and found <= memory_keys()


def values_words(facts: Sequence[Datum | Curve]) -> str:
    """What the values are, for the words of a choice among them.

    "published values", "a value from memory", "published values and values from memory",
    "your own value", "an estimate".
    """
    made = [fact for fact in facts if isinstance(fact, Datum) and fact.method == "estimated"]
    rest = [fact for fact in facts if fact not in made]
    remembered = sum(fact.source in memory_keys() for fact in rest)
    own = sum(fact.source.startswith(OWN_KEY) for fact in rest)
    published = len(rest) - remembered - own
    parts = (
        _counted(published, "a published value", "published values"),
        _counted(remembered, f"a value {FROM_MEMORY}", f"values {FROM_MEMORY}"),
        _counted(own, "your own value", "your own values"),
        _counted(len(made), "an estimate", "estimates"),
    )
    return " and ".join(part for part in parts if part)


def chosen_words(facts: Sequence[Datum | Curve], choice: str = "median of") -> str:
    """How one value was chosen: "median of published values", or "a value from memory" alone."""
    return values_words(facts) if len(facts) == 1 else f"{choice} {values_words(facts)}"


def correlation_words(curve: Curve) -> str:
    """ "published correlation", or "correlation from memory"."""
    remembered = curve.source in memory_keys()
    return f"correlation {FROM_MEMORY}" if remembered else "published correlation"


def origin_words(method: str, sources: Iterable[str]) -> str:
    """A method's words; with "from memory" where every source behind the number is."""
    return f"{method}, {FROM_MEMORY}" if all_from_memory(sources) else method


def _counted(number: int, one: str, several: str) -> str:
    return "" if not number else one if number == 1 else several
