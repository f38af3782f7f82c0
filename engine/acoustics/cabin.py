"""What a vehicle's cabin adds to the sound: an estimate from its size, or what somebody measured.

Gain is in dB over the same box in half space at 1 m.  It is the same for every design, so it
moves f3 but adds the same to everybody's output.
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from engine.air import REFERENCE_AIR, Air
from engine.errors import BLANK, Fault, InputFaults, refusal

Floats = NDArray[np.float64]

ESTIMATE = "estimated from the cabin's size, not measured"
LARGEST_FILE = 1_000_000  # bytes
FEWEST_POINTS = 5
MOST_POINTS = 20_000
FREQUENCIES = (1.0, 100_000.0)  # Hz, plausible in a file
LEVELS = (-80.0, 80.0)  # dB, plausible in a file
_BASS = (200.0, 40.0)  # Hz, a file that begins above the first or ends below the second says nothing of bass

_FREQUENCY_NAMES = ("frequency", "freq", "hz", "frequency_hz", "f", "frequency (hz)", "frequency [hz]")
_LEVEL_NAMES = ("db", "gain", "gain_db", "level", "level_db", "magnitude", "gain (db)", "level (db)", "level [db]")
_AVERAGED = 400  # points the mean over a band is taken at


class Cabin(Protocol):
    """A gain over frequency."""

    def gain_squared(self, log_frequency: Floats) -> Floats:
        """Power gain at ln f, f in Hz, in any shape."""
        ...


@dataclass(frozen=True, kw_only=True)
class EstimatedCabin:
    """Pressure-chamber gain, |C|² = 1 + (f1/f)⁴/(1 + (fl/f)²): an estimate, labelled so wherever it shows.

    A source pumps a small closed cabin like a pump: below the first mode f1 = c/(2·length) the
    pressure follows displacement, 12 dB an octave over free air (first principles: p = ρc²·U/(jωV)
    against ρωU/(2πr); Kuttruff, Room Acoustics, for the mode).  That the rise begins at the first mode with
    0 dB is common practice, not physics: the exact level hangs on volume and place, and measured cars differ by
    several dB.  Through cabin leaks of resistance R the pressure escapes below fl = 1/(2π·R·V/(ρc²)), where
    6 dB an octave are left.  No rise or fall above f1: modes are not in it.

    ``largest_dimension`` in m, ``leak_hz`` is fl (0: sealed).
    """

    largest_dimension: float
    leak_hz: float = 10.0
    air: Air = REFERENCE_AIR

    @property
    def corner_hz(self) -> float:
        """f1, the cabin's first mode, Hz."""
        return 0.5 * self.air.c / self.largest_dimension

    def gain_squared(self, log_frequency: Floats) -> Floats:
        frequency = np.exp(log_frequency)
        rise = (self.corner_hz / frequency) ** 4
        return np.asarray(1.0 + rise / (1.0 + (self.leak_hz / frequency) ** 2))


@dataclass(frozen=True, kw_only=True, eq=False)
class MeasuredCabin:
    """A measured transfer function: straight between its points in dB over log f, held at its ends beyond them.

    ``frequency`` (K,) in Hz, rising; ``level_db`` (K,).  Held, not drawn out: nobody knows what a
    microphone did not hear, and a rise drawn on would promise bass.
    """

    frequency: Floats
    level_db: Floats
    source: str = ""

    def __eq__(self, other: object) -> bool:
        """Whether another says the same, wherever it was read from."""
        return isinstance(other, MeasuredCabin) and self._points == other._points

    def __hash__(self) -> int:
        return hash(self._points)

    @property
    def _points(self) -> tuple[bytes, bytes]:
        return self.frequency.tobytes(), self.level_db.tobytes()

    def gain_squared(self, log_frequency: Floats) -> Floats:
        level = np.interp(log_frequency, np.log(self.frequency), self.level_db)
        return np.asarray(np.exp(level * (math.log(10.0) / 10.0)))

    def held_within(self, band: tuple[float, float]) -> str:
        """What of a band lies beyond the measured points, in words; empty where nothing does."""
        low, high = float(self.frequency[0]), float(self.frequency[-1])
        beyond = [f"below {low:g} Hz"] * (band[0] < low) + [f"above {high:g} Hz"] * (band[1] > high)
        return f"{' and '.join(beyond)} nothing was measured: the end values are held" if beyond else ""


def gain_db(cabin: Cabin, frequency: Floats) -> Floats:
    """Gain in dB at any shape of frequencies, Hz."""
    return np.asarray(10.0 * np.log10(cabin.gain_squared(np.log(frequency))))


def mean_gain_db(cabin: Cabin, *, music_band: tuple[float, float]) -> float:
    """Gain in dB averaged over ln f from one end of the band (Hz) to the other, as mean output is."""
    low, high = (math.log(edge) for edge in music_band)
    levels = 10.0 * np.log10(cabin.gain_squared(np.linspace(low, high, _AVERAGED + 1)))
    return float(np.mean(0.5 * (levels[1:] + levels[:-1])))


