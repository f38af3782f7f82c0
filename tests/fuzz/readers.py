"""Every reader of something from outside: what it reads, files to start from, and what has to hold of any input.

A reader takes bytes.  It either refuses them, with at least one fault in words, or takes them; then what it gives is
held to what its users rely on.  Whatever else it raises is a fault of ours.
"""

from __future__ import annotations

import copy
import io
import json
import math
import zipfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any
from urllib.parse import parse_qs, urlencode

import numpy as np
from PIL import Image
from scipy.io import wavfile

from engine import document
from engine.columns import COLUMNS
from engine.errors import Fault, InputFaults, refusal
from engine.formats.catalogue import read_catalogue
from engine.formats.design import parse_design
from engine.formats.fields import FIELDS, TABLES
from engine.formats.front import csv_text, front_of
from engine.formats.given import parse_given
from engine.formats.measurement import parse_cabin
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.formats.wished import read_wished
from engine.goals import GOALS
from engine.hearing.wav import read_wav
from engine.measured.sweep import parse_sweep, text_of
from engine.quantities import KINDS, NotAQuantity, parse
from engine.report.logo import KEPT_SIDE, read_logo
from engine.words.voice import Voice
from explorer.demo_fronts import found_for
from explorer.history import History, revived, state_of
from explorer.job_file import JOB, packed, unpacked
from explorer.links import query_of, take_view
from explorer.plainly import FormVoice
from explorer.reading import in_words, read
from explorer.session import Job, SearchResult, as_document, choose
from explorer.unknown_keys import unknown_keys
from tests.invented_drivers import catalogue_text, invented_drivers
from tests.test_design_file import closed, passive, vented

DEMO = "roadster"
NAME = "from outside"
MOST_TOLD = 2_000  # characters of one fault


@dataclass(frozen=True)
class Reader:
    """What reads bytes and raises InputFaults for what it refuses, inputs to start from, its vocabulary."""

    name: str
    reads: Callable[[bytes], object]
    seeds: Callable[[], Iterable[bytes]]
    words: tuple[str, ...] = ()
    structured: bool = False  # TOML tables, to be spoilt as such


class Unsound(Exception):
    """Something that has to hold of what was read, or of a refusal, does not."""


def holds(truth: bool, what: str) -> None:
    """Raise Unsound where ``what`` is not the case."""
    if not truth:
        raise Unsound(f"not so: {what}")


def held(reader: Reader, data: bytes) -> bool:
    """Whether a reader takes an input.  Raises Unsound where something does not hold, and whatever is no refusal."""
    try:
        reader.reads(data)
    except InputFaults as refused:
        holds(bool(refused.faults), "a refusal says what is wrong")
        for fault in refused.faults:
            _told(fault)
        return False
    return True


def _told(fault: Fault) -> None:
    for units in ("metric", "us"):
        file, form = fault.told(Voice(units)), in_words(fault, units)
        holds(file.startswith(fault.source), f"{fault.code} names the file")
        holds(bool(fault.wrong(Voice(units)) and form and fault.wrong(FormVoice(units))), f"{fault.code} is told")
        holds(len(file) < MOST_TOLD, f"{fault.code} is told in a few lines, not {len(file)} characters")
        file.encode()  # it has to reach a terminal


def _in_file(data: bytes, name: str) -> Path:
    path = _FOLDER / name
    path.write_bytes(data)
    return path


_FOLDER = Path(mkdtemp(prefix="read-"))


def _demo_document() -> dict[str, Any]:
    return as_document(read_document(demo_scenarios()[DEMO]))


@lru_cache(maxsize=1)
def _demo_parts() -> dict[str, str]:
    """The texts of a job's file, with a front of four designs."""
    with zipfile.ZipFile(io.BytesIO(packed(_demo_job()))) as parts:
        return {name: parts.read(name).decode() for name in parts.namelist()}


def _demo_job() -> Job:
    stated = _demo_document()
    found = found_for(stated)
    assert found is not None
    short = SearchResult(found.front.head(4), found.record, stated, found.left_out[:1])
    job = Job(id="fuzzed-job", source="roadster.toml", document=stated, found=short)
    job.pick = choose(short, str(short.front["id"].iloc[0]))
    job.shortlist = [chosen for name in short.front["id"][1:3] if (chosen := choose(short, name)) is not None]
    job.filters = {"f3_hz": [30.0, None]}
    job.axes = {"x": "f3_hz"}
    return job


def quantity(data: bytes) -> None:
    """Text with a unit, as each kind of quantity: a finite figure or a refusal with words."""
    text = data.decode("utf-8", "replace")
    for kind in KINDS:
        try:
            found = parse(text, kind)
        except NotAQuantity as error:
            holds(bool(str(error)), "a refusal says why")
        else:
            holds(math.isfinite(found), "a quantity is finite")


