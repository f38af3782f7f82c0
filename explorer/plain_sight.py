"""What every page has for those who see little or go by keyboard: words dark enough to read, a way past the menu.

The toolkit's own captions, hints and labels are too faint to pass a general audit, and it has no such way.
"""

from __future__ import annotations

import streamlit as st

from engine.report.ink import DARK, LIGHT
from explorer.markdown import plain
from explorer.packaged import packaged

_component = st.components.v2.component(
    "wedgefront_plain_sight",
    html="",
    js=packaged("plain_sight.js"),
)

# Where the toolkit writes in its faded ink.  Both themes are in the one style, so that it follows a change of theme.
_FAINT = (
    '[data-testid="stCaptionContainer"]',
    '[data-testid="InputInstructions"]',
    '[data-testid="stTable"] th',
    '[data-testid="stFileUploaderDropzoneInstructions"]',
)
_STYLE = f"""<style>
{", ".join(_FAINT)} {{ color: inherit !important; opacity: 0.82; }}
{", ".join(f"{place} *" for place in _FAINT)} {{ color: inherit !important; }}
/* What a button is for, see named(): heard and not seen. */
[data-testid^="stBaseButton"] strong, [data-testid="stPopoverButton"] strong {{
  position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); white-space: nowrap;
}}
input::placeholder, textarea::placeholder {{
  color: inherit !important; -webkit-text-fill-color: currentColor !important; opacity: 0.75 !important;
}}
/* It writes white on a filled button, whatever that is filled with. */
[data-testid^="stBaseButton-primary"], [data-testid^="stBaseButton-primary"] * {{
  color: light-dark({LIGHT.paper}, {DARK.paper}) !important;
}}
/* Tables are read whole: columns beside each other give way to them, and cells draw closer on a narrow page. */
[data-testid="stHorizontalBlock"]:has([data-testid="stTable"]) {{ flex-wrap: wrap; }}
[data-testid="stHorizontalBlock"]:has([data-testid="stTable"]) > [data-testid="stColumn"] {{
  min-width: min(100%, 22rem);
}}
@media (max-width: 640px) {{
  [data-testid="stTable"] :is(td, th) {{ padding: 3px 4px !important; }}
  [data-testid="stTable"] :is(td, th), [data-testid="stTable"] :is(td, th) * {{ font-size: 0.8rem !important; }}
}}
#wedgefront-skip {{
  position: fixed; left: 8px; top: -100px; z-index: 1000000; padding: 8px 14px; border-radius: 4px;
  border: 2px solid {LIGHT.text}; color: {LIGHT.text}; background: {LIGHT.paper}; font: 600 1rem system-ui, sans-serif;
}}
#wedgefront-skip:focus {{ top: 8px; }}
#wedgefront-page:focus {{ outline: none; }}
</style>"""


def named(label: str, of: str) -> str:
    """A button's label where several of one name stand on a page: what it is for is heard with it, and not seen."""
    return f"{label} **{plain(of.strip())}**"


def plain_sight() -> None:
    """Both of it; takes no room on the page."""
    st.html(_STYLE)
    _component(key="plain-sight")
