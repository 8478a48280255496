"""Warm-up and cooling: Newton's law, a thermostat that opens over a band, and what follows the coolant."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class Heat:
    """Heat capacity, losses and lags of the engine."""

    coolant_j_k: float
    fuel_share: float
    body_w_k: float
    radiator_w_k: float
    radiator_per_km_h: float
    thermostat_opens_c: float
    thermostat_full_c: float
    thermostat_lag_s: float
    oil_lag_s: float
    intake_rise_k: float
    intake_lag_s: float


class Temperatures(NamedTuple):
    """Coolant, oil and intake air in °C, and how far the thermostat stands open (0 to 1)."""

    coolant_c: float
    oil_c: float
    intake_c: float
    thermostat: float = 0.0


def wanted_opening(heat: Heat, coolant_c: float) -> float:
    """Where the thermostat goes: 0 at `thermostat_opens_c` and below, 1 at `thermostat_full_c` and above."""
    band = heat.thermostat_full_c - heat.thermostat_opens_c
    return min(max((coolant_c - heat.thermostat_opens_c) / band, 0.0), 1.0)


def loss_w_k(heat: Heat, thermostat: float, vehicle_km_h: float) -> float:
    """Heat lost per kelvin above ambient."""
    radiator = heat.radiator_w_k * (1.0 + heat.radiator_per_km_h * vehicle_km_h)
    return heat.body_w_k + thermostat * radiator


def warm(
    heat: Heat, now: Temperatures, heating_w: float, ambient_c: float, vehicle_km_h: float, dt: float
) -> Temperatures:
    """One step of Newton's law for the coolant; oil, intake air and thermostat follow with their lags."""
    lost_w = loss_w_k(heat, now.thermostat, vehicle_km_h) * (now.coolant_c - ambient_c)
    rise_k = heat.intake_rise_k / (1.0 + 0.1 * vehicle_km_h)
    return Temperatures(
        now.coolant_c + (heating_w - lost_w) / heat.coolant_j_k * dt,
        now.oil_c + (now.coolant_c - now.oil_c) * dt / heat.oil_lag_s,
        now.intake_c + (ambient_c + rise_k - now.intake_c) * dt / heat.intake_lag_s,
        now.thermostat + (wanted_opening(heat, now.coolant_c) - now.thermostat) * dt / heat.thermostat_lag_s,
    )
