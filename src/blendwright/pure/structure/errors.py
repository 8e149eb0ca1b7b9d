"""What can be wrong with a structure that a person typed, or with the installation."""

from __future__ import annotations

from blendwright.errors import BlendwrightError, StructureError

__all__ = ["MissingExtraError", "StructureError"]


class MissingExtraError(BlendwrightError):
    """The packages that read structures aren't installed."""

    def __init__(self, package: str) -> None:
        self.package = package
        super().__init__(
            f"reading a structure needs {package}, which is not installed; "
            "install it with: pip install 'blendwright[structures]'"
        )
