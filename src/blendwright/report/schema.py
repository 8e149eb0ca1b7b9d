"""The JSON Schema of an assessment, as it ships in the package."""

from __future__ import annotations

from importlib.resources import files


def schema_text() -> str:
    """The schema file, as text."""
    return (files("blendwright.report") / "assessment.schema.json").read_text(encoding="utf-8")
