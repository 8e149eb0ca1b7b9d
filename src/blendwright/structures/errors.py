"""What can be wrong with a structure that a person typed, or with the installation."""

from __future__ import annotations

from blendwright.errors import BlendwrightError


class MissingExtraError(BlendwrightError):
    """The packages that read structures aren't installed."""

    def __init__(self, package: str) -> None:
        self.package = package
        super().__init__(
            f"reading a structure needs {package}, which is not installed; "
            "install it with: pip install 'blendwright[structures]'"
        )


class StructureError(BlendwrightError):
    """A structure that can't be read, or that the estimates don't cover."""

    def __init__(self, smiles: str, why: str) -> None:
        self.smiles = smiles
        self.why = why
        super().__init__(f"structure {smiles!r}: {why}")