def scenario(data: bytes) -> None:
    """A job as TOML."""
    parse_scenario(document.read_document(_in_file(data, "job.toml")), source=NAME, folder=_FOLDER)


def form(data: bytes) -> None:
    """A job as the page holds it, whatever stands in it: nothing is raised."""
    stated = json.loads(json.dumps(document.read_document(_in_file(data, "form.toml")), default=str))
    reading = read(stated, NAME)
    holds((reading.scenario is None) == bool(reading.faults), "a job is read or has faults")
    unknown_keys(stated)
    for fault in reading.faults:
        _told(fault)


def design(data: bytes) -> None:
    """One stated design as TOML."""
    parse_design(document.read_document(_in_file(data, "design.toml")), source=NAME)


def given(data: bytes) -> None:
    """A job with a given box as TOML."""
    parse_given(document.read_document(_in_file(data, "given.toml")), source=NAME)


def cabin(data: bytes) -> None:
    """A cabin measured, as CSV."""
    found = parse_cabin(_text(data), source=NAME)
    holds(np.isfinite([found.frequency, found.level_db]).all(), "figures are finite")
    holds((np.diff(found.frequency) > 0.0).all(), "frequencies rise")


def sweep(data: bytes) -> None:
    """A sweep of impedance, as CSV."""
    found = parse_sweep(_text_of(data), source=NAME)
    holds((np.diff(found.frequency) > 0.0).all(), "frequencies rise")
    holds(np.isfinite(found.magnitude).all(), "impedances are finite")
    holds(found.phase is None or np.isfinite(found.phase).all(), "phases are finite")


def catalogue(data: bytes) -> None:
    """Drivers as CSV."""
    found = read_catalogue(demo_scenarios()[DEMO], _in_file(data, "drivers.csv"))
    holds(bool(found.candidates), "a catalogue has drivers")


def front(data: bytes) -> None:
    """A front as CSV: what is taken of it is written and taken again as it is."""
    table = front_of(data, NAME)[list(COLUMNS)]
    again = front_of(csv_text(table).encode(), NAME)
    holds(csv_text(again) == csv_text(table), "a front is written as it was read")


def wished(data: bytes) -> None:
    """A figure as somebody types it for a goal."""
    text = data.decode("utf-8", "replace")
    refused: list[Fault] = []
    for key in GOALS:
        for units in ("metric", "us"):
            try:
                found = read_wished({key: text}, source=NAME, units=units, currency="EUR")
            except InputFaults as error:
                refused += error.faults
            else:
                holds(all(math.isfinite(value) for value in found.values()), "wishes are finite")
    if len(refused) == 2 * len(GOALS):
        raise InputFaults(refused)


def wav(data: bytes) -> None:
    """A sound."""
    found = read_wav(data, source=NAME)
    holds(np.isfinite(found.samples).all(), "samples are finite")


def logo(data: bytes) -> None:
    """A picture: what is kept is a small PNG."""
    found = read_logo(data, name=NAME)
    holds(found.png.startswith(b"\x89PNG"), "what is kept is a PNG")
    holds(0 < found.width <= KEPT_SIDE and 0 < found.height <= KEPT_SIDE, "a logo is small")


def job_file(data: bytes) -> None:
    """A job's file: what is taken is packed and taken again as it is."""
    job = unpacked(data, NAME)
    again = unpacked(packed(job), NAME)
    holds(again.document == job.document and not again.lost, "a job is packed as it was taken")
    read(job.document, job.source)


def job_state(data: bytes) -> None:
    """The text of a job within its file, with a front that is whole."""
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as parts:
        for name, content in (_demo_parts() | {JOB: _text(data)}).items():
            parts.writestr(name, content)
    job_file(archive.getvalue())


def steps(data: bytes) -> None:
    """What can be undone: none where it cannot be read."""
    found = revived(_text(data))
    holds(revived(found.dump()).past == found.past, "steps are kept as they were read")


def _steps_text() -> bytes:
    job = _demo_job()
    history = History()
    history.note(job)
    for width in ("900 mm", "901 mm"):
        job.document = {**job.document, "space": {**job.document["space"], "width": width}}
        history.note(job)
    assert state_of(job) == history.now
    return history.dump().encode()


def link(data: bytes) -> None:
    """An address: whatever it says, the job shows a view that can be linked to."""
    job = copy.deepcopy(_linked())
    query = parse_qs(data.decode("utf-8", "replace"), keep_blank_values=True)
    holds(all(take_view(job, query)), "what is lost has a name")
    query_of(job)


@lru_cache(maxsize=1)
def _linked() -> Job:
    return _demo_job()


def _text(data: bytes) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        raise refusal(NAME, "not_utf8") from None


