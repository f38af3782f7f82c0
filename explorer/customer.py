"""The customer's sheet on the page Shortlist: what the shop adds to it, and the sheet to take along."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from functools import lru_cache, partial

import streamlit as st

from engine.errors import InputFaults
from engine.plain_text import cleaned
from engine.quantities import Units
from engine.report.logo import MOST_BYTES, Logo, read_logo
from engine.report.portrait import Portrait
from engine.report.sheet import MOST_BOXES, MOST_LETTERS, Sheet, Wishes, file_name, sheet_of, usual_choice
from engine.report.sheet_html import html_of
from engine.report.sheet_pdf import pdf_of
from engine.report.typeset import Paper
from engine.words.voice import listed
from explorer import frame
from explorer.markdown import plain
from explorer.memory import hold, said
from explorer.plainly import plainly
from explorer.session import Chosen, Job
from explorer.uploads import uploaded

USUAL = "the usual"
_PAPERS: dict[Paper, str] = {"a4": "PDF, A4", "letter": "PDF, Letter"}


def customer_sheet(job: Job, shown: Sequence[tuple[Chosen, Portrait]]) -> None:
    """The form and the files; ``shown`` are the designs of the shortlist that can be judged."""
    st.subheader("The customer's sheet")
    boxes = on_sheet(shown)
    letters = [portrait.letter for _, portrait in boxes]
    st.markdown(
        f"Two pages in plain words to send or to print: {listed(letters)} with pictures, what speaks for each and what "
        "it gives up, loudness, price and cautions. Cut-outs and braces are not on it."
    )
    if len(shown) > len(boxes):
        st.caption(f"It holds {MOST_BOXES} boxes: the one you recommend and the first of the others.")
    left, right = st.columns(2)
    with left:
        for name, label in (("shop", "Shop"), ("customer", "Customer")):
            _text(job, name, f"{label} (optional)")
        _note(job)
    with right:
        _recommended(job, shown)
        for chosen, portrait in boxes:
            _price(job, chosen, portrait.letter)
        _logo(job)
    _files(job, boxes)


def on_sheet(shown: Sequence[tuple[Chosen, Portrait]]) -> list[tuple[Chosen, Portrait]]:
    """The recommended design and the first others, as many as a sheet holds, in the order of the shortlist."""
    first = next((number for number, (chosen, _) in enumerate(shown) if chosen.recommended), 0)
    order = sorted(range(len(shown)), key=lambda number: (number != first, number))[:MOST_BOXES]
    return [shown[number] for number in sorted(order)]


def _text(job: Job, name: str, label: str) -> None:
    key = f"{name}:{job.id}"
    stated = hold(key, getattr(job, name))
    st.text_input(label, stated, key=key, max_chars=MOST_LETTERS[name], on_change=_take, args=(job, name, key))


def _note(job: Job) -> None:
    key = f"note:{job.id}"
    st.text_area(
        "Your note (optional)",
        hold(key, job.note),
        key=key,
        max_chars=MOST_LETTERS["note"],
        height=110,
        on_change=_take,
        args=(job, "note", key),
    )


def _recommended(job: Job, shown: Sequence[tuple[Chosen, Portrait]]) -> None:
    key = f"recommended:{job.id}"
    letters = {portrait.letter: chosen for chosen, portrait in shown}
    usual = shown[usual_choice([portrait for _, portrait in shown[:MOST_BOXES]])][1].letter
    names = [USUAL, *letters]
    st.selectbox(
        "You recommend",
        names,
        names.index(hold(key, next((letter for letter, chosen in letters.items() if chosen.recommended), USUAL))),
        format_func=lambda each: f"The all-rounder: box {usual}" if each == USUAL else f"Box {each}",
        key=key,
        on_change=_recommend,
        args=(job, letters, key),
    )


def _price(job: Job, chosen: Chosen, letter: str) -> None:
    key = f"price:{letter}:{job.id}"
    st.text_input(
        f"Price of {letter} (optional)",
        hold(key, chosen.price),
        key=key,
        max_chars=MOST_LETTERS["price"],
        placeholder="as the customer is to read it, such as 890 EUR fitted",
        on_change=_ask,
        args=(job, chosen, key),
    )


def _logo(job: Job) -> None:
    key = f"logo:{job.id}"
    st.file_uploader(
        "Logo (optional)",
        type=["png", "svg"],
        key=key,
        max_upload_size=max(MOST_BYTES // 1_000_000, 1),
        on_change=_take_logo,
        args=(job, key),
    )
    if (kept := _kept(job.logo)) is not None:
        with st.container(horizontal=True, vertical_alignment="center"):
            st.image(kept.png, width=140, alt="The shop's logo")
            st.button("Remove the logo", key=f"no-logo:{job.id}", type="tertiary", on_click=_drop_logo, args=(job,))


def _files(job: Job, boxes: Sequence[tuple[Chosen, Portrait]]) -> None:
    chosen = next((portrait.letter for each, portrait in boxes if each.recommended), "")
    prices = tuple((portrait.letter, each.price) for each, portrait in boxes if each.price.strip())
    portraits, units = tuple(portrait for _, portrait in boxes), job.units
    now = frame.reading().scenario
    tolerance = None if now is None else tuple(now.tolerance.items())

    def sheet() -> Sheet:
        # As the job is when it is asked for: a name typed just before may not have been drawn yet.
        words = (job.title, job.shop, job.customer, job.note, job.logo, chosen, prices)
        return _sheet(portraits, words, units, datetime.now().astimezone().date(), tolerance)

    def printed(paper: Paper) -> bytes:
        return pdf_of(sheet(), paper)

    makers: dict[str, tuple[str, str, Callable[[], bytes | str]]] = {
        label: ("pdf", "application/pdf", partial(printed, paper)) for paper, label in _PAPERS.items()
    }
    makers["Web page"] = ("html", "text/html", lambda: html_of(sheet()))
    with st.container(horizontal=True):
        for number, (label, (ending, mime, make)) in enumerate(makers.items()):
            st.download_button(
                label,
                make,
                file_name=file_name(job.title, job.customer, ending),
                mime=mime,
                key=f"sheet:{number}",
                type="primary" if number == 0 else "secondary",
                icon=":material/download:",
                on_click="ignore",
            )
    st.caption("It takes a few seconds: how far built boxes differ is worked out for it.")


@lru_cache(maxsize=8)
def _sheet(
    portraits: tuple[Portrait, ...],
    words: tuple[str, str, str, str, str, str, tuple[tuple[str, str], ...]],
    units: Units,
    written: date,
    tolerance: tuple[tuple[str, float], ...] | None,
) -> Sheet:
    title, shop, customer, note, logo, recommended, prices = words
    wishes = Wishes(
        shop=shop, customer=customer, note=note, logo=_kept(logo), recommended=recommended, prices=dict(prices)
    )
    known: Mapping[str, float] | None = None if tolerance is None else dict(tolerance)
    return sheet_of(portraits, title=title, wishes=wishes, units=units, written=written, tolerance=known)


def _kept(logo: str) -> Logo | None:
    """The job's logo; None where what is stored is none."""
    try:
        return read_logo(base64.b64decode(logo), name="logo") if logo else None
    except (InputFaults, ValueError):
        return None


