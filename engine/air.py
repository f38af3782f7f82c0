"""Air: density and speed of sound from temperature and altitude."""

from __future__ import annotations

from dataclasses import dataclass

GAS_CONSTANT = 287.05287  # J/(kg K), dry air, ISO 2533:1975
SEA_LEVEL_PRESSURE = 101_325.0  # Pa, ISO 2533:1975
REFERENCE_TEMPERATURE = 293.15  # K, 20 °C
REFERENCE_SPEED = 343.2  # m/s at 20 °C, ISO 9613-1:1993


@dataclass(frozen=True)
class Air:
    """Dry air: density ``rho`` in kg/m³, speed of sound ``c`` in m/s."""

    rho: float
    c: float

    @property
    def stiffness(self) -> float:
        """ρc² in Pa: the bulk modulus that makes a volume a spring."""
        return self.rho * self.c**2


REFERENCE_AIR = Air(rho=1.2041, c=REFERENCE_SPEED)


def air_at(*, temperature_k: float = REFERENCE_TEMPERATURE, altitude_m: float = 0.0) -> Air:
    """Dry air at a temperature (K) and an altitude (m).

    Speed of sound after ISO 9613-1:1993, c = 343.2·sqrt(T/293.15); pressure after the standard atmosphere ISO
    2533:1975, p = 101325·(1 - 0.0065·H/288.15)^5.25588 (valid below 11 km); density from the ideal gas law.  Humidity
    is left out: at 20 °C and 50 % it changes ρ by -0.4 % and c by +0.2 % (Cramer 1993).
    """
    pressure = SEA_LEVEL_PRESSURE * (1.0 - 0.0065 * altitude_m / 288.15) ** 5.25588
    speed = REFERENCE_SPEED * (temperature_k / REFERENCE_TEMPERATURE) ** 0.5
    return Air(rho=pressure / (GAS_CONSTANT * temperature_k), c=speed)
