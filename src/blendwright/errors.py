"""The one family of errors that a person at the balance may see."""

from __future__ import annotations

from dataclasses import dataclass


class BlendwrightError(Exception):
    """Something the person can mend; the text says what is wrong, where, and what to do."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong with the input: what, and where (row 1 is the file's first line).

    `column` is our name of the column, `heading` what the file calls it; `instead` are texts of
    which one is right in its place.
    """

    message: str
    row: int | None = None
    column: str | None = None
    heading: str = ""
    instead: tuple[str, ...] = ()

    def __str__(self) -> str:
        place = [f"row {self.row}"] if self.row is not None else []
        if self.heading or self.column is not None:
            place.append(f"column {self.heading or self.column}")
        return f"{', '.join(place)}: {self.message}" if place else self.message


class FormulaError(BlendwrightError):
    """A formula that can't be used; carries every problem found, not just the first.

    `unchecked` are the (material, row) pairs of a file whose cells could not all be read: their
    names were not looked up yet.
    """

    def __init__(
        self,
        source: str,
        problems: list[Problem],
        unchecked: tuple[tuple[str, int | None], ...] = (),
    ) -> None:
        self.source = source
        self.problems = tuple(sorted(problems, key=lambda problem: problem.row or 0))
        self.unchecked = unchecked
        super().__init__("\n".join(f"{source}: {problem}" for problem in self.problems))


class UnknownMaterialError(BlendwrightError):
    """No material goes by this name; `suggestions` are near ones. `why` says what is wrong."""

    def __init__(self, name: str, suggestions: tuple[str, ...] = (), why: str = "") -> None:
        self.name = name
        self.suggestions = suggestions
        reason = f": {why}" if why else ""
        near = f"; the closest names are {', '.join(suggestions)}" if suggestions else ""
        super().__init__(f"unknown material {name!r}{reason}{near}")


class OutsideScopeError(UnknownMaterialError):
    """A substance of a class that nothing here can calculate: an emulsifier, a salt, a sugar."""

    def __init__(self, name: str, what: str, why: str) -> None:
        self.name = name
        self.suggestions = ()
        BlendwrightError.__init__(
            self,
            f"{name!r} is {what}: {why}. Leave it out, and the answers hold for the blend without "
            "it; or enter it among your own materials as a base with a density and a flash point",
        )


class AmbiguousMaterialError(BlendwrightError):
    """The name fits several materials; `choices` lists them."""

    def __init__(self, name: str, choices: tuple[str, ...]) -> None:
        self.name = name
        self.choices = choices
        super().__init__(
            f"{name!r} can mean several materials; write one of: {', '.join(choices)}"
            if len(choices) > 1
            else f"{name!r} doesn't say which kind; write {choices[0]!r} if that is the one"
        )


class StructureError(BlendwrightError):
    """A structure that can't be read, or that the estimates don't cover."""

    def __init__(self, smiles: str, why: str) -> None:
        self.smiles = smiles
        self.why = why
        super().__init__(f"structure {smiles!r}: {why}")


class CatalogueError(BlendwrightError):
    """A catalogue file that can't be read or contradicts itself."""


class NotConvergedError(BlendwrightError):
    """A search by repetition ended before it settled; what it was looking for is then unknown."""

    def __init__(self, what: str) -> None:
        super().__init__(f"the calculation of its {what} did not converge")


class MissingGroupPairError(BlendwrightError):
    """A parameter set lacks an interaction that this blend needs. It is refused, never zeroed."""

    def __init__(self, parameter_set: str, pairs: tuple[str, ...]) -> None:
        self.parameter_set = parameter_set
        self.pairs = pairs
        super().__init__(f"{parameter_set} has no parameters for {', '.join(pairs)}")
