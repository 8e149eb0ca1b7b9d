"""From a dossier to the papers asked for, and from papers to the bytes of a file."""

from __future__ import annotations

import json
from collections.abc import Sequence

from blendwright.formula import formula_dict
from blendwright.report.papers.bench import bench_sheet
from blendwright.report.papers.contents import Paper, PaperSheet
from blendwright.report.papers.data_sheet import data_sheet
from blendwright.report.papers.dossier import Dossier
from blendwright.report.papers.drawings import drawings
from blendwright.report.papers.label import Label, LabelWish, label
from blendwright.report.papers.technical import technical_sheet

SCHEMA = "blendwright/report/1"
FORMATS = (".html", ".xlsx", ".md", ".json")

Made = PaperSheet | Label


def make_papers(
    dossier: Dossier,
    papers: Sequence[Paper],
    wish: LabelWish | None = None,
    *,
    with_pictures: bool = True,
) -> tuple[Made, ...]:
    """The papers, in the order asked for. Pictures need the extra `pictures`; without it the
    technical sheet says in one line that they are missing. Raises LabelError."""
    made: list[Made] = []
    for paper in papers:
        match paper:
            case "bench":
                made.append(bench_sheet(dossier))
            case "technical":
                drawn = drawings(dossier) if with_pictures else ()
                made.append(technical_sheet(dossier, drawn))
            case "data-sheet":
                made.append(data_sheet(dossier))
            case "label":
                made.append(label(dossier, wish or LabelWish()))
    return tuple(made)


def papers_bytes(made: Sequence[Made], dossier: Dossier, suffix: str) -> bytes:
    """The content of a file of that suffix: the same input, version and date make the same bytes.

    Raises ValueError for a suffix that is none of FORMATS.
    """
    match suffix.casefold():
        case ".html":
            from blendwright.report.papers.html import html_text

            return html_text(made, dossier).encode()
        case ".xlsx":
            from blendwright.report.papers.workbook import papers_workbook

            return papers_workbook(made, dossier)
        case ".md":
            from blendwright.report.papers.markdown import markdown_text

            return markdown_text(made).encode()
        case ".json":
            text = json.dumps(
                report_dict(made, dossier), ensure_ascii=False, indent=2, allow_nan=False
            )
            return (text + "\n").encode()
        case _:
            raise ValueError(f"papers are written as {', '.join(FORMATS)}, not {suffix!r}")


def report_dict(made: Sequence[Made], dossier: Dossier) -> dict[str, object]:
    """The JSON object of the schema blendwright/report/1."""
    assessment, warming = dossier.assessment, dossier.warming
    return {
        "schema": SCHEMA,
        "version": assessment.version,
        "data_version": assessment.data_version,
        "date": dossier.made_on.isoformat(),
        "lot": dossier.lot,
        "formula_sha256": dossier.formula_sha256,
        "formula": formula_dict(assessment.weighing.formula),
        "measured": {m.property: m.text for m in dossier.measured},
        "assessment": assessment.to_dict(),
        "warming": None if warming is None else warming.to_dict(),
        "papers": [paper.to_dict() for paper in made],
    }
