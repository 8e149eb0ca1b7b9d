"""What can be wrong with the installation that pictures need."""

from __future__ import annotations

from blendwright.errors import BlendwrightError


class MissingPicturesExtraError(BlendwrightError):
    """The package that draws isn't installed."""

    def __init__(self, package: str) -> None:
        self.package = package
        super().__init__(
            f"a picture needs {package}, which is not installed; "
            "install it with: pip install 'blendwright[pictures]'"
        )
