"""A job as one file (promises to the user): all of it comes back, and what is no such file is refused in words."""

from __future__ import annotations

import io
import json
import math
import zipfile
from pathlib import Path

import pandas as pd
import pytest

from engine.errors import InputFaults
from explorer import job_file
from explorer.job_file import FRONT, JOB, MANIFEST, file_name, packed, read_job, unpacked
from explorer.session import Job, SearchResult, choose, new_id

DOCUMENT = {"title": "Bench", "space": {"width": "1200 mm"}, "driver": [{"name": "Ten"}, {"name": "Twelve"}]}


@pytest.fixture
def job(front: pd.DataFrame) -> Job:
    record = {"evaluations": 4000, "seconds": 1.5, "stopped_by": "budget", "objectives": ["f3_hz", "output_db"]}
    found = SearchResult(front, record, DOCUMENT)
    closed = front.loc[front["box_kind"] == "closed", "id"]
    pick, other = (choose(found, str(closed.iloc[place])) for place in (0, 1))
    assert pick is not None
    assert other is not None
    texts = {"shop": "Ümläut", "customer": "<b>", "notes": "ring back\non Friday"}
    return Job(
        id=new_id(), source="bench.toml", document=DOCUMENT, units="us", found=found, pick=pick,
        shortlist=[other, pick], filters={"f3_hz": [None, 40.0]}, axes={"x": "f3_hz"}, **texts,
    )  # fmt: skip


def parts(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def zipped(texts: dict[str, bytes], packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", packing) as archive:
        for name, content in texts.items():
            archive.writestr(name, content)
    return out.getvalue()


def refused(data: bytes) -> str:
    with pytest.raises(InputFaults) as caught:
        unpacked(data, "job.wedgefront")
    (fault,) = caught.value.faults
    return fault.code


def test_everything_comes_back_under_a_new_id(job: Job, tmp_path: Path) -> None:
    path = tmp_path / "bench.wedgefront"
    path.write_bytes(packed(job))
    back = read_job(path)
    assert job.found is not None
    assert back.found is not None
    assert back.id != job.id
    for part in ("document", "units", "pick", "shortlist", "filters", "axes", "shop", "customer", "notes", "source"):
        assert getattr(back, part) == getattr(job, part)
    pd.testing.assert_frame_equal(back.found.front, job.found.front, check_dtype=False)
    assert back.lost == ()


def test_a_job_without_a_front_is_a_file_as_well() -> None:
    back = unpacked(packed(Job(id=new_id(), source="bench.toml", document=DOCUMENT)), "x")
    assert (back.found, back.document) == (None, DOCUMENT)


def test_a_job_of_the_version_before_is_read_and_lacks_only_what_that_did_not_have(job: Job) -> None:
    inside = parts(packed(job))
    state = json.loads(inside[JOB])
    for key in ("notes", "guide", "origin"):
        del state[key]
    about = {**json.loads(inside[MANIFEST]), "version": 2}
    inside[JOB] = json.dumps({**state, "version": 2}).encode()
    back = unpacked(zipped({**inside, MANIFEST: json.dumps(about).encode()}), "x")
    assert (back.pick, back.notes) == (job.pick, "")


@pytest.mark.parametrize("where", [MANIFEST, JOB])
def test_a_later_version_s_file_is_refused_by_name(job: Job, where: str) -> None:
    inside = parts(packed(job))
    inside[where] = json.dumps({**json.loads(inside[where]), "version": 99, "by": "wedgefront 9.0"}).encode()
    with pytest.raises(InputFaults, match=r"newer than wedgefront .* the file stays as it is"):
        unpacked(zipped(inside), "x")


def test_what_is_no_job_is_refused(job: Job) -> None:
    whole = packed(job)
    inside = parts(whole)
    endless = {**json.loads(inside[MANIFEST]), "version": math.inf}
    entry = b"PK\1\2\x14\3\x14\0\0\0"  # how a part begins in the archive's list: read by which versions, its marks
    assert entry in whole
    bad = {
        "empty": b"",
        "text": b"title = 1",
        "cut": whole[: len(whole) // 2],
        "no manifest": zipped({JOB: inside[JOB]}),
        "another name": zipped({**inside, "../../job.json": b"{}"}),
        "another format": zipped({**inside, MANIFEST: b'{"format": "other", "version": 1, "by": "x"}'}),
        "no JSON": zipped({**inside, JOB: b"\xff{"}),
        "a list": zipped({**inside, JOB: b"[]"}),
        "deep": zipped({**inside, JOB: b"[" * 200_000}),
        "a version without end": zipped({**inside, MANIFEST: json.dumps(endless).encode()}),
        "packed otherwise": zipped(inside, zipfile.ZIP_LZMA),
        "locked": whole.replace(entry, entry[:8] + b"\1\0", 1),
        "of a later kind of archive": whole.replace(entry, entry[:6] + b"\xff\0\0\0", 1),
    }
    assert {name: refused(data) for name, data in bad.items()} == dict.fromkeys(bad, "no_job")


def _damaged(job: Job, part: str) -> bytes:
    """The job's file with a bit flipped in the middle of a part, as it is packed."""
    data = bytearray(packed(job))
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        about = archive.getinfo(part)
    data[about.header_offset + 30 + len(part) + about.compress_size // 2] ^= 0x10
    return bytes(data)


def test_a_bit_that_flipped_is_noticed(job: Job) -> None:
    for part in (MANIFEST, JOB):
        assert refused(_damaged(job, part)) == "no_job"


def test_a_damaged_front_takes_nothing_else_along(job: Job) -> None:
    """User's promise: inputs, pick and shortlist are there; that the designs are not is said."""
    inside = parts(packed(job))
    rows = inside[FRONT].splitlines(keepends=True)
    assert job.found is not None
    figure = list(job.found.front.columns).index("f3_hz")
    worded = [line.split(b",") for line in rows]
    worded[3][figure] = b"low"
    bad = {
        "a bit flipped": _damaged(job, FRONT),
        "no table": zipped({**inside, FRONT: b'"'}),
        "no text": zipped({**inside, FRONT: b"\xff\xfe"}),
        "rows cut off": zipped({**inside, FRONT: b"".join(rows[:6])}),
        "text in a figure": zipped({**inside, FRONT: b"".join(b",".join(line) for line in worded)}),
        "another search's": zipped({**inside, FRONT: b"".join([rows[0], *reversed(rows[1:])])}),
    }
    for name, data in bad.items():
        back = unpacked(data, "x")
        assert back.found is None, name
        assert back.lost == ("the designs of the last search (search again to have designs again)",), name
        assert (back.document, back.pick, back.shortlist) == (job.document, job.pick, job.shortlist), name


def test_what_unpacks_to_more_than_any_job_is_refused(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(job_file, "LARGEST_PART", 100_000)
    assert refused(zipped({**parts(packed(job)), FRONT: b"0" * 200_000})) == "job_too_large"


def test_a_file_larger_than_any_job_is_refused(job: Job, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(job_file, "LARGEST_JOB_FILE", 1000)
    path = tmp_path / "large.wedgefront"
    path.write_bytes(packed(job))
    with pytest.raises(InputFaults, match="larger than any job"):
        read_job(path)


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Thin wedge, Müller's van", "thin-wedge-müller-s-van.wedgefront"),
        ("../../etc/passwd", "etc-passwd.wedgefront"),
        ("///", "job.wedgefront"),
        ("x" * 300, "x" * 60 + ".wedgefront"),
    ],
)
def test_a_title_makes_a_file_name_that_every_system_takes(title: str, name: str) -> None:
    assert file_name(title) == name
