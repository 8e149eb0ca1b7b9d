"""The line of ethanol in mixture/cosolvents.csv, from limits of clearness in dilute alcohol."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from blendwright.catalogue.tables import table_rows
from blendwright.mixture.clarity import normal_share
from blendwright.mixture.cosolvency import Cosolvent, cosolvents, oils_in
from blendwright.mixture.parameter_sets import Array
from blendwright.questions.accuracy.split import KnownSplit, facts

ETHANOL_PRIOR = ((1.35, 0.3), (0.97, 0.04), (0.5, 0.7))  # intercept, slope, scale (its ln's sd)
LAPSE = 0.03  # of the facts are taken to be wrong, so that one of them does not blow up a scale


def _lapsing(p: Array | float) -> Array:
    return np.asarray(LAPSE + (1.0 - 2.0 * LAPSE) * p)


def _surprise(p: float, parts: float) -> float:
    return -math.log(float(_lapsing(p)) if parts else 1.0 - float(_lapsing(p)))


@dataclass(frozen=True)
class EthanolLaw:
    """Ethanol's line in cosolvents.csv, and the scale of ln load that goes with it."""

    intercept: float
    slope: float
    scale: float


def ethanol_law(known: Sequence[KnownSplit]) -> EthanolLaw:
    """Intercept and slope of ethanol's line in cosolvents.csv, and the scale that goes with it.

    Maximum likelihood of the facts in spirits, towards the published line (Li and Yalkowsky 1998:
    slope 0.93; Yalkowsky and Roseman's form: 1).
    """
    seen = [
        (oils, f, float(oils.ln_sd[0]))
        for f in known
        if f.medium == "spirit"
        and "ethanol" in f.composition.names
        and (oils := oils_in(f.composition, f.temperature_K)) is not None
        and math.isfinite(float(oils.ln_load()[0]))
    ]
    table = dict(cosolvents())

    def cost(values: Array) -> float:
        intercept, slope, scale = float(values[0]), float(values[1]), math.exp(float(values[2]))
        table["ethanol"] = Cosolvent(intercept, slope, "fitted")
        (a, a_sd), (b, b_sd), (c, c_sd) = ETHANOL_PRIOR
        total = 0.5 * (
            ((intercept - a) / a_sd) ** 2
            + ((slope - b) / b_sd) ** 2
            + (math.log(scale / c) / c_sd) ** 2
        )
        for oils, fact, own_sd in seen:
            z = float(oils.ln_load(table)[0]) / math.hypot(scale, own_sd)
            chance = float(normal_share(np.asarray(z)))
            total += fact.weight * _surprise(chance, fact.parts)
        return total

    start = np.array([1.35, 0.97, math.log(0.5)])
    found = minimize(cost, start, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-5})
    return EthanolLaw(float(found.x[0]), float(found.x[1]), float(math.exp(found.x[2])))


def _text_of(rows: Sequence[dict[str, str]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def fitted_cosolvents() -> str:
    """The text of mixture/cosolvents.csv: ethanol's line learned, the others as published."""
    rows = table_rows("blendwright.mixture", "cosolvents.csv")
    law = ethanol_law(facts())
    for row in rows:
        if row["solvent"] == "ethanol":
            row["intercept"], row["slope"] = f"{law.intercept:.3f}", f"{law.slope:.3f}"
    return _text_of(rows)
