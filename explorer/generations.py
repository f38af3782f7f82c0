"""A job's folder on disk: its parts, each in a file named by its own digest, and a manifest that names them.

A save writes the parts that are new, each under a name of its own, and then the manifest, by one rename: that is the
switch from one generation to the next.  The manifest of before stays beside it with the parts that it names, and is
fallen back to where something is damaged.  What neither names is cleared.

Before there were generations ``job.json`` was the state itself, beside it ``front-….csv`` and ``steps.json``; that is
read as well, and the first save carries it over.
"""

from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, get_args

from engine.files import PART, write_whole
from engine.seal import SEAL, digest_of, is_sealed, sealed
from engine.untrusted import parsed

Part = Literal["state", "front", "steps"]
PARTS: tuple[Part, ...] = get_args(Part)
MANIFEST, BEFORE = "job.json", "job.before.json"
VERSION = 5  # of the manifest; what was a state itself had lower ones
LARGEST = 60_000_000  # bytes of one file
# What reading raises where a text is none: no JSON, nested or a number without end, parts missing or of another kind.
UNREADABLE = (ValueError, RecursionError, OverflowError, KeyError, TypeError, AttributeError)
_SUFFIXES: dict[Part, str] = {"state": "json", "front": "csv", "steps": "json"}
_BY_DIGEST = re.compile(r"(state|front|steps)-([0-9a-f]{64})\.(json|csv)")
_EARLIER_FRONT = re.compile(r"front-[0-9a-f]{16}\.csv")
_EARLIER_STEPS = "steps.json"


class NewerJobError(Exception):
    """A job was written by a later version of wedgefront; it lies where it did, untouched."""

    def __init__(self, written_by: int) -> None:
        self.written_by = written_by
        super().__init__(f"the job was written by a later version (its state has version {written_by})")


@dataclass(frozen=True)
class Generation:
    """What a manifest names: a file for each part that there is."""

    files: Mapping[Part, str]
    itself: str | None = None  # the state, where the manifest is that, as before there were generations


@dataclass
class Stored:
    """What is there of a job: its state as JSON, the other parts as text, and what of it was found damaged."""

    manifest: str  # its text, which tells one generation from the next
    files: Mapping[Part, str]
    state: dict[str, Any]
    front: str | None = None
    steps: str | None = None
    last_lost: bool = False  # the state is that of before, since the last one is damaged
    front_lost: bool = False  # the front is damaged, and the one at hand that of the search before, or none
    front_gone: bool = False  # a front is named that is no longer kept
    steps_lost: bool = False
    broken: tuple[str, ...] = ()  # names of damaged files

    @property
    def is_whole(self) -> bool:
        return not (self.last_lost or self.front_lost or self.front_gone or self.steps_lost)


def name_of(part: Part, digest: str) -> str:
    """What the file of a part is called whose content has a digest."""
    return f"{part}-{digest}.{_SUFFIXES[part]}"


def digest_in(name: str) -> str:
    """The digest that the file of a part is named by; empty for one from before there were generations."""
    found = _BY_DIGEST.fullmatch(name)
    return found[2] if found else ""


def manifest_of(place: Path) -> str | None:
    """The text of a folder's manifest; None where there is none.  Raises OSError where it cannot be read."""
    try:
        return _bytes(place / MANIFEST).decode("utf-8", "replace")
    except FileNotFoundError:
        return None


def is_manifest(text: str) -> bool:
    """Whether a manifest's text is one, of this or an earlier version.  Raises NewerJobError for a later one."""
    try:
        generation_of(text)
    except UNREADABLE:
        return False
    return True


