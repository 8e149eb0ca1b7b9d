"""A hook of the site's build: each notebook in docs/notebooks becomes a page, as executed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import nbformat
from mkdocs.structure.files import File
from nbconvert import MarkdownExporter


def on_files(files: Any, config: Any) -> Any:
    folder = Path(config["docs_dir"]) / "notebooks"
    for path in sorted(folder.glob("*.ipynb")):
        notebook = nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]
        resources = {"unique_key": path.stem, "output_files_dir": path.stem}
        text, made = MarkdownExporter().from_notebook_node(notebook, resources=resources)
        files.append(File.generated(config, f"notebooks/{path.stem}.md", content=text))
        for name, data in made["outputs"].items():
            files.append(File.generated(config, f"notebooks/{name}", content=data))
    return files
