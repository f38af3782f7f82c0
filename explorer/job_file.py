"""A job as one file, to save, send and open: inputs, front, pick, shortlist and notes.

The file is a ZIP archive of up to three texts: ``manifest.json`` says what it is and which version wrote it,
``job.json`` is the job as it lies on disk, ``front.csv`` its front.  What is read is untrusted: nothing of another name
is taken, and nothing larger than a front of many thousand designs.  A later version's file is refused and left as it
is.
"""

from __future__ import annotations

import io
import json
import zipfile
import zlib
from datetime import UTC, datetime
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from engine import file_names
from engine.errors import InputFaults, refusal
from engine.formats.front import csv_text
from engine.untrusted import mended, parsed
from explorer.generations import LARGEST, UNREADABLE, NewerJobError
from explorer.session import STATE_VERSION, Job, dump, new_id, revive

SUFFIX = ".wedgefront"
FORMAT = "wedgefront job"
MANIFEST, JOB, FRONT = "manifest.json", "job.json", "front.csv"
OWN = f"wedgefront {version('wedgefront')}"
LARGEST_JOB_FILE = 20_000_000  # bytes; a front of 4 000 designs makes about a tenth of that
LARGEST_PART = LARGEST  # bytes of one text, unpacked
_PACKINGS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)  # of a part; wedgefront writes the latter
_STAMP = (2000, 1, 1, 0, 0, 0)  # of every part, so that one state of a job makes the same bytes but for the manifest


def packed(job: Job) -> bytes:
    """A job as the bytes of its file."""
    text = dump(job)
    written = datetime.now(UTC).isoformat(timespec="seconds")
    about = {"format": FORMAT, "version": STATE_VERSION, "by": OWN, "title": mended(job.title), "written": written}
    texts = {MANIFEST: json.dumps(about, ensure_ascii=False, indent=1)}
    texts[JOB] = text
    if job.found is not None:
        texts[FRONT] = csv_text(job.found.front)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in texts.items():
            archive.writestr(zipfile.ZipInfo(name, _STAMP), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def file_name(title: str) -> str:
    """What the file of a job of that title is called: as much of it as every system takes."""
    return file_names.file_name(title, ending=SUFFIX.removeprefix("."), usual="job")


def is_job_file(name: str) -> bool:
    return name.lower().endswith(SUFFIX)


def digest(data: bytes) -> str:
    return sha256(data).hexdigest()


def read_job(path: Path) -> Job:
    """A job from its file.  Raises InputFaults, with one fault."""
    source = str(path)
    try:
        if not path.is_file():
            raise refusal(source, "no_file" if path.exists() else "no_such_file")
        if path.stat().st_size > LARGEST_JOB_FILE:
            raise refusal(source, "job_too_large")
        return unpacked(path.read_bytes(), source)
    except OSError as error:
        raise refusal(source, "unreadable", reason=error.strerror or str(error)) from None


def unpacked(data: bytes, source: str) -> Job:
    """A job from the bytes of its file, under a new id; what of it does not fit is named in its ``lost``.

    Raises InputFaults, with one fault, naming ``source``.
    """
    if len(data) > LARGEST_JOB_FILE:
        raise refusal(source, "job_too_large")
    try:
        texts = _texts(data, source)
        about = parsed(texts[MANIFEST])
        if about["format"] != FORMAT:
            raise refusal(source, "no_job")
        if int(about["version"]) > STATE_VERSION:
            raise refusal(source, "job_of_later_version", by=str(about["by"])[:60], own=OWN)
        job = revive(new_id(), parsed(texts[JOB]), texts.get(FRONT))
    except InputFaults:
        raise
    except NewerJobError:
        raise refusal(source, "job_of_later_version", by="a later wedgefront", own=OWN) from None
    except UNREADABLE:
        raise refusal(source, "no_job") from None
    job.origin = digest(data)
    return job


def _texts(data: bytes, source: str) -> dict[str, str]:
    """The parts of a job's file by name.  Raises InputFaults, ValueError and OverflowError."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            names = [part.filename for part in parts]
            if len(set(names)) < len(names) or not {MANIFEST, JOB} <= set(names) <= {MANIFEST, JOB, FRONT}:
                raise refusal(source, "no_job")
            if any(part.compress_type not in _PACKINGS for part in parts):
                raise refusal(source, "no_job")
            texts = {}
            for part in parts:
                try:
                    with archive.open(part) as stream:
                        content = stream.read(LARGEST_PART + 1)  # whatever size the archive says it has
                    texts[part.filename] = content.decode("utf-8")
                except (zipfile.BadZipFile, zlib.error, EOFError, UnicodeDecodeError):
                    if part.filename != FRONT:
                        raise
                    texts[FRONT] = ""  # a damaged front takes nothing else along
                    continue
                if len(content) > LARGEST_PART:
                    raise refusal(source, "job_too_large")
            return texts
    # No archive or a wrong sum, a packed text that is damaged or ends early, a part that is locked or of a later kind.
    # The disk has no part in it: the bytes are at hand.
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError):
        raise refusal(source, "no_job") from None
