"""What a tab of the browser remembers from one run of a page to the next, what its widgets show, and what they say.

A callback that touches ``st.session_state`` gives way there to a newer run that waits already and ends with nothing
done: what was typed or clicked would be lost without a word.  Nothing in here gives way.
"""

from __future__ import annotations

from typing import Any

import streamlit as st

_MEMORY = "memory"


def memory() -> dict[str, Any]:
    """What the tab remembers besides its widgets' values, by name; to be read and written in place, also by callbacks.

    It is there from the first run on, which is before any callback.
    """
    found: dict[str, Any] | None = said(_MEMORY)
    if found is None:
        found = st.session_state[_MEMORY] = {}
    return found


def hold(key: str, value: Any) -> Any:
    """Have a widget show what the job says, also where the job was changed in another tab; gives that.

    It belongs into the widget's own default as well: a value that is set goes out with one run only, and what the
    browser has not come to when the next run follows would be drawn without it, and reported as emptied.
    """
    if key not in st.session_state or st.session_state[key] != value:
        st.session_state[key] = value
    return value


def said(key: str) -> Any:
    """What a widget says, by its key, for callbacks; None where there is none of that key."""
    return st.session_state.to_dict().get(key)
