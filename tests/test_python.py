"""From Python: frames in and out, short reprs, units, and errors that say what to call instead."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import Estimate, Formula, assess, assess_many, default_catalogue, read_formula
from blendwright.estimate import DISPLAY_NAMES

EXAMPLE = Path(__file__).parent.parent / "examples" / "orchard-pear-cardamom.csv"
ROWS = pd.DataFrame(
    {
        "material": ["ethyl butyrate", "cis-3-hexenol", "propylene glycol"],
        "grams": [1.6, 0.3, 8.1],
        "strength_pct": [np.nan, 10.0, np.nan],
        "carrier": [None, "propylene glycol", None],
    }
)
PEAR = Formula.from_frame(ROWS, "pear")
# with a quarter of the ester the glycol stays clear at every temperature looked at
CLEAR_PEAR = Formula.from_frame(ROWS.assign(grams=[0.4, 0.3, 9.3]), "clear pear")


# Formulas


def test_a_frame_reads_as_the_rows_it_holds_and_missing_cells_are_empty() -> None:
    rows = [
        {"material": "ethyl butyrate", "grams": 1.6},
        {"material": "cis-3-hexenol", "grams": 0.3, "strength_pct": 10, "carrier": "PG"},
        {"material": "propylene glycol", "grams": 8.1},
    ]
    made, typed = assess(PEAR), assess(Formula.from_rows(rows, "pear"))
    assert made.weighing.total_g == pytest.approx(10.0)
    assert made.estimates["density"].value == typed.estimates["density"].value
    assert PEAR.rows[0].strength is None
    assert Formula.from_frame(ROWS.set_index("material"), "pear").rows == PEAR.rows


def test_a_frame_may_make_a_row_up_to_weight() -> None:
    frame = pd.DataFrame({"material": ["vanillin", "PG"], "grams": [1.0, "q.s."]})
    assert assess(Formula.from_frame(frame, batch_g=20)).weighing.total_g == pytest.approx(20.0)


@pytest.mark.parametrize("kind", ["path", "text path", "bytes", "text stream", "byte stream"])
def test_a_formula_is_read_from_a_path_a_stream_or_bytes(kind: str) -> None:
    data = EXAMPLE.read_bytes()
    source: Any = {
        "path": EXAMPLE,
        "text path": str(EXAMPLE),
        "bytes": data,
        "text stream": io.StringIO(data.decode()),
        "byte stream": io.BytesIO(data),
    }[kind]
    assert read_formula(source).rows == read_formula(EXAMPLE).rows


WRONG: dict[str, Any] = {
    "a dict": {"vanillin": 1.0},
    "a Series": pd.Series({"vanillin": 1.0}),
    "a DataFrame": ROWS,
    "a list": [{"material": "vanillin", "grams": 1}],
    "a path": "pear.csv",
    "nothing": None,
}


@pytest.mark.parametrize(
    ("given", "instead"),
    [
        ("a dict", "Formula.of(mapping)"),
        ("a Series", "series.to_dict()"),
        ("a DataFrame", "Formula.from_frame"),
        ("a list", "Formula.from_rows"),
        ("a path", "read_formula"),
        ("nothing", "Formula.from_rows"),
    ],
)
def test_what_is_no_formula_is_told_how_to_become_one(given: str, instead: str) -> None:
    with pytest.raises(TypeError) as caught:
        assess(WRONG[given])
    assert instead in str(caught.value)


@pytest.mark.parametrize(
    "call",
    [
        lambda: Formula.of(WRONG["a Series"]),
        lambda: Formula.of(WRONG["a DataFrame"]),
        lambda: Formula.from_rows(WRONG["a dict"]),
        lambda: Formula.from_rows(WRONG["a DataFrame"]),
        lambda: Formula.from_rows("vanillin=1"),
        lambda: Formula.from_frame(WRONG["a Series"]),
        lambda: Formula.from_frame(WRONG["a dict"]),
        lambda: read_formula(WRONG["a dict"]),
        lambda: read_formula(WRONG["nothing"]),
        lambda: assess_many(WRONG["a dict"]),
        lambda: assess_many(WRONG["a Series"]),
        lambda: assess_many(PEAR),
        lambda: assess_many(WRONG["a list"]),
    ],
)
def test_a_wrong_type_is_a_type_error_that_says_what_to_call(call: Any) -> None:
    with pytest.raises(TypeError, match=r"from_|of\(|read_formula|assess_many|Formula"):
        call()


# Estimates


def test_estimates_are_in_SI_under_the_names_of_their_quantities() -> None:
    found = assess(PEAR).estimates
    assert set(found) == set(DISPLAY_NAMES)
    assert not [name for name in found if name.endswith(("_C", "_kPa", "_mL", "_pct"))]
    assert found["flash_point_closed_cup"].unit == "K"
    assert found["vapour_pressure"].unit == "Pa"
    assert found["density"].unit == "kg/m3"
    shown = assess(PEAR).to_dict()["estimates"]
    assert isinstance(shown, dict)
    assert set(shown) == set(DISPLAY_NAMES.values())


@given(st.floats(1.0, 1e6), st.sampled_from(["K", "Pa", "kg/m3", "m3", "kg", "s", "mol/mol", "1"]))
def test_a_unit_changes_the_numbers_and_never_their_order(value: float, unit: str) -> None:
    from blendwright.estimate import _UNITS

    held = Estimate.ok(value, 0.9 * value, 1.1 * value, unit, "test")
    assert held.to(unit) is held
    for other in _UNITS[unit]:
        low, middle, high = (held.to(other).interval()[k] for k in (1, 0, 2))
        assert low <= middle <= high
        assert held.to(other).unit == other


def test_a_unit_of_another_quantity_is_refused_with_those_that_fit() -> None:
    flash = assess(PEAR).estimates["flash_point_closed_cup"]
    assert flash.to("°C").interval()[0] == pytest.approx(flash.interval()[0] - 273.15)
    with pytest.raises(ValueError, match="in K, °C"):
        flash.to("kPa")
    assert Estimate.unknown("K", "nobody knows").to("°C").unit == "°C"


def test_reprs_are_short() -> None:
    made = assess(read_formula(EXAMPLE))
    vanillin = default_catalogue().material("vanillin")
    assert repr(vanillin) == "<Material vanillin, CAS 121-33-5>"
    for value in (made, made.weighing.formula, made.estimates["density"], default_catalogue()):
        text = repr(value)
        assert len(text) < 200, text
        assert "\n" not in text
    assert "K (" in repr(made.estimates["flash_point_closed_cup"])
    assert "unknown: nobody knows" in repr(Estimate.unknown("K", "nobody knows"))


# Frames


def test_an_assessment_is_a_frame_of_its_estimates_rows_and_findings() -> None:
    made = assess(CLEAR_PEAR)
    frame = made.to_frame()
    assert list(frame.index) == list(made.estimates)
    assert frame.loc["density", "value"] == made.estimates["density"].value
    assert frame["value"].dtype == "float64"
    assert np.isnan(frame.loc["cloud_temperature", "value"])  # clear: no number, and why
    assert frame.loc["cloud_temperature", "status"] == "not_applicable"
    rows = made.to_frame("rows")
    assert rows["mass_kg"].sum() == pytest.approx(0.010)
    assert rows["flash_share"].sum() == pytest.approx(1.0)
    assert set(made.to_frame("findings")["severity"]) <= {"info", "caution", "warning"}
    with pytest.raises(ValueError, match="estimates, rows or findings"):
        made.to_frame("numbers")  # type: ignore[arg-type]  # that is the test


def test_a_frame_of_formulas_is_assessed_into_a_frame_as_assess_does() -> None:
    frame = pd.DataFrame(
        {
            "formula": ["one", "one", "two", "two"],
            "material": ["ethyl butyrate", "PG", "hexanal", "triacetin"],
            "grams": [1.0, "q.s.", 1.0, 9.0],
            "batch_g": [10.0, np.nan, np.nan, np.nan],
        }
    )
    made = assess_many(frame, 298.15, only=["flash", "density"])
    assert isinstance(made, pd.DataFrame)
    assert list(made["formula"]) == ["one", "two"]
    assert made["error"].isna().all()
    alone = assess(Formula.of({"ethyl butyrate": 1, "PG": 9}), 298.15)
    flash_C = alone.estimates["flash_point_closed_cup"].to("°C").value
    assert made["flash_point_closed_cup_C"][0] == pytest.approx(flash_C, rel=1e-9)


def test_drops_count_in_many_as_in_one() -> None:
    formula = Formula.from_rows(
        [{"material": "eugenol", "drops": 10}, {"material": "PG", "grams": 9}]
    )
    table = assess_many([formula], drop_mL=0.04, only=["density"])
    one = assess(formula, drop_mL=0.04)
    assert table.column("mass_g")[0].as_py() == pytest.approx(one.weighing.total_g)


def test_the_catalogue_is_counted_walked_searched_and_framed() -> None:
    catalogue = default_catalogue()
    assert len(catalogue) == len(catalogue.names()) > 500
    assert next(iter(catalogue)).name == catalogue.names()[0]
    found = [material.name for material in catalogue.search("VANILL")]
    assert {"vanillin", "ethyl vanillin"} <= set(found)
    assert catalogue.search("no such thing") == []
    frame = catalogue.to_frame()
    assert len(frame) == len(catalogue)
    assert frame.loc["vanillin", "cas"] == "121-33-5"
    facts = catalogue.to_frame("facts")
    of_vanillin = facts[(facts.material == "vanillin") & (facts.property == "melting_point")]
    assert of_vanillin["value"].between(350.0, 358.0).all()
    assert set(of_vanillin["unit"]) == {"K"}
    with pytest.raises(ValueError, match="materials or facts"):
        catalogue.to_frame("all")  # type: ignore[arg-type]  # that is the test


# Pictures


def test_an_assessment_draws_itself() -> None:
    made = assess(PEAR)
    for figure in (made.plot.thermometer(), made.plot.shares()):
        assert figure.axes


def test_heavy_libraries_are_not_loaded_until_they_are_asked_for() -> None:
    code = (
        "import sys; from blendwright import Formula, assess; "
        "repr(assess(Formula.of({'vanillin': 1, 'PG': 9}))); "
        "late = {'pandas', 'matplotlib', 'pyarrow', 'scipy', 'thermo', 'chemicals', 'numba'}; "
        "print(sorted(late & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
