"""Executes docs/notebooks/*.ipynb anew and keeps them, without times or counters of this machine.

python docs/notebooks.py            under a minute
"""

from __future__ import annotations

from pathlib import Path

import nbformat
from nbconvert.preprocessors import ExecutePreprocessor

FOLDER = Path(__file__).parent / "notebooks"

if __name__ == "__main__":
    for path in sorted(FOLDER.glob("*.ipynb")):
        notebook = nbformat.read(path, as_version=4)
        runner = ExecutePreprocessor(timeout=300, record_timing=False)
        runner.preprocess(notebook, {"metadata": {"path": str(FOLDER)}})
        notebook.metadata["language_info"] = {"name": "python"}
        nbformat.write(notebook, path)
