"""The pictures of a technical sheet, drawn by `report.pictures` where the extra is there."""

from __future__ import annotations

from blendwright.report.papers.contents import Picture, Sentence, Sentences, in_words
from blendwright.report.papers.dossier import Dossier
from blendwright.report.pictures import (
    MissingPicturesExtraError,
    TemperatureBar,
    picture_bytes,
    shares,
    temperature_bar,
)

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
            ("last crystals go at", "dissolution_temperature_C"),
            ("clouds below", "cloud_temperature_C"),
            ("flash point", "flash_point_closed_cup_C"),
        )
    )
    figure = temperature_bar(_bar(dossier))
    return Picture("temperatures", f"{TEMPERATURES_TITLE}: {words}", picture_bytes(figure, "svg"))


def _bar(dossier: Dossier) -> TemperatureBar:
    """The assessment's numbers and its window."""
    assessment = dossier.assessment
    crystals = assessment.estimates["dissolution_temperature_C"]
    flash = assessment.estimates["flash_point_closed_cup_C"]
    found = assessment.warming
    span = None
    if found.dissolution.high is not None and found.highest_K is not None:
        span = (found.dissolution.high - 273.15, found.highest_K - 273.15)
    return TemperatureBar(
        assessment.temperature_K - 273.15,
        crystals,
        assessment.estimates["cloud_temperature_C"],
        flash,
        span,
        TEMPERATURES_TITLE,
    )


def _shares(dossier: Dossier) -> Picture:
    figure = shares(dossier.assessment.contributions, SHARES_TITLE)
    words = "Each row's share of the vapour and of what makes it flash, as in the table of rows"
    return Picture("shares", words, picture_bytes(figure, "svg"))
