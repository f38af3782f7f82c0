"""Records that tell whether they are as they were written: a SHA-256 of what they say stands in them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

SEAL = "sha256"  # the key


def digest_of(content: str | bytes) -> str:
    """The SHA-256 of a file's content, in hex."""
    return hashlib.sha256(content.encode("utf-8") if isinstance(content, str) else content).hexdigest()


def sealed(record: Mapping[str, Any]) -> dict[str, Any]:
    """A record, as JSON takes it, with the digest of all else that it says.

    >>> is_sealed(sealed({"designs": 27})), is_sealed(sealed({"designs": 27}) | {"designs": 5})
    (True, False)
    """
    plain: dict[str, Any] = json.loads(json.dumps(record))  # as it will be read
    return {**plain, SEAL: _digest(plain)}


def is_sealed(record: Mapping[str, Any]) -> bool:
    """Whether a record says what it said when it was sealed; False where it never was."""
    return record.get(SEAL) == _digest({key: value for key, value in record.items() if key != SEAL})


def _digest(record: Mapping[str, Any]) -> str:
    return digest_of(json.dumps(record, sort_keys=True, separators=(",", ":")))
