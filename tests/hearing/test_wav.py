"""A user's WAV file: every usual form of it is read, every fault refused in a sentence."""

from __future__ import annotations

import contextlib
import io
import math
import wave

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.io import wavfile

from engine.errors import InputFaults
from engine.hearing import wav
from engine.hearing.sounds import LONGEST, RATE, SOUNDS, banded, sweep, tone
from engine.hearing.wav import WRITTEN, finer, read_wav, sound_called, written

HERTZ = 50.0


def samples(*, rate: int = 44_100, seconds: float = 2.0, hertz: float = HERTZ, size: float = 0.6) -> np.ndarray:
    time = np.arange(int(rate * seconds)) / rate
    ends = np.minimum(1.0, np.minimum(time, time[::-1]) / 0.2)
    return size * ends * np.sin(2.0 * math.pi * hertz * time)


def as_file(values: np.ndarray, rate: int) -> bytes:
    file = io.BytesIO()
    wavfile.write(file, rate, values)
    return file.getvalue()


def of_bytes(values: np.ndarray, *, rate: int, width: int, channels: int = 1) -> bytes:
    """PCM written byte by byte, for widths that scipy does not write."""
    steps = np.rint(values * (2 ** (8 * width - 1) - 1)).astype("<i4")
    raw = steps.view(np.uint8).reshape(-1, 4)[:, :width].tobytes()
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(width)
        out.setframerate(rate)
        out.writeframes(raw)
    return file.getvalue()


USUAL = samples()
FORMS = {
    "8 bits": as_file(np.rint(128.0 + 127.0 * USUAL).astype(np.uint8), 44_100),
    "16 bits": as_file(np.rint(32767.0 * USUAL).astype(np.int16), 44_100),
    "24 bits": of_bytes(USUAL, rate=44_100, width=3),
    "32 bits": as_file(np.rint(2147483647.0 * USUAL).astype(np.int32), 44_100),
    "floats": as_file(USUAL.astype(np.float32), 44_100),
    "long floats": as_file(USUAL, 44_100),
    "stereo": as_file(np.stack([USUAL, USUAL], axis=1).astype(np.float32), 44_100),
    "floats beyond one": as_file((5.0 * USUAL).astype(np.float32), 44_100),
    **{
        f"{rate} Hz": as_file(samples(rate=rate).astype(np.float32), rate)
        for rate in (4_000, 8_000, 11_025, 22_050, 44_099, 48_000, 88_200, 96_000, 192_000)
    },
}


