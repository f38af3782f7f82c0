"""The compiler: its options, its cache and its threads, in this one place.

Rules that branch are plain scalar functions of one design, over named tuples of floats.  ``@compiled`` hands them to
numba; a batch is a loop over designs, itself compiled, that :func:`in_pieces` spreads over threads.  With
``WEDGEFRONT_COMPILER=off`` in the environment the same functions run as plain Python: a hundred times slower, for
tests and for whoever wants to step through them.

The compiler's own cache notices a change in a function's own file only, not in what that file imports, and does
not tell options apart.  So it lies in a folder named by a digest of every source that compiled code is made of
(``SOURCES``), of the options and of the versions involved; folders of other digests that nobody used of late are
cleared away.
"""

from __future__ import annotations

import hashlib
import itertools
import os
import platform
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from importlib.metadata import version
from pathlib import Path
from types import FunctionType
from typing import Annotated, Any, TypeVar, get_args, get_origin, get_type_hints

import numpy as np
import platformdirs
from numpy.typing import NDArray

Function = TypeVar("Function", bound=Callable[..., Any])
Table = Any  # a record array: its fields are columns, its rows go to compiled functions

# A division by zero gives inf, as in array code; sums keep their order, so that bytes do not depend on the machine.
OPTIONS: dict[str, Any] = {"nogil": True, "error_model": "numpy", "fastmath": False, "no_cfunc_wrapper": True}
ENABLED = os.environ.get("WEDGEFRONT_COMPILER", "on") != "off"
_STATED = os.environ.get("WEDGEFRONT_THREADS", "")
THREADS = int(_STATED) if re.fullmatch("[1-9][0-9]?", _STATED) else min(os.cpu_count() or 1, 8)
LEAST_PIECE = 256  # designs; fewer are not worth handing to another thread

# Of the engine: what has compiled functions, and what these take from elsewhere.
SOURCES = ("core/", "packing/", "openings/", "space/", "acoustics/", "facings.py", "search/reach.py")
UNUSED_FOR = 7 * 24 * 3600.0  # s, after which a folder of another digest goes
KEPT = 8  # folders of other digests at most, the latest used


def digest() -> str:
    """Of every source that compiled code is made of, where it lies, the options and the versions: names the cache."""
    engine = Path(__file__).resolve().parent.parent
    found = hashlib.sha256()
    versions = [version(name) for name in ("numba", "llvmlite", "numpy")]
    for part in (
        str(engine),
        *versions,
        sys.version,
        platform.machine(),
        platform.processor(),
        repr(sorted(OPTIONS.items())),
    ):
        found.update(part.encode())
    for source in sorted(engine.rglob("*.py")):
        name = source.relative_to(engine).as_posix()
        if name.startswith(SOURCES):
            found.update(name.encode())
            found.update(source.read_bytes())
    return found.hexdigest()[:24]


def cache_folder() -> tuple[Path, bool]:
    """Where compiled code is kept, made if need be; a folder for this run alone where the user's cannot be written.

    And whether other runs find it there.
    """
    every = Path(platformdirs.user_cache_dir("wedgefront", appauthor=False)) / "compiled"
    mine = every / digest()
    try:
        mine.mkdir(parents=True, exist_ok=True, mode=0o700)
        os.utime(mine)
    except OSError:
        return Path(tempfile.mkdtemp(prefix="wedgefront-compiled-")), False
    clear(every, keep=mine)
    return mine, True


def clear(every: Path, *, keep: Path) -> None:
    """Drop what earlier versions left in the cache, but for a few that were used of late."""
    try:
        used = sorted(((each.stat().st_mtime, each) for each in every.iterdir() if each != keep), reverse=True)
    except OSError:
        return
    for place, (when, each) in enumerate(used):
        if place >= KEPT or time.time() - when > UNUSED_FOR:
            shutil.rmtree(each, ignore_errors=True)


if ENABLED:
    # Before the compiler is imported, which reads it once.
    FOLDER, KEEPS = cache_folder()
    os.environ["NUMBA_CACHE_DIR"] = str(FOLDER)
    import numba


def compiled(function: Function) -> Function:
    """A scalar function, or a loop over designs, made ready to be compiled at its first call.

    Takes and gives floats, whole numbers, flags, named tuples of them and arrays.  A whole number where a float is
    due compiles the function anew: write ``0.0``.
    """
    return _made(function, counting=True)