def _text_of(data: bytes) -> str:
    try:
        return text_of(data)
    except UnicodeDecodeError:
        raise refusal(NAME, "not_utf8") from None


def _tomls() -> Iterable[bytes]:
    return (document.write_document(read_document(path)).encode() for path in demo_scenarios().values())


def _designs() -> Iterable[bytes]:
    return (document.write_document(each).encode() for each in (vented(), closed(), passive()))


def _given() -> Iterable[bytes]:
    stated = _demo_document()
    box = {"outer_width": "500 mm", "outer_height": "380 mm", "top_depth": "180 mm", "bottom_depth": "260 mm"}
    yield document.write_document({**stated, "given": {**box, "kind": "closed", "driver": "round 8"}}).encode()


def _catalogue() -> Iterable[bytes]:
    yield catalogue_text(invented_drivers(3)).encode()


def _cabin() -> Iterable[bytes]:
    yield b"frequency_hz,level_db\n" + b"".join(b"%d,%.1f\n" % (hz, 12.0 - 0.1 * hz) for hz in range(10, 210, 10))
    yield b"Hz;dB\n" + b"".join(b"%d;%d,5\n" % (hz, 200 // hz) for hz in range(10, 210, 10))


def _sweep() -> Iterable[bytes]:
    rows = [(10.0 * 1.1**n, 4.0 + 30.0 / (1.0 + (n - 15) ** 2)) for n in range(40)]
    yield b"frequency,impedance,phase\n" + b"".join(b"%.3f,%.3f,%.1f\n" % (*row, 10.0) for row in rows)
    yield b"Frequenz;Impedanz\n" + b"".join(b"%.3f;%.3f\n" % row for row in rows).replace(b".", b",")


def _wav() -> Iterable[bytes]:
    sound = io.BytesIO()
    wavfile.write(sound, 8_000, (8_000 * np.sin(np.arange(2_000) * 0.05)).astype("<i2"))
    yield sound.getvalue()


def _logo() -> Iterable[bytes]:
    picture = io.BytesIO()
    Image.new("RGBA", (12, 8), (200, 40, 20, 255)).save(picture, "PNG")
    yield picture.getvalue()
    yield (
        b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20"><defs><linearGradient id="g">'
        b'<stop offset="0" stop-color="#c00"/></linearGradient></defs><g transform="rotate(5)">'
        b'<rect width="40" height="20" fill="url(#g)"/><path d="M0 0L9 9z"/><text x="3" y="9">Box</text></g></svg>'
    )


_KEYS = tuple(sorted({*TABLES, *(field.key for fields in FIELDS.values() for field in fields)} - {""}))
_UNITS = ("mm", "in", '"', "1/2", "kg", "lb", "oz", "ohm", "kohm", "uH", "%", "N", "m^3/s", "cm^2", "deg", "$", "EUR")
_JSON = ("null", "true", "NaN", "1e999", "[[", "{}", "\\ud800", "-1")

READERS: dict[str, Reader] = {
    each.name: each
    for each in (
        Reader("quantity", quantity, lambda: (b"18 mm", b"5' 3 1/2\"", b"6 lb 4 oz", b"1.5 mH", b"$220"), _UNITS),
        Reader("wished", wished, lambda: (b"104 dB", b"38 Hz", b"14 kg", b"13 1/2 in"), _UNITS),
        Reader("scenario", scenario, _tomls, (*_KEYS, *_UNITS), structured=True),
        Reader("form", form, _tomls, (*_KEYS, *_UNITS), structured=True),
        Reader("design", design, _designs, (*_KEYS, *_UNITS), structured=True),
        Reader("given", given, _given, (*_KEYS, *_UNITS), structured=True),
        Reader("catalogue", catalogue, _catalogue, (*_KEYS, ";", "\t", "(Hz)")),
        Reader("cabin", cabin, _cabin, ("kHz", "dB", ";", "\t", "#", "*")),
        Reader("sweep", sweep, _sweep, ("kHz", "phase", "rad", "deg", "real", "imag", ";", "\t", "ohm")),
        Reader("front", front, lambda: (csv_text(_demo_job().found.front).encode(),), ("nan", "inf", '""', "'=")),
        Reader("job file", job_file, lambda: (packed(_demo_job()),)),
        Reader("job state", job_state, lambda: (_demo_parts()[JOB].encode(),), _JSON),
        Reader("steps", steps, lambda: (_steps_text(),), _JSON),
        Reader("link", link, lambda: (urlencode(query_of(_demo_job()), doseq=True).encode(),), ("only-", "..", "%00")),
        Reader("wav", wav, _wav, ("RIFF", "WAVE", "fmt ", "data", "LIST")),
        Reader("logo", logo, _logo, ("<svg", "<g>", "url(#", "viewBox", "transform", "NaN", "1e38", "IHDR", "IDAT")),
    )
}
