"""Files that somebody uploads on a page, each given once; of figures, what is wrong with them, line by line."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import streamlit as st

from engine.document import LARGEST_FILE
from engine.errors import BLANK, Fault, InputFaults
from engine.plain_text import cleaned
from engine.quantities import Units
from engine.words.voice import first_up
from explorer.labels import sentence
from explorer.markdown import plain
from explorer.memory import memory, said
from explorer.plainly import FormVoice

LARGEST = LARGEST_FILE // 1_000_000  # MB
Held = TypeVar("Held")


def uploaded(key: str) -> Any:
    """The file that was put into a widget, for its callback; None where there is none, or it was given before.

    The browser may report a file again as its widget goes from the page.
    """
    file, last = said(key), f"{key}:uploaded"
    if file is not None and memory().get(last) == file.file_id:
        return None
    memory()[last] = None if file is None else file.file_id
    return file


def taken(key: str, why_not: str, units: Units, parse: Callable[[bytes, str], Held]) -> tuple[str, Held] | None:
    """Name and contents of the file uploaded under a widget's ``key``, as ``parse`` makes them of its bytes and name.

    None where there is none, or where it is wrong: the session then has the reasons under ``why_not``.
    """
    file = uploaded(key)
    if file is not None or said(key) is None:
        memory()[why_not] = []
    if file is None:
        return None
    data = file.getvalue()
    if len(data) > LARGEST_FILE:
        memory()[why_not] = [f"{plain(file.name)} is larger than {LARGEST} MB"]
        return None
    try:
        return cleaned(file.name), parse(data, cleaned(file.name))
    except UnicodeDecodeError:
        memory()[why_not] = [f"{plain(file.name)} is not text in UTF-8: save it as plain text"]
    except InputFaults as error:
        memory()[why_not] = wrong_in_words(error.faults, units)
    return None


def say_why_not(why_not: str) -> None:
    """Show the reasons why a file was not taken, where there are any."""
    if lines := memory().get(why_not, []):
        st.error("The file was not taken:\n" + "\n".join(f"- {line}" for line in lines))


def wrong_in_words(faults: Sequence[Fault], units: Units) -> list[str]:
    """Each fault of a file of figures as Markdown: where it stands, what is there, what should be."""
    return [_in_words(fault, FormVoice(units)) for fault in faults]


def _in_words(fault: Fault, voice: FormVoice) -> str:
    place, found, wrong = fault.key, fault.found(voice), fault.wrong(voice)
    if not place:
        return plain(sentence(f"The file {wrong}"))
    there = f" – “{plain(found)}”" if found not in ("", BLANK) else ""
    return f"**{plain(first_up(place))}**{there}: {plain(wrong)}"
