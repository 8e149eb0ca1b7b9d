"""Which equations turn the fragments of a molecule into its properties?

Each property is a sum over named terms, coefficient x term; the coefficients are in
coefficients.csv, fitted by `python -m fitting.structure_regressions`. n is the number of heavy
atoms,
N_i the count of a fragment or family, d = n^0.66 + 1.69.

boiling_point (K)   sum c_i N_i / d + size and hydrogen-bond terms; the form of Nannoolal, Rarey,
                    Ramjugernath, Cordes 2004 (Fluid Phase Equilib. 226, 45), new coefficients;
                    to it the nearest relatives are added (relatives.py)
vaporisation (-)    f, a factor on the entropy of vaporisation in the Watson form of Grain 1982:
                    ln(P / 101325 Pa) = f (8.75 + R ln Tb) / (0.97 R) g(T / Tb), R in cal/(mol K);
                    vapour pressure at 25 °C follows
molar_volume        of the liquid at 20 °C, cm3/mol: sum c_i N_i; density = M / V
melting_point (K)   sum c_i N_i / d. Packing in a crystal is no sum over groups: very uncertain
fusion_entropy      J/(mol K), in the spirit of Walden 1908 and Yalkowsky; heat = entropy x Tm
limit_ratio         ln of lower flammable limit over the stoichiometric share in air (Jones 1938)
flash_point (K)     the temperature at which the vapour pressure above reaches half of the
                    stoichiometric share of 101325 Pa, plus a line in it and family terms
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from blendwright.catalogue.material import ATOMIC_WEIGHTS_g_mol
from blendwright.formula.conditions import ATMOSPHERE_Pa
from blendwright.pure.flammable_limit import stoichiometric_fraction
from blendwright.pure.structure.molecule import Molecule, fragments
from blendwright.pure.vapour_pressure import VapourPressure

Terms = dict[str, float]

SIZE_POWER = 0.66
SIZE_SHIFT = 1.69
VAPORISATION_RANGE = (0.95, 1.45)  # outside it the fit extrapolates
FLASH_SHARE_OF_STOICHIOMETRIC = 0.5
FLASH_SCALE_K = 400.0
CAL_GAS_CONSTANT = 1.987
GRAIN_DIVISOR = 0.97

# families of fragments whose sum is a term
FAMILIES: Mapping[str, tuple[str, ...]] = {
    "alcohol": ("OH primary", "OH secondary", "OH tertiary"),
    "acid": ("OH acid",),
    "phenol": ("OH phenol",),
    "carbonyl": ("CHO aldehyde", "C ketone", "C ring ketone"),
    "ester": ("O ester", "O lactone"),
    "ether": ("O ether", "O ring ether", "O aryl ether", "O aromatic"),
    "NH": ("NH2", "NH", "ring NH", "NH2 aryl", "NH aryl", "NH2 amide", "NH amide", "n pyrrole"),
    "N": ("N", "ring N", "N aryl", "N amide", "n pyridine", "n substituted"),
    "nitrile": ("N nitrile",),
    "sulfur": ("SH", "S disulfide", "S thioester", "S sulfide", "S ring sulfide"),
    "nitro": ("N nitro",),
    "amide": ("C amide", "C urea", "C carbamate"),
}
LIMIT_FAMILIES: Mapping[str, tuple[str, ...]] = {
    **{name: FAMILIES[name] for name in (
        "alcohol", "acid", "phenol", "carbonyl", "ester", "ether", "NH", "N", "nitrile", "sulfur",
        "nitro",
    )},
    "aromatic": ("aromatic CH",),
    "alkene": ("=CH2", "=CH", "=C", "ring =CH", "ring =C"),
    "ring": ("ring CH2", "ring CH", "ring C"),
}  # fmt: skip
# a phenol whose hydrogen bond stays inside the molecule counts as none (guaiacols, salicylates)
BONDED_INSIDE = ("ortho OH and carbonyl", "ortho OH and ether")
FLASH_FAMILIES: Mapping[str, tuple[str, ...]] = {
    **{name: FAMILIES[name] for name in ("alcohol", "acid", "phenol", "NH")},
    "aldehyde": ("CHO aldehyde",),
    "aromatic": LIMIT_FAMILIES["aromatic"],
    "ring": LIMIT_FAMILIES["ring"],
}


def _families(
    molecule: Molecule, families: Mapping[str, tuple[str, ...]] = FAMILIES
) -> dict[str, int]:
    return {
        name: sum(molecule.fragments.get(member, 0) for member in members)
        for name, members in families.items()
    }


def _size(molecule: Molecule) -> float:
    return float(molecule.heavy_atoms**SIZE_POWER + SIZE_SHIFT)


def boiling_terms(molecule: Molecule) -> Terms:
    """Terms of the normal boiling point, K."""
    n, size = float(molecule.heavy_atoms), _size(molecule)
    family = _families(molecule)
    polar = n - molecule.elements["C"]
    donors = family["alcohol"] + family["acid"] + family["phenol"] + family["NH"]
    terms: Terms = {"1": 1.0, "ln n": math.log(n), "1/n": 1.0 / n, "n/d": n / size}
    terms |= {f"{name}/d": count / size for name, count in molecule.fragments.items()}
    terms |= {f"{name}/n2": count / n**2 for name, count in family.items() if count}
    terms |= {f"{name}^2/nd": count**2 / n / size for name, count in family.items() if count}
    terms |= {
        "donors^2/d": donors**2 / size,
        "donors^2/nd": donors**2 / n / size,
        "donors/n": donors / n,
        "donors x polar/nd": donors * polar / n / size,
        "polar/n": polar / n,
        "polar^2/n": polar**2 / n,
    }
    return terms


def vaporisation_terms(molecule: Molecule) -> Terms:
    """Terms of the factor on the entropy of vaporisation."""
    n = float(molecule.heavy_atoms)
    family = _families(molecule)
    terms: Terms = {"1": 1.0, "ln n": math.log(n), "1/n": 1.0 / n}
    terms |= {f"{name}/n": count / n for name, count in molecule.fragments.items()}
    terms |= {f"{name}/n2": count / n**2 for name, count in family.items() if count}
    terms["families^2/n2"] = (sum(family.values()) / n) ** 2
    return terms


def volume_terms(molecule: Molecule) -> Terms:
    """Terms of the molar volume of the liquid at 20 °C, cm3/mol."""
    n = float(molecule.heavy_atoms)
    family = _families(molecule)
    donors = family["alcohol"] + family["acid"] + family["phenol"] + family["NH"]
    return {
        "1": 1.0,
        **{name: float(count) for name, count in molecule.fragments.items()},
        "donors/n": donors / n,
        "donors^2": float(donors**2),
        "1/n": 1.0 / n,
    }


def melting_terms(molecule: Molecule) -> Terms:
    """Terms of the melting point, K."""
    n, size = float(molecule.heavy_atoms), _size(molecule)
    family = _families(molecule)
    donors = family["alcohol"] + family["acid"] + family["phenol"] + family["NH"]
    terms: Terms = {"1": 1.0, "ln n": math.log(n), "1/n": 1.0 / n}
    terms |= {f"{name}/d": count / size for name, count in molecule.fragments.items()}
    terms |= {"donors^2/d": donors**2 / size, "donors/n": donors / n}
    return terms


def fusion_entropy_terms(molecule: Molecule) -> Terms:
    """Terms of the entropy of fusion, J/(mol K): rigid parts give little, chains give more."""
    family = _families(molecule)
    count = molecule.fragments.get
    return {
        "1": 1.0,
        "chain CH2": float(count("CH2", 0)),
        "CH3": float(count("CH3", 0)),
        "ring": float(sum(count(f, 0) for f in ("ring CH2", "ring CH", "ring C"))),
        "aromatic": float(count("aromatic CH", 0) + count("aromatic C", 0)),
        **{name: float(number) for name, number in family.items() if number},
    }


def limit_terms(molecule: Molecule) -> Terms:
    """Terms of ln(lower flammable limit / stoichiometric share)."""
    n = float(molecule.heavy_atoms)
    family = _families(molecule, LIMIT_FAMILIES)
    return {"1": 1.0, "1/n": 1.0 / n, **{f"{f}/n": c / n for f, c in family.items() if c}}


def flash_terms(molecule: Molecule, physical_flash_K: float) -> Terms:
    """Terms of (flash point - physical flash point), K: a line, and the presence of families.

    Seven families and a strong penalty: with some 400 scattered values, more terms tested worse.
    """
    family = _families(molecule, FLASH_FAMILIES)
    bonded_inside = sum(molecule.fragments.get(name, 0) for name in BONDED_INSIDE)
    family["phenol"] = max(0, family["phenol"] - bonded_inside)
    terms: Terms = {"1": 1.0, "T": physical_flash_K / FLASH_SCALE_K}
    return terms | {name: 1.0 for name, count in family.items() if count}


def dot(coefficients: Mapping[str, float], terms: Terms) -> float:
    """The sum of coefficient x term; a term that the fit never saw adds nothing."""
    return sum(coefficients.get(name, 0.0) * value for name, value in terms.items())


def vapour_curve(boiling_K: float, factor: float) -> VapourPressure:
    """The Grain curve with this factor on the entropy of vaporisation."""
    entropy = factor * (8.75 + CAL_GAS_CONSTANT * math.log(boiling_K)) / CAL_GAS_CONSTANT
    return VapourPressure(
        form="grain",
        coefficients=(boiling_K, entropy / GRAIN_DIVISOR),
        minimum_K=0.4 * boiling_K,
        maximum_K=1.15 * boiling_K,
        kind="boiling point",
        ln_uncertainty=0.0,
        sources=(),
        method="from the structure",
    )


def physical_flash_K(molecule: Molecule, boiling_K: float, factor: float) -> float:
    """Where the vapour reaches half of the stoichiometric share of the air."""
    share = FLASH_SHARE_OF_STOICHIOMETRIC * stoichiometric_share(molecule)
    return vapour_curve(boiling_K, factor).boiling_K(share * ATMOSPHERE_Pa)


def stoichiometric_share(molecule: Molecule) -> float:
    """Mole fraction in air that burns exactly; bounded for what holds its own oxygen."""
    share = stoichiometric_fraction(molecule.formula)
    return share if 0.0 < share < 0.4 else 0.4


def molar_mass_g_mol(molecule: Molecule) -> float:
    return sum(ATOMIC_WEIGHTS_g_mol[element] * n for element, n in molecule.elements.items())


def unfamiliar(molecule: Molecule, known: Mapping[str, float]) -> tuple[str, ...]:
    """The atom fragments of a molecule that the fit of a property never saw."""
    claiming = {fragment.name for fragment in fragments() if fragment.claims_atom}
    return tuple(
        name
        for name in molecule.fragments
        if name in claiming and f"{name}/d" not in known and name not in known
    )
