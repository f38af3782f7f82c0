"""WAV files in and out.

What comes in is a user's file and as untrusted as any: bounded in size and length, with one sentence for what is wrong.
"""

from __future__ import annotations

import io
import struct
import warnings
import wave
from pathlib import Path

import numpy as np
from scipy import signal
from scipy.io import wavfile

from engine.arrays import Floats
from engine.errors import refusal
from engine.hearing.sounds import RATE, SOUNDS, Sound, own
from engine.words.voice import Names

WRITTEN = 48_000  # Hz, of what is written
MOST_BYTES = 64 * 2**20
MOST_SECONDS = 900.0
LEAST_SECONDS = 0.1
_RATES = (4_000, 384_000)  # Hz
# What made it, in a chunk that players pass over (Multimedia Programming Interface and Data Specifications 1.0, 1991).
_MADE_WITH = b"LIST\x18\x00\x00\x00INFOISFT\x0c\x00\x00\x00wedgefront\x00\x00"
_SEED = 1  # of the dither, so that the same sound gives the same file
# What scipy raises for a file that is none, or is cut off.
_UNREADABLE = (ValueError, EOFError, struct.error, TypeError, KeyError, IndexError, OverflowError, MemoryError,
               ZeroDivisionError, UnboundLocalError)  # fmt: skip


def read_wav(data: bytes, *, source: str) -> Sound:
    """A user's WAV file as a sound: its bass, both channels of a stereo file together.

    PCM of 8 to 32 bits or floats, one or two channels, 4 kHz to 384 kHz, a tenth of a second to 15 minutes long; of a
    long one the 20 s with most bass.  Raises InputFaults.
    """
    if len(data) > MOST_BYTES:
        raise refusal(source, "wav_large", megabytes=MOST_BYTES // 2**20)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", wavfile.WavFileWarning)  # chunks of notes and pictures, or an end cut off
            rate, found = wavfile.read(io.BytesIO(data))
    except _UNREADABLE:
        raise refusal(source, "no_wav") from None
    channels = 1 if found.ndim == 1 else found.shape[1]
    for code, wrong, told in (
        ("wav_channels", channels > 2, {"count": channels}),
        ("wav_rate", not _RATES[0] <= rate <= _RATES[1], {"rate": rate}),
    ):
        if wrong:
            raise refusal(source, code, **told)
    seconds = len(found) / rate
    if not LEAST_SECONDS <= seconds <= MOST_SECONDS:
        raise refusal(source, "wav_length", seconds=f"{seconds:.2f}", minutes=round(MOST_SECONDS / 60.0))
    samples = _mono(found)
    if not np.all(np.isfinite(samples)):
        raise refusal(source, "wav_numbers")
    sound = own(samples, rate=int(rate), name=source)
    if sound is None:
        raise refusal(source, "wav_without_bass")
    return sound


def sound_called(name: str) -> Sound:
    """A sound of :data:`SOUNDS` by its name, or of a WAV file by its path.  Raises InputFaults."""
    if name in SOUNDS:
        return SOUNDS[name]()
    path = Path(name)
    if not path.exists() and path.parent == Path() and not path.suffix:
        raise refusal("--sound", "no_sound", value=name, known=Names(SOUNDS))
    if path.stat().st_size > MOST_BYTES:
        raise refusal(name, "wav_large", megabytes=MOST_BYTES // 2**20)
    return read_wav(path.read_bytes(), source=name)


def _mono(found: np.ndarray) -> Floats:
    """The mean of the channels, a middle of nought; bytes are written about 128."""
    middle = 128.0 if found.dtype == np.uint8 else 0.0
    samples = found.astype(np.float64) - middle
    return np.asarray(samples if samples.ndim == 1 else np.mean(samples, axis=1))


def finer(samples: Floats, *, rate: int = WRITTEN) -> Floats:
    """What is at :data:`RATE` at a whole multiple of it, band-limited; its ends are nothing."""
    return np.asarray(signal.resample(samples, len(samples) * (rate // RATE)))


def written(samples: Floats, *, rate: int = WRITTEN) -> bytes:
    """A WAV file of one channel and 16 bits, of samples within ±1 at ``rate``, with triangular dither of two steps.

    The dither keeps what is quiet free of distortion (Lipshitz, Wannamaker & Vanderkooy 1992, JAES 40, 355).  The
    same samples give the same bytes.
    """
    if np.max(np.abs(samples), initial=0.0) > 1.0:
        raise ValueError("a sample beyond full scale would be clipped")
    noise = np.random.default_rng(_SEED).random((2, len(samples)))
    steps = np.clip(np.rint(samples * 32766.0 + noise[0] - noise[1]), -32767, 32767).astype("<i2")
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes(steps.tobytes())
    whole = file.getvalue() + _MADE_WITH
    return whole[:4] + struct.pack("<I", len(whole) - 8) + whole[8:]
