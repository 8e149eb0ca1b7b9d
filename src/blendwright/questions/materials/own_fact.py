"""One row of the person's table of materials."""

from __future__ import annotations

from dataclasses import dataclass

from blendwright.catalogue.material import OWN


@dataclass(frozen=True)
class OwnFact:
    """What one row says, as it was written; `line` is where it stands."""

    material: str
    what: str
    value: str
    unit: str
    temperature_C: str
    uncertainty: str
    source: str
    lot: str
    date: str
    note: str
    line: int

    @property
    def provenance(self) -> str:
        """The source: "yours", with the sheet, lot and date given."""
        said = [part for part in (self.source, self.lot and f"lot {self.lot}", self.date) if part]
        return f"{OWN}: {', '.join(said)}" if said else OWN