@pytest.mark.parametrize("form", FORMS)
def test_every_usual_form_is_the_same_sound(form: str) -> None:
    """Promise to the user: a 50 Hz tone is one of the same peak, pitch and length, whatever it is written in."""
    sound = read_wav(FORMS[form], source="mine.wav")
    assert sound.seconds == pytest.approx(2.1, abs=0.01)
    assert np.max(np.abs(sound.samples)) == pytest.approx(1.0)
    middle = sound.samples[RATE // 2 : RATE // 2 + RATE]
    spectrum = np.abs(np.fft.rfft(middle)) / len(middle) * 2.0
    assert np.argmax(spectrum) == HERTZ
    assert spectrum[int(HERTZ)] == pytest.approx(1.0, abs=0.01)
    assert math.sqrt(np.sum(spectrum**2) - spectrum[int(HERTZ)] ** 2) < 0.02


def test_what_is_above_200_hz_is_not_played_and_what_is_below_is_untouched() -> None:
    """Promise to the user: 190 Hz stays, 1 kHz and an offset go."""
    both = samples(hertz=190.0, size=0.3) + samples(hertz=1000.0, size=0.3) + 0.1
    sound = read_wav(as_file(both.astype(np.float32), 44_100), source="mine.wav")
    spectrum = np.abs(np.fft.rfft(sound.samples[RATE // 2 : RATE // 2 + RATE]))
    assert np.argmax(spectrum) == 190
    assert max(spectrum[1000], spectrum[0]) < 0.01 * spectrum[190]


def test_two_channels_are_one_after_the_mean() -> None:
    """Promise to the user: what is in one channel alone is half as large, what is opposite is nothing."""
    left, right = samples(hertz=40.0), samples(hertz=90.0)
    sound = read_wav(as_file(np.stack([left + right, left - right], axis=1).astype(np.float32), 44_100), source="a")
    spectrum = np.abs(np.fft.rfft(sound.samples[RATE // 2 : RATE // 2 + RATE]))
    assert spectrum[90] < 1e-3 * spectrum[40]


def test_of_a_long_file_the_part_with_most_bass_is_played() -> None:
    """Promise to the user: 20 s of it, those with the bass."""
    quiet, loud = samples(rate=4_000, seconds=25.0, size=0.01), samples(rate=4_000, seconds=25.0)
    sound = read_wav(as_file(np.concatenate([quiet, loud]).astype(np.float32), 4_000), source="a")
    assert sound.seconds == pytest.approx(LONGEST)
    assert sound.crest_db == pytest.approx(3.0, abs=0.1)


SILENT = as_file(np.zeros(44_100, dtype=np.int16), 44_100)
HOLED = USUAL.astype(np.float32)
HOLED[1000] = np.nan
BAD = {
    "empty": (b"", "cannot be read as a WAV file"),
    "text": (b"RIFFed off" * 40, "cannot be read as a WAV file"),
    "head alone": (FORMS["16 bits"][:30], "cannot be read as a WAV file"),
    "no samples": (as_file(np.zeros(0, dtype=np.int16), 44_100), "lasts 0.00 s: expected 0.1 s to 15 minutes"),
    "too short": (as_file(USUAL[:2000].astype(np.float32), 44_100), "lasts 0.05 s: expected 0.1 s to 15 minutes"),
    "too long": (as_file(np.zeros(4_000 * 901, dtype=np.uint8), 4_000), "lasts 901.00 s: expected 0.1 s to 15 min"),
    "many channels": (as_file(np.zeros((44_100, 3), dtype=np.int16), 44_100), "has 3 channels: expected one or two"),
    "slow": (as_file(USUAL.astype(np.float32), 1_000), "has 1000 samples a second: expected 4000 to 384 000"),
    "silence": (SILENT, "has nothing below 200 Hz"),
    "treble": (as_file(samples(hertz=2000.0).astype(np.float32), 44_100), "has nothing below 200 Hz"),
    "holes": (as_file(HOLED, 44_100), "holds samples that are no numbers"),
}


@pytest.mark.parametrize("what", BAD)
def test_a_bad_file_is_refused_in_a_sentence(what: str) -> None:
    """Contract: one fault, which names the file."""
    data, sentence = BAD[what]
    with pytest.raises(InputFaults, match=sentence) as caught:
        read_wav(data, source="mine.wav")
    assert len(caught.value.faults) == 1
    assert str(caught.value).startswith("mine.wav: ")


def test_a_file_too_large_is_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    """Contract: bounded in size."""
    monkeypatch.setattr(wav, "MOST_BYTES", 1000)
    with pytest.raises(InputFaults, match="is larger than 0 MB"):
        read_wav(FORMS["16 bits"], source="mine.wav")


@given(place=st.integers(0, 60), value=st.binary(min_size=1, max_size=6), cut=st.integers(0, 400))
def test_no_damage_breaks_the_reader(place: int, value: bytes, cut: int) -> None:
    """Contract: whatever stands in a file, it is a sound or a fault."""
    data = FORMS["16 bits"][: 2000 - cut]
    data = data[:place] + value + data[place + len(value) :]
    found = np.zeros(1)
    with contextlib.suppress(InputFaults):
        found = read_wav(data, source="mine.wav").samples
    assert np.all(np.isfinite(found))


@pytest.mark.parametrize("name", SOUNDS)
def test_sounds_made_here_are_bass_within_one(name: str) -> None:
    """Contract: peak 1, begin and end in silence, nothing above 300 Hz, long enough to be heard, the same each time."""
    sound = SOUNDS[name]()
    assert np.max(np.abs(sound.samples)) == pytest.approx(1.0, abs=1e-3)
    assert 5.0 < sound.seconds < LONGEST
    assert max(abs(sound.samples[0]), abs(sound.samples[-1])) < 1e-3
    spectrum = np.abs(np.fft.rfft(sound.samples))
    beyond = np.fft.rfftfreq(len(sound.samples), 1.0 / RATE) > 300.0
    assert np.sum(spectrum[beyond] ** 2) < 1e-5 * np.sum(spectrum**2)
    assert np.array_equal(sound.samples, SOUNDS[name]().samples)
    assert sound_called(name).name == sound.name


def test_the_band_has_no_delay() -> None:
    """Analytic limit: a tone comes out as it went in, a tenth of a second later."""
    found = banded(tone(60.0, seconds=2.0).samples, peak=math.nan)
    given_, got = tone(60.0, seconds=2.0).samples[3000:4500], found[3300:4800]
    assert np.max(np.abs(given_ - got)) < 1e-3


def test_what_is_written_reads_back_within_its_dither() -> None:
    """Contract: 48 kHz, one channel, 16 bits; two steps of noise at most; the same bytes each time; never clipped."""
    found = finer(0.5 * sweep().samples)
    data = written(found)
    rate, back = wavfile.read(io.BytesIO(data))
    assert (rate, back.dtype, back.shape) == (WRITTEN, np.int16, found.shape)
    assert np.max(np.abs(back / 32766.0 - found)) < 2.0 / 32766.0
    assert written(found) == data
    with pytest.raises(ValueError, match="full scale"):
        written(3.0 * found)


def test_sixteen_times_as_many_samples_are_the_same_sound() -> None:
    """Analytic limit: band-limited, so every sixteenth sample is the old one."""
    found = finer(SOUNDS["drum"]().samples)
    assert np.max(np.abs(found[:: WRITTEN // RATE] - SOUNDS["drum"]().samples)) < 1e-9
