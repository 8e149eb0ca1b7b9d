"""One cell of the grid: a native input with its label, that the server can fill and read."""

from __future__ import annotations

from typing import Any

from nicegui.elements.mixins.value_element import ValueElement


class GridCell(ValueElement[str | None], component="cell.js"):
    """The value follows each keystroke; set from here, it replaces what is shown."""

    VALUE_PROP = "value"
    LOOPBACK = False

    def __init__(self, label: str) -> None:
        super().__init__(value="")
        self.props["label"] = label

    def _handle_value_change(self, value: Any) -> None:
        super()._handle_value_change(value)
        if self._send_update_on_value_change:
            self.run_method("updateValue")
