"""Air as physics has it: the standard atmosphere, and flow through an orifice. Closed forms, no tuning."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

GAMMA = 1.4
R_AIR = 287.05287  # J/(kg K), ISO 2533
SEA_LEVEL_PA, SEA_LEVEL_K = 101325.0, 288.15  # ISO 2533
LAPSE_K_M, GRAVITY_M_S2 = 0.0065, 9.80665
ZERO_C_K = 273.15

CRITICAL_RATIO: float = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))
CHOKED_FACTOR: float = sqrt(GAMMA) * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))
# Above this ratio the square root is replaced by a straight line to nothing, or a fixed step would overshoot.
STRAIGHT_FROM = 0.98


class Air(NamedTuple):
    """Air of one moment: through the throttle, past it by a leak, into the cylinders."""

    throttle_kg_s: float = 0.0
    leak_kg_s: float = 0.0
    cylinders_kg_s: float = 0.0


STILL = Air()


def standard_temperature_k(altitude_m: float) -> float:
    """ISO 2533 temperature in the troposphere (0 to 11 000 m)."""
    return SEA_LEVEL_K - LAPSE_K_M * altitude_m


def standard_pressure_pa(altitude_m: float) -> float:
    """ISO 2533 pressure in the troposphere (0 to 11 000 m)."""
    ratio = standard_temperature_k(altitude_m) / SEA_LEVEL_K
    return float(SEA_LEVEL_PA * ratio ** (GRAVITY_M_S2 / (R_AIR * LAPSE_K_M)))


def density_kg_m3(pressure_pa: float, temperature_k: float) -> float:
    """Ideal gas."""
    return pressure_pa / (R_AIR * temperature_k)


def flow_factor(ratio: float) -> float:
    """Dimensionless isentropic mass flow at a downstream/upstream pressure ratio; choked at or below the critical one.

    A ratio of 1 or more gives 0: nothing flows back here.
    """
    if ratio <= CRITICAL_RATIO:
        return CHOKED_FACTOR
    if ratio > STRAIGHT_FROM:
        return FACTOR_THERE * max(0.0, 1.0 - ratio) / (1.0 - STRAIGHT_FROM)
    return _isentropic(ratio)


def _isentropic(ratio: float) -> float:
    drop = ratio ** (2.0 / GAMMA) - ratio ** ((GAMMA + 1.0) / GAMMA)
    return sqrt(2.0 * GAMMA / (GAMMA - 1.0) * float(drop))


FACTOR_THERE = _isentropic(STRAIGHT_FROM)


def orifice_kg_s(area_m2: float, upstream_pa: float, upstream_k: float, downstream_pa: float) -> float:
    """Mass flow through an effective area, from still air upstream."""
    return area_m2 * upstream_pa / sqrt(R_AIR * upstream_k) * flow_factor(downstream_pa / upstream_pa)
