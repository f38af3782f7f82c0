"""Jobs: begin one, go on with one that is kept, look at a demo; rename, copy, delete and put back, save and open."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from typing import Any

import streamlit as st

from engine.document import LARGEST_FILE, parse_document
from engine.errors import InputFaults
from engine.formats.scenario import demo_scenarios, read_document
from explorer import frame, guide, shelf
from explorer.document import put
from explorer.generations import NewerJobError
from explorer.job_cards import demo_pick, picture
from explorer.job_file import LARGEST_JOB_FILE, SUFFIX, file_name, is_job_file, packed, unpacked
from explorer.labels import sentence, thousands
from explorer.markdown import plain
from explorer.memory import memory, said
from explorer.plain_sight import named
from explorer.plainly import FormVoice
from explorer.session import ChangedElsewhereError, DamagedJobError, Earlier, as_document
from explorer.uploads import uploaded

ABREAST = 3
SHOWN = 12  # jobs, before the rest are asked for
ALL = "all-jobs"
JUST_DELETED = "just-deleted"  # id and title of the job that the last click deleted


def page() -> None:
    st.header("Jobs")
    begin()
    gone()
    kept()
    demos()
    put_back()


def begin() -> None:
    """A new job, or one from a file."""
    with st.container(horizontal=True, vertical_alignment="bottom", gap="medium"):
        st.button(
            "New job", key="new-job", type="primary", icon=":material/add:", on_click=new, width="content",
            help="Measure the space, type in the driver, the amplifier and the board: a few minutes",
        )  # fmt: skip
        with st.popover("Open a file", icon=":material/upload_file:", width="content"):
            st.file_uploader(
                f"A job as wedgefront saved it ({SUFFIX}), or a scenario (.toml)",
                type=[SUFFIX, "toml"],
                key="open-file",
                max_upload_size=LARGEST_JOB_FILE // 1_000_000,
                on_change=open_file,
            )
    st.caption("What you put in and find is kept on this computer as you go; there is nothing to save.")
    if frame.job_at_hand() is None:  # else it stands in the menu
        st.page_link(frame.WORDS, label="The words used here, explained", icon=":material/menu_book:")


def new() -> None:
    """Begin a guided job, in the units of the one at hand."""
    present = frame.job_at_hand()
    guide.begin("metric" if present is None else present.units)


def open_file() -> None:
    """Take up an uploaded job or scenario; what is wrong inside a scenario is shown field by field."""
    file = uploaded("open-file")
    if file is None:
        return
    data, name = file.getvalue(), str(file.name)
    if is_job_file(name):
        try:
            frame.open_up(unpacked(data, name))
        except InputFaults as error:
            not_opened(name, error)
        return
    if len(data) > LARGEST_FILE:
        frame.notice(f"{plain(name)} was not opened: it is larger than any scenario.")
        return
    try:
        document = parse_document(data.decode("utf-8-sig"), source=name)
    except UnicodeDecodeError:
        frame.notice(f"{plain(name)} was not opened: it is not a text file.")
    except InputFaults as error:
        not_opened(name, error)
    else:
        frame.take_up(document, name)


def not_opened(name: str, error: InputFaults) -> None:
    """Say why a file was not taken up."""
    fault = error.faults[0]
    wrong = sentence(f"{fault.key or 'it'} {fault.wrong(FormVoice('metric'))}")
    frame.notice(plain(f"{name} was not opened. {wrong}"))


def kept() -> None:
    """The jobs on disk, the last one worked on first."""
    store = frame.open_jobs().store
    more = memory().get(ALL, False)
    found, damaged = store.survey(most=1000 if more else SHOWN + 1)
    for place in damaged:
        st.warning(
            f"Nothing can be read of the job in {plain(str(place))}: what was saved of it is damaged on the disk. "
            "It stays as it is; if you once saved it as a file, open that."
        )
    if not found:
        st.info("No job yet. Begin a new one, or open a demo below to see how it goes.")
        return
    st.subheader("Kept")
    shown = found if more else found[:SHOWN]
    in_rows([partial(card, earlier) for earlier in shown])
    if len(found) > len(shown):
        st.button("Show all", key="show-all", on_click=show_all)


def show_all() -> None:
    memory()[ALL] = True


def in_rows(cards: Sequence[Callable[[], None]]) -> None:
    for start in range(0, len(cards), ABREAST):
        for column, draw in zip(st.columns(ABREAST), cards[start : start + ABREAST], strict=False):
            with column.container(border=True, height="stretch"):
                draw()


def card(earlier: Earlier) -> None:
    """One job: its picture, what it is called, when it was worked on, and what can be done with it."""
    job_id = earlier.id
    present = frame.job_at_hand()
    picture(earlier.document, earlier.pick, f"{earlier.title}, the space from the side")
    st.markdown(f"**{plain(earlier.title)}**")
    open_now = " · open now" if present is not None and present.id == job_id else ""
    st.caption(plain(f"{worked_on(earlier.written)} · {state_of(earlier)}{open_now}"))
    with st.container(horizontal=True, gap="xsmall"):
        label = named("Go on" if earlier.guide else "Open", earlier.title)
        st.button(label, key=f"open:{job_id}", on_click=open_kept, args=(job_id,))
        with st.popover(named("More", earlier.title), key=f"more:{job_id}", type="tertiary"):
            st.text_input(
                "Name", earlier.title, key=f"name:{job_id}:{earlier.title}", max_chars=200, on_change=rename,
                args=(job_id, f"name:{job_id}:{earlier.title}"),
            )  # fmt: skip
            st.button(
                "Duplicate", key=f"copy:{job_id}", icon=":material/content_copy:", on_click=duplicate, args=(job_id,)
            )
            st.download_button(
                "Save as a file", partial(as_file, job_id), file_name=file_name(earlier.title), mime="application/zip",
                key=f"save:{job_id}", icon=":material/download:", on_click="ignore",
                help="Inputs, front, pick, shortlist and notes in one file, to keep, send and open again",
            )  # fmt: skip
            st.button("Delete", key=f"delete:{job_id}", icon=":material/delete:", on_click=delete, args=(job_id,))


def worked_on(written: float) -> str:
    return f"{datetime.fromtimestamp(written).astimezone():%d %b %Y, %H:%M}"


def state_of(earlier: Earlier) -> str:
    """How far a job is."""
    if earlier.guide:
        return "being put in"
    return f"{thousands(earlier.designs)} designs" if earlier.designs else "not searched"


def on_disk(what: Callable[[], Any]) -> Any:
    """Do something with a job that takes the disk; where that cannot be, the user is told why, and it is None."""
    try:
        return what()
    except OSError as error:
        frame.notice(f"That was not done: {error.strerror or 'the disk refused'}. The job is as it was.")
    except DamagedJobError as damage:
        frame.notice(f"That job could not be read. Its files were put aside in {damage.kept_as}.")
    except NewerJobError:
        frame.notice(frame.OF_LATER_VERSION)
    except ChangedElsewhereError:
        frame.notice("That job was changed by another running wedgefront just now. Look at it, then do that again.")
    return None


def open_kept(job_id: str) -> None:
    frame.go_back_to(job_id)


def as_file(job_id: str) -> bytes:
    """A kept job as the bytes of its file, made when it is asked for."""
    job = frame.open_jobs().take(job_id)
    return b"" if job is None else packed(job)


def rename(job_id: str, key: str) -> None:
    name = str(said(key)).strip()
    job = on_disk(lambda: frame.open_jobs().take(job_id))
    if job is not None and name not in ("", job.title):
        job.document = put(job.document, ("title",), name)
        job.revision += 1
        on_disk(lambda: frame.open_jobs().save(job))


def duplicate(job_id: str) -> None:
    on_disk(lambda: frame.open_jobs().duplicate(job_id))


def delete(job_id: str) -> None:
    title = next((each.title for each in frame.open_jobs().store.recent(most=1000) if each.id == job_id), "")
    frame.searches().drop_all(job_id)
    frame.close(job_id)
    on_disk(lambda: frame.open_jobs().delete(job_id))
    memory()[JUST_DELETED] = (job_id, title)


def gone() -> None:
    """What the last click deleted, with a way to have it back."""
    if JUST_DELETED not in memory():
        return
    job_id, title = memory()[JUST_DELETED]
    if not any(each.id == job_id for each in shelf.deleted(frame.open_jobs().store)):
        return
    with st.container(horizontal=True, vertical_alignment="center", border=True):
        st.markdown(f":material/delete: “{plain(title)}” is deleted.", width="content")
        st.button("Undo", key="undo-delete", icon=":material/undo:", on_click=restore, args=(job_id,))


def restore(job_id: str) -> None:
    memory().pop(JUST_DELETED, None)
    if on_disk(lambda: frame.open_jobs().restore(job_id)) is None:
        frame.notice("That job is gone for good.")


def put_back() -> None:
    """Jobs that were deleted and still lie aside."""
    found = shelf.deleted(frame.open_jobs().store)
    if not found:
        return
    with st.expander(f"Deleted jobs – {len(found)}", icon=":material/restore_from_trash:"):
        st.caption(f"The last {shelf.DELETED_KEPT} stay here; older ones go for good.")
        for each in found:
            with st.container(horizontal=True, vertical_alignment="center"):
                st.markdown(plain(f"{each.title} – deleted {worked_on(each.deleted)}"), width="content")
                label = named("Put back", each.title)
                st.button(label, key=f"restore:{each.id}", type="tertiary", on_click=restore, args=(each.id,))


def demos() -> None:
    """The demo jobs, as their stored fronts begin."""
    st.subheader("Demos")
    st.caption("Invented vehicles, drivers and shops. A demo opens as a job of yours, to change as you like.")
    in_rows([partial(demo, name) for name in demo_scenarios()])


def demo(name: str) -> None:
    document = as_document(read_document(demo_scenarios()[name]))
    picture(document, demo_pick(name), f"{document['title']}, the space from the side")
    st.markdown(f"**{plain(document['title'])}**")
    st.caption(plain(str(document.get("about", ""))))
    st.button(named("Open the demo", document["title"]), key=f"demo:{name}", on_click=open_demo, args=(name,))


def open_demo(name: str) -> None:
    path = demo_scenarios()[name]
    frame.open_up(frame.of_document(as_document(read_document(path)), path.name))


page()
