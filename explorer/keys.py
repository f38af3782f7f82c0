"""Keys that hold on every page: undo and redo, wherever no field has the focus, which then has its own."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import streamlit as st

from explorer.memory import said
from explorer.packaged import packaged

_component = st.components.v2.component("wedgefront_keys", html="<span></span>", js=packaged("keys.js"))


def step_keys(key: str, on_step: Callable[[str], None]) -> None:
    """Listen to the keys; ``on_step`` is told ``undo`` or ``redo``."""
    _component(key=key, height=1, on_pressed_change=lambda: on_step(pressed(said(key))))


def pressed(state: Any) -> str:
    """What was asked for, of what Streamlit keeps under the component's key; empty where that is nothing known."""
    step = state.get("pressed") if hasattr(state, "get") else None
    return step if step in ("undo", "redo") else ""
