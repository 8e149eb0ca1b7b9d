"""The pictures of a technical sheet, drawn by `report.pictures` where the extra is there."""

from __future__ import annotations

from blendwright.report.papers.contents import Picture, Sentence, Sentences, in_words
from blendwright.report.papers.dossier import Dossier
from blendwright.report.pictures import (
    MissingPicturesExtraError,
    picture_bytes,
    shares,
    temperature_bar,
)
from blendwright.report.pictures.of_assessment import bar_of

TEMPERATURES_TITLE = "On the thermometer"
SHARES_TITLE = "Who makes the vapour, who makes it flash"

Drawing = Picture | Sentences


def drawings(dossier: Dossier) -> tuple[Drawing, ...]:
    """Temperature bar and shares by row, or one sentence that says why there are none."""
    try:
        return (_temperatures(dossier), _shares(dossier))
    except MissingPicturesExtraError as error:
        return (Sentences("pictures", "", (Sentence(f"No pictures: {error}."),)),)


def _temperatures(dossier: Dossier) -> Picture:
    estimates = dossier.assessment.estimates
    words = ", ".join(
        f"{name} {in_words(estimates[key])}"
        for name, key in (
            ("fully dissolved above", "dissolution_temperature"),
            ("clouds below", "cloud_temperature"),
            ("flash point", "flash_point_closed_cup"),
        )
    )
    figure = temperature_bar(bar_of(dossier.assessment, TEMPERATURES_TITLE))
    return Picture("temperatures", f"{TEMPERATURES_TITLE}: {words}", picture_bytes(figure, "svg"))


def _shares(dossier: Dossier) -> Picture:
    figure = shares(dossier.assessment.contributions, SHARES_TITLE)
    words = "Each row's share of the vapour and of what makes it flash, as in the table of rows"
    return Picture("shares", words, picture_bytes(figure, "svg"))
