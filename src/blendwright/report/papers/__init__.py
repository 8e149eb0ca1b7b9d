"""Papers of one formula: bench sheet, technical sheet, data sheet, label.

`dossier.gather` computes what they are made from; `make_papers` turns it into sheets of tables and
sentences (`contents`), and `papers_bytes` writes those as HTML, XLSX, Markdown or JSON.
No number is made here.
"""

from blendwright.report.papers.contents import PAPERS, Paper, PaperSheet
from blendwright.report.papers.label import Label, LabelError, LabelWish
from blendwright.report.papers.making import FORMATS, make_papers, papers_bytes

__all__ = [
    "FORMATS",
    "PAPERS",
    "Label",
    "LabelError",
    "LabelWish",
    "Paper",
    "PaperSheet",
    "make_papers",
    "papers_bytes",
]
