"""The pictures of a technical sheet, drawn by `report.pictures` where the extra is there."""

from __future__ import annotations

from blendwright.report.papers.contents import Picture, Sentence, Sentences
from blendwright.report.papers.dossier import Dossier
from blendwright.report.pictures import (
    MissingPicturesExtraError,
    picture_bytes,
    shares,
    temperature_bar,
)
from blendwright.report.thermometer import thermometer_of

TEMPERATURES_TITLE = "On the thermometer"
SHARES_TITLE = "What makes the vapour, what makes it flash"

Drawing = Picture | Sentences


def drawings(dossier: Dossier) -> tuple[Drawing, ...]:
    """Temperature bar and shares by row, or one sentence that says why there are none."""
    try:
        return (_temperatures(dossier), _shares(dossier))
    except MissingPicturesExtraError as error:
        return (Sentences("pictures", "", (Sentence(f"No pictures: {error}."),)),)


def _temperatures(dossier: Dossier) -> Picture:
    scale = thermometer_of(dossier.assessment)
    words = ", ".join(mark.words for mark in scale.marks)
    figure = temperature_bar(scale, TEMPERATURES_TITLE)
    return Picture("temperatures", f"{TEMPERATURES_TITLE}: {words}", picture_bytes(figure, "svg"))


def _shares(dossier: Dossier) -> Picture:
    figure = shares(dossier.assessment.contributions, SHARES_TITLE)
    words = "Each row's share of the vapour and of what makes it flash, as in the table of rows"
    return Picture("shares", words, picture_bytes(figure, "svg"))
