"""What several papers share: the strip of facts and the last line."""

from __future__ import annotations

from blendwright.estimate import to_celsius
from blendwright.report.papers.contents import HASH_SHOWN, Cell, Sentences, finding_sentences
from blendwright.report.papers.dossier import Dossier
from blendwright.report.terminal import number
from blendwright.verdict.as_read import as_read


def facts_of(dossier: Dossier) -> tuple[tuple[str, Cell], ...]:
    """Date, lot and conditions."""
    assessment = dossier.assessment
    here_C, pressure_kPa = to_celsius(assessment.temperature_K), assessment.pressure_Pa / 1e3
    lot = (("lot", Cell(dossier.lot)),) if dossier.lot else ()
    return (
        ("at", Cell(f"{number(here_C, '°C')} °C, {pressure_kPa:.1f} kPa", here_C)),
        ("date", Cell(dossier.made_on.isoformat())),
        *lot,
    )


def read_of(dossier: Dossier) -> tuple[Sentences, ...]:
    """What is to be told of reading the formula, above all else; nothing where there is nothing."""
    found = as_read(dossier.assessment.weighing.formula.notices)
    return (Sentences("as read", "How the table was read", finding_sentences(found)),) * bool(found)


def foot_of(dossier: Dossier) -> str:
    """Program, data, and the beginning of the formula's hash."""
    assessment = dossier.assessment
    return (
        f"blendwright {assessment.version}, data {assessment.data_version}, formula "
        f"{dossier.formula_sha256[:HASH_SHOWN]}. Estimates, not tests."
    )
