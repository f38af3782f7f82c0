"""What fibres in a closed box do: they make its air softer, and they take from the sound.

Fibres hold the air's temperature, so it gives like air γ = 1.40 times as much: that is the limit. What is
met in practice is 1.15 to 1.25; Small 1972 names about 25 % as typical and 40 % as ideal (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Filling:
    """``compliance`` multiplies the box's compliance, 1 to 1.4; ``qa`` is the absorption's Q at the box's resonance."""

    compliance: float
    qa: float


# Compliance as above; Q of the absorption is common practice, no source.
FILLINGS: dict[str, Filling] = {
    "none": Filling(1.0, float("inf")),
    "lined": Filling(1.05, 50.0),
    "half": Filling(1.12, 20.0),
    "full": Filling(1.20, 8.0),
}
