"""The form of the vehicle: what its cabin adds to the sound, estimated from its size or measured and uploaded."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import streamlit as st

from engine.acoustics.cabin import MeasuredCabin, gain_db
from engine.formats.listening import table_of
from engine.formats.measurement import parse_cabin
from engine.judged import FREQUENCY
from explorer import frame, panels
from explorer.chart_words import gain_in_words
from explorer.charts import cabin_gain
from explorer.document import get, put
from explorer.inputs import Form
from explorer.labels import sentence
from explorer.markdown import plain
from explorer.reading import cabin_of
from explorer.session import Job
from explorer.specs import spec_of
from explorer.take_away import of_spec, take_away
from explorer.uploads import LARGEST, say_why_not, taken

CABIN = ("cabin",)
TABLE = (*CABIN, "table")
WHY_NOT = "why-not-taken"
IMPLAUSIBLE = 40.0  # dB; 12 dB per octave from 100 Hz down to 10 Hz


def vehicle(form: Form) -> None:
    st.markdown(
        "A closed cabin is a small room: below its first standing wave the bass grows louder in it than in the open. "
        "Stated here, every design is shown in the vehicle as well, and f3 and output in the vehicle can be goals."
    )
    stated = get(form.job.document, CABIN)
    measured = isinstance(stated, dict) and ("table" in stated or "file" in stated)
    left, right = st.columns([5, 4], gap="large")
    with left:
        if measured:
            transfer_function(form)
        else:
            st.markdown("**Estimated from its size**")
            form.fields("cabin", ("largest_dimension", "leak"), CABIN)
            st.caption(
                "An estimate: real cabins differ from it by several dB, and their standing waves are not in it. "
                "Measured is better."
            )
        form.faults(CABIN)
        if stated is not None:
            st.button("Leave the vehicle out", key="remove-cabin", type="tertiary", on_click=forget, args=(form.job,))
        upload(form.job, replaces=measured)
    with right:
        gain(form.job)
    st.caption(
        "Mean output in the vehicle is the mean in the open plus the same for every design: as a goal it trades "
        "nothing else off, it only shows the figure. f3 in the vehicle is another matter."
    )
    panels.caution(panels.HEARING)


def transfer_function(form: Form) -> None:
    """A measured gain: how many points from where to where, and what is added to them."""
    st.markdown("**Measured transfer function**")
    points = form.listed(TABLE)
    if points:
        low, high = points[0], points[-1]
        ends = f"{low[0]} to {high[0]}" if isinstance(low, list) and isinstance(high, list) and low and high else ""
        st.markdown(plain(f"{len(points)} points {ends}".strip()))
    form.field("cabin", "offset", CABIN)
    st.caption(
        "Levels must be over the same box in the open at 1 m; where the microphone was set otherwise, add "
        "the difference."
    )


def upload(job: Job, *, replaces: bool) -> None:
    """Take a measured transfer function from a file, or say line by line what is wrong with it."""
    st.markdown("**Another measurement**" if replaces else "**Or measured in the vehicle**")
    key = f"cabin-file:{job.id}"
    st.file_uploader(
        "A CSV file of frequency in Hz and level in dB",
        type=["csv", "txt"],
        key=key,
        max_upload_size=LARGEST,
        on_change=take_upload,
        args=(job, key),
        help="Two columns a row, with a comma, semicolon or tab between them; lines that start with # are passed over. "
        "A further column, such as a phase, is not read.",
    )
    say_why_not(WHY_NOT)


def take_upload(job: Job, key: str) -> None:
    """Put an uploaded transfer function into the job, in place of whatever it says of the cabin."""
    found = taken(key, WHY_NOT, job.units, lambda data, name: parse_cabin(data.decode("utf-8-sig"), source=name))
    if found is not None:
        job.document = put(job.document, CABIN, {"table": table_of(found[1])})
        job.revision += 1


def forget(job: Job) -> None:
    job.document = put(job.document, CABIN, None)
    job.revision += 1


def gain(job: Job) -> None:
    """The cabin's gain over frequency, as soon as it can be read."""
    cabin = cabin_of(job.document)
    if cabin is None:
        return
    measured = isinstance(cabin, MeasuredCabin)
    st.markdown(f"**What the vehicle adds** – {'measured' if measured else 'estimate'}")
    points: dict[str, Any] = {}
    if isinstance(cabin, MeasuredCabin):
        inside = (cabin.frequency >= FREQUENCY[0]) & (cabin.frequency <= FREQUENCY[-1])
        points = {"points": (cabin.frequency[inside], cabin.level_db[inside])}
    paper, _ = frame.ink()
    gains = np.asarray(gain_db(cabin, FREQUENCY))
    if measured and (most := float(np.max(gains))) > IMPLAUSIBLE:
        st.warning(
            f"No cabin adds {most:.0f} dB: these look like levels in the vehicle, not like what it adds. Take off the "
            "level of the same box in the open at 1 m, here with a negative figure under “Add to the measured level” "
            "if that level is the same at all frequencies."
        )
    chart = cabin_gain(FREQUENCY, gains, ink=paper, **points)
    spec = spec_of(chart)
    words = gain_in_words(FREQUENCY, gains, job.units, "measured" if measured else "estimate")
    st.vega_lite_chart(spec, width="stretch", key="cabin-gain", alt=words)
    take_away([of_spec("What the vehicle adds", spec, paper)], key="cabin-gain")
    if isinstance(cabin, MeasuredCabin):
        band = (math.floor(FREQUENCY[0]), math.ceil(FREQUENCY[-1]))
        if held := cabin.held_within(band):
            st.caption(sentence(held))