def generation_of(text: str) -> Generation:
    """What a manifest names.  Raises those of UNREADABLE where it is none or damaged, and NewerJobError."""
    found = dict(parsed(text))
    version = int(found["version"])
    if "parts" in found or SEAL in found:
        if not is_sealed(found):
            raise ValueError("damaged")
        if version > VERSION:
            raise NewerJobError(version)
        return Generation({part: _plain(found["parts"][part]) for part in PARTS if part in found["parts"]})
    if version >= VERSION:
        raise NewerJobError(version)
    files: dict[Part, str] = {"steps": _EARLIER_STEPS}
    if found["found"] is not None:
        files["front"] = _plain(found["found"]["front"])
    return Generation(files, itself=text)


def write(
    place: Path, new: Mapping[Part, str], same: Mapping[Part, str], before: str | None
) -> tuple[str, dict[Part, str]]:
    """Begin a folder's next generation: parts with a ``new`` text, and those whose file is the ``same``.

    ``before`` is the manifest that is replaced, None where there is none or it is damaged.  The new one's text and
    what it names come back.  Raises OSError; the old one then stands.
    """
    names = {**same, **{part: name_of(part, digest_of(text)) for part, text in new.items()}}
    manifest = json.dumps(sealed({"version": VERSION, "parts": names}), indent=1) + "\n"
    texts = {place / names[part]: text for part, text in new.items()}
    if before is not None and before != manifest:
        texts[place / BEFORE] = before
    write_whole(texts)
    write_whole({place / MANIFEST: manifest})
    clear(place)
    return manifest, names


def tidy(place: Path) -> None:
    """Clear what writers left that were stopped, for the start.  Raises OSError.

    A job whose manifest is gone is one to be looked for among its files; one that never had any was never saved.
    """
    if not (place / MANIFEST).exists() and (place / BEFORE).exists():
        write_whole({place / MANIFEST: ""})
    clear(place)
    with contextlib.suppress(OSError):
        place.rmdir()


def clear(place: Path) -> None:
    """Take away what writers that were stopped left, and what neither the manifest nor the one of before names."""
    named = {MANIFEST, BEFORE}
    for name in (MANIFEST, BEFORE):
        try:
            named |= set(generation_of(_bytes(place / name).decode("utf-8")).files.values())
        except FileNotFoundError:
            continue
        except (OSError, NewerJobError, *UNREADABLE):
            return  # what it named is not known
    with contextlib.suppress(OSError):
        for path in place.iterdir():
            if path.name not in named and _is_ours(path.name):
                path.unlink()


def read(place: Path, *, front: bool = True) -> Stored:
    """What is there of a job, each part as it was written last or, where that is damaged, before.

    Without ``front`` only its state is looked at.  Raises NewerJobError, ValueError where nothing of its state is
    whole, and OSError where there is no job or the disk does not let it be read.
    """
    while True:
        found = _bytes(place / MANIFEST)
        stored = _read(place, found.decode("utf-8", "replace"), front=front)
        if stored is not None and stored.is_whole:
            return stored
        if _bytes(place / MANIFEST) == found:  # else another process has begun the next generation meanwhile
            break
    if stored is None:
        raise ValueError("nothing of the job's state is whole")
    return stored


def put_aside(place: Path, names: tuple[str, ...]) -> None:
    """Keep damaged files under other names, out of the program's way, for whoever wants to look into them."""
    for name in names:
        with contextlib.suppress(OSError):
            (place / name).replace(place / f"damaged-{name}")


def _read(place: Path, manifest: str, *, front: bool) -> Stored | None:
    """What is there of a job; None where nothing of its state is whole."""
    there = [(generation, _state(place, generation)) for generation in _generations(place, manifest)]
    whole = [(generation, state) for generation, state in there if state is not None]
    if not whole:
        return None
    generation, state = whole[0]
    stored = Stored(manifest, generation.files, state, last_lost=generation is not there[0][0])
    if not front:
        return stored
    broken = [each.files["state"] for each, text in there if text is None and "state" in each.files]
    if "front" in generation.files:
        stored.front = _content(place, generation.files["front"])
        if stored.front is None:
            there_still = (place / generation.files["front"]).exists()
            stored.front_gone, stored.front_lost = not there_still, there_still
            broken += [generation.files["front"]] if there_still else []
            _earlier_front(place, stored, whole[1:])
    if "steps" in generation.files:
        stored.steps = _content(place, generation.files["steps"])
        if stored.steps is None and (place / generation.files["steps"]).exists():
            stored.steps_lost = True
            broken.append(generation.files["steps"])
    stored.broken = tuple(broken)
    return stored


