"""One cell of the grid: a native input with its label, that the server can fill and read."""

from __future__ import annotations

from typing import Any

from nicegui import events
from nicegui.elements.mixins.value_element import ValueElement

TURN = "turn"


class GridCell(ValueElement[str | None], component="cell.js"):
    """The value follows each keystroke; set from here, it replaces what is shown.

    Each setting from here counts as a turn, and what is typed says in which turn it was. So the
    two can cross on their way: text that was typed into what is replaced by now doesn't count,
    and text that is typed into the new value stays.
    """

    VALUE_PROP = "value"
    LOOPBACK = False

    def __init__(self, label: str) -> None:
        super().__init__(value="")
        self.props["label"] = label
        self.props[TURN] = 0

    def _handle_value_change(self, value: Any) -> None:
        if self._send_update_on_value_change:
            with self._props.suspend_updates():
                self._props[TURN] = self._props.get(TURN, 0) + 1
        super()._handle_value_change(value)

    def _event_args_to_value(self, e: events.GenericEventArguments) -> str | None:
        typed: str | None
        typed, turn = e.args
        return typed if turn == self._props[TURN] else self.value
