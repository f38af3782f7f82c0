"""How the command line ends before its time: at a signal, at once and in one line, with no file half written.

A signal ends the process where it stands; while files are put in their places it waits until they are
(:func:`undisturbed`).  So nothing has to be unwound, wherever it comes: within a library's loading, or in compiled
code.  Processes that help end with the pipes they hang on.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from types import FrameType
from typing import Any

# Of which a system has some.
_SIGNALS = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name)]
_SHOW_CURSOR = b"\x1b[?25h"  # a bar that was drawn has hidden it


class _Now:
    """What is so at this moment; one for the process, as signals are."""

    undisturbed = 0  # how many times over
    waiting = 0  # the signal that came meanwhile
    told = ""  # what is said of what was written so far; nothing was where it is empty


@contextmanager
def heeded() -> Iterator[None]:
    """Within it, signals that ask a program to end do so in our way; those that its starter ignores stay ignored."""
    _Now.told = ""
    with _handled({number: stop for number in _SIGNALS if signal.getsignal(number) is not signal.SIG_IGN}):
        yield


@contextmanager
def left_alone() -> Iterator[None]:
    """Within it, signals do what they do without us, for whoever heeds them in another way."""
    ours = [number for number in _SIGNALS if signal.getsignal(number) is stop]
    without: dict[int, Any] = dict.fromkeys(ours, signal.SIG_DFL)
    if signal.SIGINT in without:
        without[signal.SIGINT] = signal.default_int_handler
    with _handled(without):
        yield


@contextmanager
def _handled(handlers: Mapping[int, Any]) -> Iterator[None]:
    """Within it, signals have these handlers; then those of before."""
    before = {number: signal.signal(number, handler) for number, handler in handlers.items()}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@contextmanager
def undisturbed(then: str = "what was written is whole") -> Iterator[None]:
    """Within it, files are put in their places; a signal waits until all are, and ``then`` is what it says of them."""
    _Now.undisturbed += 1
    try:
        yield
        _Now.told = then
    finally:
        _Now.undisturbed -= 1
        if _Now.waiting and not _Now.undisturbed:
            _end(_Now.waiting)


def stop(number: int, _frame: FrameType | None = None) -> None:
    """End the process for a signal, with its status."""
    if _Now.undisturbed:
        _Now.waiting = _Now.waiting or number
    else:
        _end(number)


def _end(number: int) -> None:
    try:
        # Past all that is buffered: a signal may come within a print.
        if os.isatty(2):
            os.write(2, _SHOW_CURSOR)
        os.write(2, f"wedgefront: stopped; {_Now.told or 'nothing written'}\n".encode())
    except OSError:  # nobody reads it
        pass
    finally:
        os._exit(128 + number)
