"""Finds every command that the README and the docs show, and prepares a folder to run it in.

Fenced `sh` and `console` blocks: lines that begin with `blendwright`, with or without a `$`.
In the README also the table's inline code. `FILE` stands for the example formula. A block marked
`<!-- not run: reason -->` on the line above it is left out.
"""

from __future__ import annotations

import re
import shlex
import shutil
from dataclasses import dataclass
from pathlib import Path

from blendwright.app.cli.examples import EXAMPLES, FORMULA

ROOT = Path(__file__).parent.parent
BLOCK = re.compile(
    r"(?P<mark><!-- not run: (?P<reason>[^>]+) -->\n)?^```(?:sh|console|bash)\n(?P<body>.*?)^```",
    re.MULTILINE | re.DOTALL,
)
FILE_BLOCK = re.compile(r"<!-- file: (\S+) -->\n```csv\n(.*?)```", re.DOTALL)
INLINE = re.compile(r"`(blendwright [^`]+)`")
COMMENT = re.compile(r"\s+#\s.*$")
# the person's own materials that the pages call mine.csv
MINE = (
    "material,property,value,unit,uncertainty,source,lot,note\n"
    "ethyl butyrate,flash_point,26,°C,1,supplier's sheet (invented),A17,\n"
)
# a small library for `batch`
LIBRARY = (
    "formula,material,grams\n"
    "one,ethyl butyrate,1\none,propylene glycol,9\n"
    "two,ethyl acetate,1\ntwo,triacetin,9\n"
)
# inline or generated commands that aren't run here, and why
NOT_RUN = {
    f"carriers {FORMULA} --map triacetin + ethanol --plot map.png": (
        "a minute; tests/advice/test_carrier_map.py draws one"
    ),
    f"serve {FORMULA} --no-browser": "runs until it is stopped; the page's own tests start it",
    "serve": "runs until it is stopped; the page's own tests start it",
}


@dataclass(frozen=True)
class Shown:
    """One command as words without `blendwright`, and the first page that shows it."""

    words: tuple[str, ...]
    page: str

    @property
    def text(self) -> str:
        return " ".join(self.words)


def pages() -> list[Path]:
    return [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


def left_out() -> list[tuple[str, str]]:
    """(page, reason) of each block that is marked as not run."""
    return [
        (page.name, found["reason"])
        for page in pages()
        for found in BLOCK.finditer(page.read_text(encoding="utf-8"))
        if found["mark"]
    ]


def shown() -> list[Shown]:
    """Every command to run, each once."""
    found: dict[tuple[str, ...], str] = {}
    for page in pages():
        text = page.read_text(encoding="utf-8")
        lines = [
            line.removeprefix("$ ").strip()
            for block in BLOCK.finditer(text)
            if not block["mark"]
            for line in block["body"].replace("\\\n", " ").splitlines()
        ]
        if page.name == "README.md":
            lines += [
                code
                for row in text.splitlines()
                if row.startswith("|")
                for code in INLINE.findall(row)
            ]
        for line in lines:
            if line.startswith("blendwright "):
                words = tuple(shlex.split(COMMENT.sub("", line).replace("FILE", FORMULA))[1:])
                found.setdefault(words, page.name)
    for lines_of_help in EXAMPLES.values():
        for line in lines_of_help:
            found.setdefault(tuple(shlex.split(line)), "--help")
    return [Shown(words, page) for words, page in found.items() if " ".join(words) not in NOT_RUN]


def prepare(folder: Path) -> None:
    """Copies of the examples, and the files that the pages tell to write."""
    for example in (ROOT / "examples").glob("*.csv"):
        shutil.copy(example, folder)
    (folder / "examples").mkdir()
    shutil.copy(ROOT / "examples" / FORMULA, folder / "examples")
    (folder / "mine.csv").write_text(MINE, encoding="utf-8")
    (folder / "library.csv").write_text(LIBRARY, encoding="utf-8")
    for page in pages():
        for name, text in FILE_BLOCK.findall(page.read_text(encoding="utf-8")):
            (folder / name).write_text(text, encoding="utf-8")
