"""The thermometer in one line of text: crystals, fridge, bench and flash point on one axis.

-40 ├─────◆─────────────┼────┴──▲━━━━━━━┤ 80 °C
"""

from __future__ import annotations

from blendwright.estimate import to_celsius, to_kelvin
from blendwright.report.thermometer import Mark, Thermometer

LOW_K, HIGH_K = 233.15, 353.15  # the axis reaches further where a mark lies outside
STEP_K = 10.0
ROOM_K = 5.0
LEAST_WIDTH = 70


def strip(found: Thermometer, width: int) -> str:
    """One line of that width: a double line is the 90 % interval of the last crystals, a thick one
    from the flash point's low end on. Empty where the width has no room for it."""
    if width < LEAST_WIDTH:
        return ""
    low_K, high_K = _range(found)
    first, last = f"{to_celsius(low_K):.0f} ├", f"┤ {to_celsius(high_K):.0f} °C{_legend(found)}"
    room = width - len(first) - len(last)
    line = ["─"] * room

    def place(kelvin: float) -> int:
        share = (min(max(kelvin, low_K), high_K) - low_K) / (high_K - low_K)
        return round(share * (room - 1))

    for mark, sign in ((found.dissolved, "═"), (found.flash, "━")):
        if mark.estimate.is_ok:
            _, low, high = mark.estimate.interval()
            end = room if mark is found.flash else place(high) + 1
            line[place(low) : end] = sign * (end - place(low))
    signs = [("F", found.places[1].temperature_K), ("B", found.bench_K)]
    signs += [(sign, mark.estimate.interval()[0]) for sign, mark in _signs(found)]
    signs.sort(key=lambda pair: pair[1])
    for (sign, _), at in zip(signs, _apart([place(k) for _, k in signs], room), strict=True):
        line[at] = sign
    return f"{first}{''.join(line)}{last}"


def _apart(places: list[int], room: int) -> list[int]:
    """The places in order, moved aside where two would stand on one.

    >>> _apart([3, 3, 9, 9], 10)
    [3, 4, 8, 9]
    """
    for k in range(1, len(places)):
        places[k] = max(places[k], places[k - 1] + 1)
    for k in range(len(places) - 1, -1, -1):
        places[k] = min(places[k], room - len(places) + k)
    return places


def _legend(found: Thermometer) -> str:
    """What each sign is; a sign that is not on the axis is said to be unknown or none."""
    words = {"unknown": "?", "not_applicable": "none", "out_of_range": "out of range"}
    crystals, flash = (
        "" if mark.estimate.is_ok else f" {words[mark.estimate.status]}"
        for mark in (found.dissolved, found.flash)
    )
    return f"  ◆ dissolved{crystals}  F fridge  B bench  ▲ flash{flash}"


def _signs(found: Thermometer) -> list[tuple[str, Mark]]:
    both = (("◆", found.dissolved), ("▲", found.flash))
    return [(sign, mark) for sign, mark in both if mark.estimate.is_ok]


def _range(found: Thermometer) -> tuple[float, float]:
    """From -40 to 80 °C, wider in steps of 10 °C where a mark lies outside."""
    shown = [LOW_K, HIGH_K, found.bench_K, *(m.estimate.interval()[0] for _, m in _signs(found))]
    low, high = min(shown), max(shown)
    return (
        to_kelvin(STEP_K * (to_celsius(low) // STEP_K)),
        to_kelvin(STEP_K * -(-to_celsius(high) // STEP_K)),
    )