def read_cabin(path: Path) -> MeasuredCabin:
    """A measured cabin from a CSV file of frequency in Hz and level in dB.

    Two columns a row, a comma, semicolon or tab between them; a semicolon or tab leaves the comma free as
    decimal sign, and where it might be either the file is refused.  Empty lines and lines that start with # or *
    are passed over, and so is one line of names before the first numbers, but dB and Hz must then not be the
    wrong way round.  Columns after the second, such as a phase, are not read.

    Raises InputFaults with every fault of the file: missing, too large, not text, too few points, what is no
    number or no plausible one, frequencies that do not rise or are no bass.
    """
    source = str(path)
    try:
        if not path.is_file():
            raise refusal(source, "no_file" if path.exists() else "no_such_file")
        if path.stat().st_size > LARGEST_FILE:
            raise refusal(source, "measurement_too_large")
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refusal(source, "not_utf8") from None
    except OSError as error:
        raise refusal(source, "unreadable", reason=error.strerror or str(error)) from None
    return parse_cabin(text, source=source)


def parse_cabin(text: str, *, source: str) -> MeasuredCabin:
    """The same from text already read; see :func:`read_cabin`."""
    lines = [
        (number, line.strip())
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and line.lstrip()[0] not in "#*"
    ]
    if not lines:
        raise refusal(source, "measurement_empty")
    separator = next((sign for sign in ("\t", ";") if any(sign in line for _, line in lines)), ",")
    faults: list[Fault] = []
    points: list[tuple[int, float, float]] = []
    rows = [(number, line, _cells(line, separator)) for number, line in lines]
    if separator == "," and (mixed := _mixed_commas(rows)):
        number, line, _ = mixed
        raise refusal(source, "mixed_commas", key=f"line {number}", value=_short(line))
    for place, (number, line, cells) in enumerate(rows):
        key = f"line {number}"
        if place == 0 and _is_header(cells):
            if "khz" in cells[0].lower():
                faults.append(Fault(source, key, _short(line), "in_kilohertz"))
            elif cells[0].lower() in _LEVEL_NAMES or (len(cells) > 1 and cells[1].lower() in _FREQUENCY_NAMES):
                faults.append(Fault(source, key, _short(line), "columns_swapped"))
            continue
        if len(cells) < 2:
            faults.append(Fault(source, key, _short(line), "few_columns"))
            continue
        pair = []
        for cell, (name, (low, high)) in zip(cells, (("frequency", FREQUENCIES), ("level", LEVELS)), strict=False):
            value = _number(cell, comma=separator != ",")
            if value is None or not low <= value <= high:
                is_khz = name == "frequency" and value is not None and 0.0 < value < low
                code = "no_frequency_but_kilohertz" if is_khz else f"no_{name}"
                faults.append(Fault(source, f"{key}, {name}", _short(cell) or BLANK, code, {"low": low, "high": high}))
            else:
                pair.append(value)
        if len(pair) == 2:
            if points and pair[0] <= points[-1][1]:
                last = {"before": points[-1][1], "line": points[-1][0]}
                faults.append(Fault(source, f"{key}, frequency", _short(cells[0]), "line_not_rising", last))
            points.append((number, pair[0], pair[1]))
    if len(points) < FEWEST_POINTS and not faults:
        faults.append(Fault(source, "", "", "few_lines", {"count": len(points), "least": FEWEST_POINTS}))
    if len(points) > MOST_POINTS:
        faults.append(Fault(source, "", "", "many_lines", {"count": len(points), "most": MOST_POINTS}))
    if not faults and (points[0][1] > _BASS[0] or points[-1][1] < _BASS[1]):
        faults.append(Fault(source, "", "", "no_bass", {"low": points[0][1], "high": points[-1][1]}))
    if faults:
        raise InputFaults(faults)
    return MeasuredCabin(
        frequency=np.array([point[1] for point in points]),
        level_db=np.array([point[2] for point in points]),
        source=source,
    )


def _cells(line: str, separator: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader(io.StringIO(line), delimiter=separator))]
    except csv.Error:  # a cell longer than any number, in quotes that are not closed
        return [line]


def _mixed_commas(rows: list[tuple[int, str, list[str]]]) -> tuple[int, str, list[str]] | None:
    """The first row whose commas may stand in its numbers: more than two columns, and nowhere a point."""
    numbers = [row for row in rows if not _is_header(row[2])]
    if any("." in line for _, line, _ in numbers):
        return None
    return next((row for row in numbers if len(row[2]) > 2), None)


def _is_header(cells: list[str]) -> bool:
    """Whether a first row holds names: no cell begins as a number would."""
    return all(cell and not (cell[0].isdigit() or cell[0] in "+-.,") for cell in cells[:2])


def _number(text: str, *, comma: bool) -> float | None:
    if comma and "." not in text:
        text = text.replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and "_" not in text else None


def _short(text: str) -> str:
    printable = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)
    return printable if len(printable) <= 60 else printable[:59] + "…"
