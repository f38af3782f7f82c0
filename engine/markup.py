"""Text in XML, SVG and HTML: the one place where it is kept from being markup."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import escape

_NOT_IN_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_UNSEEN = re.compile("[\x7f-\x9f\u202a-\u202e\u2066-\u2069]")  # controls, and what turns the direction of writing
_TAG = re.compile("<[^>]*>")


def in_markup(words: str) -> str:
    r"""Any text as the content of an element or attribute; what cannot stand in a document becomes a question mark.

    >>> in_markup("<b> & '\x00")
    '&lt;b&gt; &amp; &#x27;?'
    """
    return escape(_UNSEEN.sub("?", _NOT_IN_XML.sub("?", words)))


def in_tags(markup: str, change: Callable[[str], str]) -> str:
    """Markup with each of its tags changed, and no word between them."""
    return _TAG.sub(lambda tag: change(tag[0]), markup)
