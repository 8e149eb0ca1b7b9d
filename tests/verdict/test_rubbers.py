"""Droppers, liners and tubes: which rubbers and plastics the usual liquids swell."""

from __future__ import annotations

import pytest

from blendwright.verdict.plastics import PLASTICS, OneContact, hansen_parameters
from blendwright.verdict.rule import spoken


def attacked(liquid: str) -> set[str]:
    return {c.polymer for c in OneContact.of({liquid: 1.0}).polymers if c.attacks}


@pytest.mark.parametrize(
    ("liquid", "lengthens"),
    [
        ("ethyl acetate", 1.18),
        ("acetone", 1.06),
        ("1-propanol", 1.09),
        ("isopropanol", 1.09),
        ("ethanol", 1.04),
        ("propylene glycol", 1.01),
        ("glycerol", 1.00),
        ("water", 1.00),
    ],
)
def test_silicone_as_lee_park_and_whitesides_swelled_it(liquid: str, lengthens: float) -> None:
    """Anal. Chem. 75, 6544 (2003), table 1, from memory: length in the liquid over length dry."""
    assert ("silicone" in attacked(liquid)) == (lengthens > 1.1)


def test_common_knowledge_of_rubbers() -> None:
    """Common practice, no source: esters and terpenes ruin rubber bulbs, glycol doesn't."""
    assert {"natural rubber", "nitrile rubber", "silicone"} <= attacked("ethyl acetate")
    assert {"natural rubber", "silicone", "butyl rubber"} <= attacked("limonene")
    for liquid in ("propylene glycol", "water", "glycerol"):
        assert attacked(liquid) == set()


def test_epdm_has_no_published_triple_and_is_said_not_to_be_assessed() -> None:
    assert not any("EPDM" in name for name in hansen_parameters("polymer"))
    one = OneContact.of({"water": 1.0})
    found = spoken(PLASTICS, one.facts, one)
    spared = {f.code: f for f in found}["PLASTIC-NO-ATTACK"]
    for word in ("EPDM", "soft PVC", "stress cracking"):
        assert word in spared.message
