"""An invented catalogue of drivers, made from the physics: nothing in it is or resembles a real one's sheet.

What is drawn is what a maker chooses, with some scatter: the size, the moving mass, the suspension's compliance, the
motor's strength, the coil.  All else follows by Thiele's and Small's relations (Small 1972), so that every sheet agrees
with itself as far as its rounding goes.  How the choices go with the size is made up to look like a trade's range.

    python -m tests.invented_drivers 300 > drivers.csv
"""

from __future__ import annotations

import csv
import io
import math
import sys

import numpy as np

from engine.air import REFERENCE_AIR

SIZES = (6.5, 8.0, 10.0, 12.0, 15.0)  # in, nominal
SHARES = (0.10, 0.22, 0.28, 0.28, 0.12)
COILS = ((1, 2.0), (1, 4.0), (2, 2.0), (2, 4.0), (1, 8.0), (2, 1.0), (1, 1.0))  # how many, of which nominal impedance
COIL_SHARES = (0.10, 0.28, 0.22, 0.22, 0.06, 0.08, 0.04)
COLUMNS = (
    "name", "counts", "fs", "qes", "qms", "qts", "vas", "sd", "mms", "bl", "re", "le", "xmax", "rated_power", "coils",
    "coil_impedance", "stated_wiring", "outer_diameter", "cutout_diameter", "magnet_diameter", "mounting_depth",
    "displacement", "mass", "price",
)  # fmt: skip


def invented_drivers(count: int, *, seed: int = 1) -> list[dict[str, str]]:
    """So many rows of a catalogue, by column; same seed, same drivers, the first ones whatever the count."""
    rng = np.random.default_rng(seed)
    found: list[dict[str, str]] = []
    while len(found) < count:
        if (row := _invented(rng, len(found) + 1)) is not None:
            found.append(row)
    return found


def catalogue_text(rows: list[dict[str, str]], *, priced: bool = False) -> str:
    """Rows as the CSV text of a catalogue; prices, which a job needs a currency for, on request."""
    text = io.StringIO()
    lines = csv.DictWriter(text, COLUMNS if priced else COLUMNS[:-1], lineterminator="\n", extrasaction="ignore")
    lines.writeheader()
    lines.writerows(rows)
    return text.getvalue()


def _invented(rng: np.random.Generator, number: int) -> dict[str, str] | None:
    """One driver; None where what was drawn is none that anybody would sell."""
    size = float(rng.choice(SIZES, p=SHARES))
    coils, impedance = COILS[int(rng.choice(len(COILS), p=COIL_SHARES))]
    class_ = rng.uniform()  # from a plain one to an expensive one with long travel

    def scatter(share: float) -> float:
        return float(np.exp(share * rng.standard_normal()))

    outer = size * 25.4 * (1.02 + 0.03 * rng.uniform())
    cutout = outer - 22.0 - 8.0 * rng.uniform()
    cone = cutout * (0.84 + 0.05 * rng.uniform())  # mm, half the surround included
    sd = math.pi / 4.0 * (1e-3 * cone) ** 2
    mms = (0.045 + 0.055 * class_) * (size / 8.0) ** 2.1 * scatter(0.15)
    fs_wanted = (40.0 - 1.0 * size) * scatter(0.12) * (1.08 - 0.16 * class_)
    cms = 1.0 / ((2.0 * math.pi * fs_wanted) ** 2 * mms)
    joined = impedance / coils  # coils in parallel
    re = joined * rng.uniform(0.80, 0.92)
    strength = 2.0 * math.pi * fs_wanted * mms / (0.52 * scatter(0.18))  # (Bl)²/Re, N s/m
    bl = math.sqrt(strength * re)
    rms = 2.0 * math.pi * fs_wanted * mms / (5.5 * scatter(0.25))
    # What follows.
    fs = 1.0 / (2.0 * math.pi * math.sqrt(mms * cms))
    qes, qms = 2.0 * math.pi * fs * mms * re / bl**2, 2.0 * math.pi * fs * mms / rms
    vas = REFERENCE_AIR.stiffness * sd**2 * cms
    xmax = (6.0 + 11.0 * class_) * (size / 10.0) ** 0.35 * scatter(0.10)  # mm
    coil = 38.0 + 38.0 * class_ * (size / 12.0) ** 0.5  # mm across
    power = 140.0 * (coil / 38.0) ** 2.2 * scatter(0.12)
    magnet = min(coil * 1.7 + 32.0 + 18.0 * rng.uniform(), cutout - 4.0)
    slim = 0.62 if rng.uniform() < 0.2 else 1.0
    depth = slim * (24.0 + 4.6 * size + 3.2 * xmax) * scatter(0.04)
    steel = 2.0 * xmax + 22.0  # mm, how high the motor is
    mass = 0.55 + 1e-9 * math.pi / 4.0 * magnet**2 * steel * 5_600.0 + 0.012 * size**1.9
    taken = math.pi / 4.0 * magnet**2 * steel + 0.22 * math.pi / 4.0 * cutout**2 * max(depth - steel, 10.0)  # mm³
    price = round((14.0 + 0.10 * power + 1.6 * size + 4.5 * xmax) * scatter(0.18))
    inductance = 0.28 * joined**0.9 * (coil / 50.0) * scatter(0.2)  # mH
    if not (0.25 < qes < 1.2 and 18.0 < fs < 60.0 and depth > 40.0 and steel < depth - 20.0):
        return None
    return {
        "name": f"invented {size:g} no. {number:03d}",
        "counts": "1, 2" if size <= 10.0 else "1",
        "fs": f"{fs:.1f} Hz",
        "qes": f"{qes:.3f}",
        "qms": f"{qms:.2f}",
        "qts": f"{qes * qms / (qes + qms):.3f}",
        "vas": f"{1e3 * vas:.1f} L",
        "sd": f"{1e4 * sd:.0f} cm^2",
        "mms": f"{1e3 * mms:.0f} g",
        "bl": f"{bl:.2f} T m",
        "re": f"{re:.2f} ohm",
        "le": f"{inductance:.2f} mH",
        "xmax": f"{xmax:.1f} mm",
        "rated_power": f"{10 * round(power / 10):.0f} W",
        "coils": str(coils),
        "coil_impedance": f"{impedance:g} ohm",
        "stated_wiring": "parallel",
        "outer_diameter": f"{outer:.0f} mm",
        "cutout_diameter": f"{cutout:.0f} mm",
        "magnet_diameter": f"{magnet:.0f} mm",
        "mounting_depth": f"{depth:.0f} mm",
        "displacement": f"{1e-6 * taken:.2f} L",
        "mass": f"{mass:.1f} kg",
        "price": f"{price} EUR",
    }


if __name__ == "__main__":
    print(catalogue_text(invented_drivers(int(sys.argv[1]))), end="")
