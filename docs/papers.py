"""Make the pictures of the docs' sample papers: their first pages, from the examples.

    python docs/papers.py

Writes docs/papers/*.png. Needs Chromium and pdftoppm.
"""

from __future__ import annotations

import subprocess
import tempfile
from datetime import date
from pathlib import Path

from blendwright import assess, read_formula
from blendwright.report.papers import LabelWish, Paper, make_papers, papers_bytes
from blendwright.report.papers.dossier import gather
from blendwright.report.papers.measured import parse_measured

ROOT = Path(__file__).parent.parent
OUT = ROOT / "docs" / "papers"
DAY = date(2026, 11, 25)
RESOLUTION_dpi = 70
SAMPLES: dict[str, tuple[str, Paper]] = {
    "bench-sheet": ("orchard-pear-cardamom", "bench"),
    "technical-sheet": ("orchard-pear-cardamom", "technical"),
    "data-sheet": ("pear-blossom-spirit", "data-sheet"),
    "labels": ("orchard-pear-cardamom", "label"),
}
MEASURED = ("colour=colourless to pale yellow", "density=0.81 g/mL")  # invented, for the sample
LABELS = LabelWish(copies=6, bottle_mL=30.0)


def sample(example: str, paper: Paper) -> bytes:
    """One paper of one example as HTML."""
    given = [parse_measured(text) for text in MEASURED] if paper == "data-sheet" else []
    assessment = assess(read_formula(ROOT / "examples" / f"{example}.csv"))
    dossier = gather(assessment, DAY, measured=given, lot="PC-014" if paper != "data-sheet" else "")
    return papers_bytes(make_papers(dossier, [paper], LABELS), dossier, ".html")


def picture(html: bytes, to: Path) -> None:
    """A PNG of the first page, as Chromium prints it on A4."""
    with tempfile.TemporaryDirectory() as folder:
        sized = Path(folder) / "paper.html"
        page_size = b"<style>@page { size: A4; }</style></head>"
        sized.write_bytes(html.replace(b"</head>", page_size))
        pdf = Path(folder) / "paper.pdf"
        options = ("--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer")
        subprocess.run(
            ["chromium", *options, f"--print-to-pdf={pdf}", sized.as_uri()],
            check=True,
            capture_output=True,
        )
        subprocess.run(
            ["pdftoppm", "-r", str(RESOLUTION_dpi), "-gray", "-png", "-singlefile", "-f", "1",
             str(pdf), str(to.with_suffix(""))],
            check=True,
        )  # fmt: skip


if __name__ == "__main__":
    OUT.mkdir(exist_ok=True)
    for name, (example, paper) in SAMPLES.items():
        picture(sample(example, paper), OUT / f"{name}.png")