def borrowing(function: Function) -> Function:
    """The same for a function that makes no arrays and is given none by those it calls: it borrows its caller's.

    Nobody counts then who holds them, which at every call would take as long as a short function does.  What is made
    or given all the same is never let go.
    """
    return _made(function, counting=False)


def _made(function: Function, *, counting: bool) -> Function:
    if not ENABLED:
        return function
    found: Any = numba.njit(cache=True, **(OPTIONS | {"_nrt": counting}))(function)
    # A caller that states a whole number or a flag would have the function compiled for that one value.
    plain: Any = numba.types.unliteral
    template = found.get_call_template
    found.get_call_template = lambda args, named: template([plain(each) for each in args], named)
    made: Function = found
    return made


def compiled_with(function: Function, **other: Callable[..., Any]) -> Function:
    """The same for a function that calls the ``other`` one by that name.

    The compiler's cache keeps neither closures nor functions that are passed; what is made here it knows by the module
    of the other one and by when that was written.
    """
    ((name, called),) = other.items()
    made: Any = FunctionType(function.__code__, {**function.__globals__, name: called}, function.__name__)
    written = Path(called.__code__.co_filename).stat().st_mtime_ns
    made.__qualname__ = f"{function.__name__}-{called.__module__}-{written}"
    found: Function = compiled(made)
    return found


def table(row: type, count: int, /, **columns: object) -> Table:
    """A table of ``count`` rows whose fields are those that the class ``row`` annotates, with its defaults, else 0.

    Compiled code takes ``found[i]`` for a ``row`` by reference: it reads its fields, and writes them where it is
    told to.  A field is a float, an int, a bool or so many floats, ``Annotated[Floats, count]``.  ``columns`` are
    all fields at once, or none of them.
    """
    if not columns:
        return np.repeat(_usual(row), count).view(np.recarray)
    if set(columns) != set(dtype_of(row).names or ()):
        raise TypeError(f"{row.__name__} has other fields than {', '.join(columns)}")
    found = np.zeros(count, dtype=dtype_of(row))
    for name, values in columns.items():
        found[name] = values
    return found.view(np.recarray)


def rows_of(every: Table, rows: NDArray[Any]) -> Table:
    """Some rows of a table, each as one piece of memory: field by field they would take twenty times as long."""
    whole = every.view(np.ndarray).view(np.dtype((np.void, every.dtype.itemsize)))
    return whole[rows].view(every.dtype).view(np.recarray)


@cache
def dtype_of(row: type) -> np.dtype[Any]:
    """What the fields of a class of rows are in a table."""

    def kind(hint: Any) -> Any:
        return (float, get_args(hint)[1:]) if get_origin(hint) is Annotated else hint

    hints = get_type_hints(row, include_extras=True)
    return np.dtype([(name, kind(hint)) for name, hint in hints.items()], align=True)


@cache
def _usual(row: type) -> Table:
    """The one row of a table whose fields have their defaults."""
    one, stated = np.zeros(1, dtype=dtype_of(row)), getattr(row, "_field_defaults", vars(row))
    for name in dtype_of(row).names or ():
        one[name] = stated.get(name, 0)
    return one


def contiguous(values: NDArray[Any], kind: type = np.float64) -> NDArray[Any]:
    """As a loop takes an array: of one kind and without gaps, so that nothing is compiled twice."""
    return np.ascontiguousarray(values, dtype=kind)


@cache
def _pool() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(THREADS, thread_name_prefix="designs")


def in_pieces(loop: Callable[..., None], count: int, *arguments: object, threads: int = THREADS) -> None:
    """Run ``loop(start, stop, *arguments)`` over ``count`` designs, in pieces on several threads.

    The loop writes rows ``start`` to ``stop`` of arrays among the arguments and nothing else, so that the
    bytes are the same for any number of threads.
    """
    pieces = min(threads if ENABLED else 1, max(count // LEAST_PIECE, 1))
    if pieces == 1:
        with np.errstate(all="ignore"):
            loop(0, count, *arguments)
        return
    ends = [count * piece // pieces for piece in range(pieces + 1)]
    jobs = [_pool().submit(loop, start, stop, *arguments) for start, stop in itertools.pairwise(ends)]
    for job in jobs:
        job.result()
