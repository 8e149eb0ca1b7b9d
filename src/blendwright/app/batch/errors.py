"""What can stop a batch, and what is missing for one."""

from __future__ import annotations

from importlib.util import find_spec

from blendwright.errors import BlendwrightError


class MissingBatchExtraError(BlendwrightError):
    """The packages that read and write big tables, or run on workers, aren't installed."""

    def __init__(self, package: str) -> None:
        self.package = package
        super().__init__(
            f"a batch needs {package}, which is not installed; "
            "install it with: pip install 'blendwright[batch]'"
        )


class BatchError(BlendwrightError):
    """A run that can't start or can't go on; finished parts stay where they are."""


def needs_pyarrow() -> None:
    """Raises MissingBatchExtraError where pyarrow isn't installed."""
    try:
        import pyarrow  # noqa: F401
    except ImportError as error:
        raise MissingBatchExtraError("pyarrow") from error


def has_distributed() -> bool:
    """Whether dask.distributed is installed; found without importing it, which takes a second."""
    return find_spec("distributed") is not None


def needs_distributed() -> None:
    """Raises MissingBatchExtraError where dask.distributed isn't installed."""
    try:
        import distributed  # noqa: F401
    except ImportError as error:
        raise MissingBatchExtraError("dask[distributed]") from error
