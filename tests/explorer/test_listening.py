"""The command that writes what designs sound like."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile

from explorer.cli import main
from explorer.demo_fronts import folder_of

FRONT = str(folder_of("van-bench"))


def test_files_and_figures_of_two_designs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Promise to the user: two files of one length and scale at 48 kHz; words in the user's units; a caution."""
    asked = ["listen", "van-bench", FRONT, "D0001", "D0700", "--sound", "bass", "--units", "us"]
    assert main([*asked, "--out", str(tmp_path / "new" / "heard")]) == 0
    told = capsys.readouterr().out
    assert "D0001 is " in told
    assert "louder than D0700 in this sound." in told
    assert " in of 0.39 in" in told
    assert "Turn your headphones down before you start" in told
    assert "An indication for headphones" in told
    (rate, one), (_, two) = (wavfile.read(tmp_path / "new" / "heard" / f"{name}.wav") for name in ("D0001", "D0700"))
    assert rate == 48_000
    assert len(one) == len(two)
    assert np.max(np.abs(one)) == pytest.approx(0.5 * 32766, rel=1e-3)
    assert 20.0 * np.log10(np.std(two / 1.0) / np.std(one / 1.0)) < -3.0


def test_alike_they_are_equally_loud(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Promise to the user: the louder one is turned down, and by how much is said."""
    assert main(["listen", "van-bench", FRONT, "D0001", "D0700", "--alike", "--out", str(tmp_path)]) == 0
    assert "Equally loud by mean level: D0001 is turned down by" in capsys.readouterr().out
    one, two = (np.std(wavfile.read(tmp_path / f"{name}.wav")[1] / 1.0) for name in ("D0001", "D0700"))
    assert one == pytest.approx(two, rel=1e-3)


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (["D9999"], "ID: D9999: the front has no such design"),
        (["D0001", "--sound", "gong"], "--sound: gong: there is no such sound: expected drum, bass or sweep"),
        (["D0001", "--sound", "README.md"], "README.md: cannot be read as a WAV file"),
        (["D0001", "--sound", "none.wav"], "none.wav: No such file"),
    ],
)
def test_what_cannot_be_played_is_refused(
    asked: list[str], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Contract: exit status 2, one sentence, nothing written."""
    assert main(["listen", "van-bench", FRONT, *asked, "--out", str(tmp_path / "out")]) == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