def _take(job: Job, name: str, key: str) -> None:
    setattr(job, name, cleaned(said(key), lines=name == "note", most=MOST_LETTERS[name]))


def _ask(job: Job, chosen: Chosen, key: str) -> None:
    _change(job, chosen, price=cleaned(said(key), most=MOST_LETTERS["price"]))


def _recommend(job: Job, letters: Mapping[str, Chosen], key: str) -> None:
    wanted = letters.get(said(key))
    job.shortlist = [replace(each, recommended=each == wanted) for each in job.shortlist]


def _change(job: Job, chosen: Chosen, *, price: str) -> None:
    job.shortlist = [replace(each, price=price) if each == chosen else each for each in job.shortlist]


def _take_logo(job: Job, key: str) -> None:
    """Keep what was chosen, read and checked; a file that is no logo leaves the one before."""
    file = uploaded(key)
    if file is None:
        return
    try:
        logo = read_logo(file.getvalue(), name=file.name)
    except InputFaults as error:
        frame.notice(f"{plain(file.name)}: {plain('; '.join(plainly(fault, job.units) for fault in error.faults))}")
        return
    job.logo = base64.b64encode(logo.png).decode("ascii")
    if logo.without:
        frame.notice(
            f"{plain(file.name)}: drawn without {plain(listed(logo.without))}. If something is missing, use a PNG."
        )


def _drop_logo(job: Job) -> None:
    job.logo = ""
