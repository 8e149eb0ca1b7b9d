"""Names as a supplier's list writes them: trade and systematic names, stereo marks before and
behind, Greek letters, grades, purities, dilutions, acetals turned round.

supplier_names.csv was written from memory for this test: a name, and the record that it means.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from blendwright.catalogue import Catalogue
from blendwright.errors import BlendwrightError
from blendwright.mixture.weighing import resolve

WRITTEN = tuple(
    csv.DictReader(
        (Path(__file__).parent / "supplier_names.csv").read_text(encoding="utf-8").splitlines()
    )
)


@pytest.mark.parametrize("row", WRITTEN, ids=lambda row: row["written"])
def test_a_supplier_s_name_means_the_record_that_a_flavourist_takes_it_for(
    row: dict[str, str], catalogue: Catalogue
) -> None:
    assert resolve(row["written"], catalogue).name == row["material"]


@pytest.mark.parametrize(
    "open_name", ["diacetyl 10%", "valencene 80", "citral 95 %", "decadienal", "orange oil 5-fold"]
)
def test_a_name_that_leaves_the_carrier_the_isomer_or_the_strength_open_is_refused(
    open_name: str, catalogue: Catalogue
) -> None:
    with pytest.raises(BlendwrightError, match=open_name.split()[0]):
        resolve(open_name, catalogue)


@pytest.mark.parametrize(
    ("written", "inchikey"),
    [
        ("cubebol", "KONGRWVLXLWGDV"),
        ("theaspirone", "GODCZVLWIKCWMC"),
        ("megastigmatrienone", "CBQXHTWJSZXYSK"),
        ("S-(2-methyl-3-furyl) thioacetate", "PQFIBPDAGFGLBY"),
        ("propenyl propyl disulfide", "AAPBYIVJOWCMGH"),  # not the allyl isomer
    ],
)
def test_a_trade_name_without_a_record_is_known_by_its_structure(
    written: str, inchikey: str, catalogue: Catalogue
) -> None:
    assert resolve(written, catalogue).inchikey.startswith(inchikey)


@pytest.mark.parametrize(
    ("written", "inchikey"),
    [
        ("( + )-menthol", "NOOLISFMXDJSKH"),
        ("(.+/-.)-menthol", "NOOLISFMXDJSKH"),
        ("isoeugenol acetate", "IUSBVFZKQJGVEP"),
        ("citronellol butyrate", "XQPZQXTWYZAXAK"),
    ],
)
def test_signs_in_brackets_and_esters_of_alcohols_are_read(
    written: str, inchikey: str, catalogue: Catalogue
) -> None:
    assert resolve(written, catalogue).inchikey.startswith(inchikey)