def _earlier_front(place: Path, stored: Stored, before: list[tuple[Generation, dict[str, Any]]]) -> None:
    """Take the front of the search before the last one, with what its state says of it, where both are whole."""
    state = dict(stored.state)
    state["found"] = None
    for generation, earlier in before:
        name = generation.files.get("front", "")
        content = _content(place, name) if name not in ("", stored.files["front"]) else None
        if content is not None:
            state["found"], stored.front = earlier["found"], content
            stored.files = {**stored.files, "front": name}
            break
    stored.state = state


def _generations(place: Path, manifest: str) -> Iterator[Generation]:
    """The last generation, and those to fall back to."""
    before = None
    with contextlib.suppress(OSError, NewerJobError, *UNREADABLE):
        before = generation_of(_bytes(place / BEFORE).decode("utf-8"))
    try:
        yield generation_of(manifest)
    except UNREADABLE:
        yield Generation({})
        yield from _found_by_digest(place, set() if before is None else set(before.files.values()))
    if before is not None:
        yield before


def _found_by_digest(place: Path, before: set[str]) -> Iterator[Generation]:
    """What whole files make without a manifest, but those named ``before``, the last written first."""
    there = [path for path in place.iterdir() if _BY_DIGEST.fullmatch(path.name) and path.name not in before]
    there.sort(key=lambda path: path.stat().st_mtime_ns, reverse=True)
    steps = next((path.name for path in there if path.name.startswith("steps-")), "")
    for path in there:
        if path.name.startswith("state-"):
            state = _state(place, Generation({"state": path.name}))
            found = None if state is None else state.get("found")
            front = name_of("front", str(found.get("sha256"))) if isinstance(found, dict) else ""
            files: dict[Part, str] = {"state": path.name}
            if _BY_DIGEST.fullmatch(front):
                files["front"] = front
            if steps:
                files["steps"] = steps
            yield Generation(files)


def _state(place: Path, generation: Generation) -> dict[str, Any] | None:
    """A generation's state; None where it is damaged."""
    if generation.itself is None and "state" not in generation.files:
        return None
    text = generation.itself or _content(place, generation.files["state"])
    if text is None:
        return None
    try:
        return dict(parsed(text))
    except UNREADABLE:
        return None


def _content(place: Path, name: str) -> str | None:
    """The text of a part's file; None where it is gone or not what its name says."""
    try:
        content = _bytes(place / name)
        by_digest = _BY_DIGEST.fullmatch(name)
        return None if by_digest and digest_of(content) != by_digest[2] else content.decode("utf-8")
    except (FileNotFoundError, ValueError):
        return None


def _bytes(path: Path) -> bytes:
    """A file's bytes.  Raises OSError, and ValueError where there are more than of any job's."""
    with path.open("rb") as file:
        content = file.read(LARGEST + 1)
    if len(content) > LARGEST:
        raise ValueError("too large")
    return content


def _plain(name: Any) -> str:
    """A name as a manifest may have one.  Raises ValueError."""
    if not isinstance(name, str) or not (_BY_DIGEST.fullmatch(name) or _EARLIER_FRONT.fullmatch(name)):
        raise ValueError("no name of a part's file")
    return name


def _is_ours(name: str) -> bool:
    """Whether a file is one that a save writes, or left half written."""
    if name.startswith(".") and name.endswith(PART):
        return True
    return name == _EARLIER_STEPS or bool(_BY_DIGEST.fullmatch(name) or _EARLIER_FRONT.fullmatch(name))
