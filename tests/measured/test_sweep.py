"""Sweeps as instruments write them: promises to the user, one message with every fault and where it stands."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from engine.errors import InputFaults
from engine.measured.sweep import Sweep, parse_sweep, read_sweep, sweep_text, text_of

HZ = np.geomspace(10.0, 200.0, 40)
Z = 5.0 + 20.0 / (1.0 + 3j * (HZ / 40.0 - 40.0 / HZ))
OHM, DEG = np.abs(Z), np.degrees(np.angle(Z))


def written(
    row: str = "{f}{s}{z}{s}{p}", *, sep: str = ",", dec: str = ".", head: str = "", hz: float = 1.0, ohm: float = 1.0,
    phase: float = 1.0,
) -> str:  # fmt: skip
    """The sweep as text: each row made by a format of frequency, impedance and phase, each by a factor."""

    def cell(value: float) -> str:
        return f"{value:.5f}".replace(".", dec)

    rows = [
        row.format(s=sep, f=cell(f * hz), z=cell(z * ohm), p=cell(p * phase))
        for f, z, p in zip(HZ, OHM, DEG, strict=True)
    ]
    return head + "\n".join(rows) + "\n"


def faults_of(text: str) -> list[tuple[str, str]]:
    with pytest.raises(InputFaults) as raised:
        parse_sweep(text, source="a.csv")
    assert all(str(fault).startswith("a.csv: ") for fault in raised.value.faults)
    return [(fault.key, fault.code) for fault in raised.value.faults]


RAD = math.pi / 180.0
READ = {
    "commas, no names": written(),
    "semicolons, decimal commas": written(sep=";", dec=",", head="Freq;Z;Phase [°]\r\n"),
    "tabs, names in a remark": written(sep="\t", dec=",", head="* made today\n* Freq(Hz)\t|Z|(Ohm)\tPhase(deg)\n"),
    "spaces, decimal commas": written(sep="  ", dec=","),
    "spaces after commas": written(sep=", "),
    "kHz, kohm, rad": written(head="f (kHz),Impedance (kohm),Phase (rad)\n", hz=1e-3, ohm=1e-3, phase=RAD),
    "units in a line of their own": written(head="Frequency,Impedance,Phase\nHz,Ohm,Deg\n"),
    "other order, one column more": written("{p},{z},1.5,{f}", head="Phase (deg),|Z|,Level,Frequency\n"),
    "separator at the end": written("{f};{z};{p};"),
    "quotes": written('"{f}","{z}","{p}"', head='"Frequency","Impedance","Phase"\n'),
    "blank lines and remarks": written(head="\n# one\n\n# two\n").replace("\n", "\n\n"),
}


@pytest.mark.parametrize("text", READ.values(), ids=READ)
def test_files_of_every_make_read_alike(text: str) -> None:
    """Promise: separators, decimal signs, units, names and remarks as instruments write them."""
    found = parse_sweep(text, source="a.csv")
    np.testing.assert_allclose(found.frequency, HZ, rtol=1e-3)
    np.testing.assert_allclose(found.magnitude, OHM, rtol=2e-3)
    assert found.phase is not None
    np.testing.assert_allclose(found.phase, np.radians(DEG), atol=1e-3)


def test_real_and_imaginary_parts_read_too() -> None:
    """Promise: R and X, as bridges give them."""
    rows = "\n".join(f"{f:.5f},{z.real:.5f},{z.imag:.5f}" for f, z in zip(HZ, Z, strict=True))
    found = parse_sweep("f,R,X\n" + rows, source="a.csv")
    np.testing.assert_allclose(found.magnitude, OHM, rtol=1e-4)
    np.testing.assert_allclose(found.phase, np.radians(DEG), atol=1e-4)


def test_rows_in_any_order_and_frequencies_twice() -> None:
    """Promise: sorted, and what stands at one frequency averaged and counted."""
    lines = written("{f},{z}").splitlines()
    found = parse_sweep("\n".join([*lines[::-1], lines[3]]), source="a.csv")
    assert len(found) == len(HZ)
    assert found.averaged == 1
    assert np.all(np.diff(found.frequency) > 0.0)
    assert found.phase is None


@pytest.mark.parametrize(
    ("data", "heading"),
    [("Frequency;|Z| (Ω);Phase (°)\r\n".encode("cp1253"), "(°)"),
     ("\ufeffFrequency;|Z| (Ω);Phase (°)\r\n".encode(), "Ω"),
     ("Frequency;|Z| (Ω);Phase (°)\r\n".encode("utf-16"), "Ω")],
    ids=["Windows", "UTF-8 with a mark", "UTF-16"],
)  # fmt: skip
def test_what_programs_on_windows_write(data: bytes, heading: str) -> None:
    """Promise: marks at the beginning, other encodings and line ends are no fault."""
    assert "Phase" in text_of(data)
    assert "\ufeff" not in text_of(data)
    assert heading in text_of(data)


REFUSED = {
    "nothing": ("", [("", "sweep_empty")]),
    "words": ("Dear instrument,\nhello\n", [("", "sweep_no_figures")]),
    "one column": ("10\n20\n30\n", [("line 1", "sweep_one_column")]),
    "few points": ("\n".join(written().splitlines()[:5]), [("", "few_lines")]),
    "no number": (written().replace("\n", "\nnan,5,1\n", 1), [("line 2, frequency", "sweep_no_number")]),
    "zero and below": (
        written("{f},{z}").replace("\n", "\n11.5,0\n12.5,-3\n", 1),
        [("line 2, impedance", "sweep_impedance"), ("line 3, impedance", "sweep_impedance")],
    ),
    "commas in both": (written(dec=","), [("line 1", "mixed_commas")]),
    "columns without names": (written("{f},{z},{p},{p}"), [("line 1", "sweep_columns")]),
    "columns in the wrong order": (written("{z},{f}"), [("line 1", "sweep_columns")]),
    "a name twice": (written(head="Hz,Ohm,Ohm\n"), [("", "sweep_column_twice")]),
    "no impedance named": (
        written(head="Frequency,Phase,Angle\n"), [("", "sweep_column_twice"), ("", "sweep_no_column")],
    ),
    "decibels": (written("{f},{z}", head="Frequency (Hz),Impedance (dB)\n"), [("", "sweep_decibels")]),
    "kHz not stated": (written("{f},{z}", hz=1e-3), [("", "sweep_kilohertz")]),
    "phase in an unknown unit": (written(phase=RAD), [("", "sweep_phase_unit_missing")]),
    "phase beyond a right angle": (written(phase=4.0), [("", "sweep_phase_range")]),
    "a row cut short": (written().replace("\n", "\n11.5\n", 1), [("line 2", "sweep_row")]),
    "words among the figures": (written().replace("\n", "\nend of part 1\n", 1), [("line 2", "sweep_row")]),
}  # fmt: skip


@pytest.mark.parametrize(("text", "faults"), REFUSED.values(), ids=REFUSED)
def test_bad_files_are_refused_with_the_reason(text: str, faults: list[tuple[str, str]]) -> None:
    """Promise: file, line, what is wrong; all at once."""
    assert faults_of(text) == faults


def test_files_that_are_none_or_too_large(tmp_path: Path) -> None:
    """Promise: one message, no traceback."""
    large = tmp_path / "large.csv"
    large.write_text("1,2\n" * 300_000, encoding="utf-8")
    for path, words in ((tmp_path / "absent.csv", "no such file"), (large, "1 MB"), (tmp_path, "no file")):
        with pytest.raises(InputFaults, match=words):
            read_sweep(path)


@pytest.mark.parametrize("phase", [None, np.angle(Z)], ids=["without", "with"])
def test_a_sweep_that_is_kept_reads_back(tmp_path: Path, phase: np.ndarray | None) -> None:
    """Round trip of the text that a job keeps, and of the sweep that is offered to try."""
    path = tmp_path / "kept.csv"
    path.write_text(sweep_text(Sweep(source="a.csv", frequency=HZ, magnitude=OHM, phase=phase)), encoding="utf-8")
    found = read_sweep(path)
    np.testing.assert_allclose(found.magnitude, OHM, rtol=1e-5)
    assert (found.phase is None) == (phase is None)
