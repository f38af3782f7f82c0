"""Readers fuzzed where the input reaches new code: libFuzzer, by Atheris.

``python -m tests.fuzz.guided NAME CORPUS [libFuzzer's options]`` in a process of its own, which libFuzzer ends; NAME is
that of a reader, or ``all`` for one of them by each input's first byte.
"""

from __future__ import annotations

import sys

import atheris

with atheris.instrument_imports(include=["engine", "explorer"]):
    from tests.fuzz.readers import READERS, held


def one_input(data: bytes) -> None:
    """An input to the reader named, or to that of its first byte."""
    if _NAME in READERS:
        held(READERS[_NAME], data)
    elif data:
        held(_ALL[data[0] % len(_ALL)], data[1:])


_ALL = list(READERS.values())
_NAME = ""

if __name__ == "__main__":
    _NAME = sys.argv.pop(1)
    atheris.Setup(sys.argv, one_input)
    atheris.Fuzz()
