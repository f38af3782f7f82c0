"""A stored job's files, for tests that look into them or damage them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any


def file_of(place: Path, part: str) -> Path:
    """The file of a part of a job, as its manifest names it."""
    return place / str(json.loads((place / "job.json").read_text(encoding="utf-8"))["parts"][part])


def state_of(place: Path) -> dict[str, Any]:
    """A stored job's state."""
    found: dict[str, Any] = json.loads(file_of(place, "state").read_text(encoding="utf-8"))
    return found


def as_before_generations(place: Path, **changed: Any) -> Path:
    """Lay a stored job down as versions before generations did, something in its state changed; its ``job.json``."""
    state = {**state_of(place), **changed}
    if state["found"] is not None:
        file_of(place, "front").rename(place / state["found"]["front"])
        del state["found"]["sha256"]
    for path in place.glob("*-" + "?" * 64 + ".*"):
        path.unlink()
    (place / "job.before.json").unlink(missing_ok=True)
    (place / "job.json").write_text(json.dumps(state), encoding="utf-8")
    return place / "job.json"
