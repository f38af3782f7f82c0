"""Two designs heard one against the other: a sound played through both, switched without a gap.

Playing and switching are the browser's (``hearing.js``); what it plays is worked out in :mod:`engine.hearing`.  Nothing
is worked out before somebody asks for it, and nothing plays by itself.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import streamlit as st

from engine.errors import WedgefrontError
from engine.hearing.beside import Heard, beside
from engine.hearing.sounds import SOUNDS, Sound
from engine.hearing.wav import MOST_BYTES, finer, read_wav, written
from engine.hearing.words import INDICATION, MODELLED, START_LOW, difference, level_told, limits_told
from engine.judged import JudgedDesign
from engine.kinds import KINDS
from engine.quantities import Units
from engine.report.wording import drivers
from explorer.markdown import plain
from explorer.memory import memory
from explorer.packaged import packaged

OWN = "own"
SOUND_WORDS = {
    "drum": "Drum strokes",
    "bass": "Bass line",
    "sweep": "Sweep, 18 Hz to 230 Hz",
    OWN: "A WAV file of mine",
}
LEVEL_WORDS = {True: "As loud as each other", False: "Each at its own gain"}
HARDER_WORDS = {0: "As set", 3: "3 dB harder", 6: "6 dB harder", 10: "10 dB harder"}
_FOR_THE_BROWSER = 12_000  # Hz: nothing is above 1.5 kHz, and a quarter as much is sent
_KEPT = "heard"
_WIDE, _NARROW = 420, 230  # px, of fields that stand beside each other where there is room


_component = st.components.v2.component(
    "wedgefront_hearing",
    html='<div class="hearing"></div>',
    css=packaged("hearing.css"),
    js=packaged("hearing.js"),
)


@dataclass(frozen=True, eq=False)
class _Made:
    """What was last worked out, and of what."""

    designs: tuple[JudgedDesign, ...]
    asked: tuple[Any, ...]
    heard: tuple[Heard, ...]
    digest: str
    sounds: tuple[str, ...]


def hear(designs: Mapping[str, JudgedDesign], *, units: Units, key: str) -> None:
    """The part of a page in which two of some ``designs``, by the letters they bear, are heard.

    ``key`` tells it from others, such as the job's id.
    """
    st.subheader("Hear the difference")
    if len(designs) < 2:
        st.markdown("Add a second design to hear one against the other.")
        return
    letters = _pair(designs, key)
    sound_name, alike, harder = _asked(key)
    data = _own_file(key) if sound_name == OWN else None
    if sound_name == OWN and data is None:
        return
    st.caption(f":material/warning: {START_LOW}")
    wants = f"hear:{key}"
    if not memory().get(wants):
        st.button("Make the sounds", key=f"{wants}:make", icon=":material/headphones:", on_click=_want, args=(wants,))
        st.caption("That takes a second or two. Nothing plays before you press Play.")
        return
    two = tuple(designs[letter] for letter in letters)
    try:
        sound = SOUNDS[sound_name]() if data is None else read_wav(data[1], source=data[0])
        with st.spinner("Playing the sound through both boxes"):
            made = _made(two, sound, (letters, sound_name, data and data[0], alike, harder))
    except WedgefrontError as error:
        st.error(plain(str(error)))
        return
    _component(
        key="hearing:" + key.replace("_", "."),  # a component takes no two underscores in a row
        data={
            "names": list(letters),
            "described": [described(letter, design) for letter, design in zip(letters, two, strict=True)],
            "sounds": list(made.sounds),
            "digest": made.digest,
        },
    )
    st.markdown(f"**{difference(letters, made.heard)}**")
    lines = [
        f"- **{letter}**: {level_told(each)}. {limits_told(each, units)}"
        for letter, each in zip(letters, made.heard, strict=True)
    ]
    st.markdown("\n".join(lines))
    st.caption(f"{INDICATION} {MODELLED}")
    _to_take_away(letters, made.heard, sound_name, key)


def described(letter: str, design: JudgedDesign) -> str:
    """A design in a few words for somebody who does not see it: "A, vented box, 1 × shallow 10"."""
    return f"{letter}, {KINDS[design.row['box_kind']].label.lower()}, {drivers(design.row)}"


def _pair(designs: Mapping[str, JudgedDesign], key: str) -> tuple[str, str]:
    """Which two: the only two there are, or those that are chosen."""
    letters = list(designs)
    if len(letters) == 2:
        return letters[0], letters[1]
    row = st.container(horizontal=True)

    def words(letter: str) -> str:
        return described(letter, designs[letter])

    first = row.selectbox("Hear", letters, format_func=words, key=f"hear-first:{key}", width=_WIDE)
    others = [letter for letter in letters if letter != first]
    second = row.selectbox("against", others, format_func=words, key=f"hear-second:{key}", width=_WIDE)
    return first or letters[0], second or others[0]


def _asked(key: str) -> tuple[str, bool, int]:
    """Which sound, how loud one is beside the other, and how hard they are driven."""
    row = st.container(horizontal=True)
    sound = row.selectbox(
        "Sound", list(SOUND_WORDS), format_func=SOUND_WORDS.__getitem__, key=f"hear-sound:{key}", width=_NARROW
    )
    alike = row.selectbox(
        "Compared", list(LEVEL_WORDS), format_func=LEVEL_WORDS.__getitem__, key=f"hear-level:{key}", width=_NARROW
    )
    harder = row.selectbox(
        "Drive",
        list(HARDER_WORDS),
        format_func=HARDER_WORDS.__getitem__,
        key=f"hear-drive:{key}",
        width=_NARROW,
        help="Beyond what is set you hear what gives in first: the amplifier clips, motor, suspension and vent "
        "compress and distort.",
    )
    return sound or next(iter(SOUND_WORDS)), bool(alike), int(harder or 0)


def _own_file(key: str) -> tuple[str, bytes] | None:
    given = st.file_uploader(
        "A WAV file of yours; of a long one the 20 seconds with most bass are played",
        type=["wav"],
        key=f"hear-file:{key}",
        max_upload_size=MOST_BYTES // 2**20,
        help="It stays on this machine and is kept only as long as this page is open.",
    )
    return None if given is None else (given.name, given.getvalue())


def _want(name: str) -> None:
    memory()[name] = True


def _made(designs: tuple[JudgedDesign, ...], sound: Sound, asked: tuple[Any, ...]) -> _Made:
    """What was asked for, worked out once."""
    asked = (*asked, sound.samples.tobytes())
    kept: _Made | None = memory().get(_KEPT)
    same = kept is not None and all(a is b for a, b in zip(kept.designs, designs, strict=True))
    if kept is not None and same and kept.asked == asked:
        return kept
    _, _, _, alike, harder, _ = asked
    heard = beside(designs, sound, alike=alike, harder_db=float(harder))
    data = [written(finer(each.samples, rate=_FOR_THE_BROWSER), rate=_FOR_THE_BROWSER) for each in heard]
    sounds = tuple(base64.b64encode(each).decode("ascii") for each in data)
    digest = hashlib.sha256("".join((*asked[0], *sounds)).encode("ascii")).hexdigest()
    made = _Made(designs, asked, heard, digest, sounds)
    memory()[_KEPT] = made
    return made


def _to_take_away(letters: Sequence[str], heard: Sequence[Heard], sound: str, key: str) -> None:
    with st.container(horizontal=True, gap="xsmall"):
        for letter, each in zip(letters, heard, strict=True):
            st.download_button(
                f"Save {letter} as WAV",
                partial(_file, each),
                file_name=f"{letter}-{sound}.wav",
                mime="audio/wav",
                key=f"hear-save:{letter}:{key}",
                type="tertiary",
                icon=":material/download:",
                on_click="ignore",
            )


def _file(heard: Heard) -> bytes:
    return written(finer(heard.samples))
