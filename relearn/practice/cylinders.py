"""Filling and burning: what the cylinders breathe, and the torque that comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from relearn.practice.air import R_AIR

RPM = 30.0 / pi  # rad/s to rpm
FOUR_STROKE = 4.0 * pi  # rad from one filling of all cylinders to the next


@dataclass(frozen=True, slots=True)
class Cylinders:
    """Sizes, volumetric efficiency, fuel, and when the charge burns."""

    displacement_m3: float
    manifold_m3: float
    ve_base: float
    ve_per_pressure_ratio: float
    ve_per_rpm: float
    air_fuel_ratio: float
    heating_value_j_kg: float
    indicated_efficiency: float
    best_timing_deg: float
    timing_loss_per_deg2: float
    firing_none_rpm: float
    firing_full_rpm: float
    cranking_fire_s: float
    starting_fill: float


def volumetric_efficiency(cylinders: Cylinders, speed_rpm: float, pressure_ratio: float) -> float:
    """Share of the swept volume filled with manifold air; pressure_ratio: manifold to ambient."""
    return cylinders.ve_base + cylinders.ve_per_pressure_ratio * pressure_ratio + cylinders.ve_per_rpm * speed_rpm


def filling_kg(cylinders: Cylinders, speed_rpm: float, manifold_pa: float, ambient_pa: float, charge_k: float) -> float:
    """Air in all cylinders after one filling, by speed and density: ideal gas."""
    share = volumetric_efficiency(cylinders, speed_rpm, manifold_pa / ambient_pa)
    return share * cylinders.displacement_m3 * manifold_pa / (R_AIR * charge_k)


def timing_efficiency(cylinders: Cylinders, timing_deg: float) -> float:
    """Torque at this spark timing, as a share of torque at the best one."""
    off_deg = timing_deg - cylinders.best_timing_deg
    return max(0.0, 1.0 - cylinders.timing_loss_per_deg2 * off_deg * off_deg)


def indicated_nm(cylinders: Cylinders, charge_kg: float, timing_deg: float) -> float:
    """Torque from one filling of all cylinders, burnt with the right fuel."""
    heat_j = charge_kg / cylinders.air_fuel_ratio * cylinders.heating_value_j_kg
    return heat_j * cylinders.indicated_efficiency * timing_efficiency(cylinders, timing_deg) / FOUR_STROKE


def pumping_nm(cylinders: Cylinders, ambient_pa: float, manifold_pa: float) -> float:
    """Torque spent on drawing a vacuum."""
    return (ambient_pa - manifold_pa) * cylinders.displacement_m3 / FOUR_STROKE


def burning_share(cylinders: Cylinders, speed_rpm: float, by_itself: bool) -> float:
    """Share of the charge that does useful work: with the starter's help, or by itself, when slow turning costs it."""
    if not by_itself:
        return cylinders.starting_fill
    band = cylinders.firing_full_rpm - cylinders.firing_none_rpm
    return min(max((speed_rpm - cylinders.firing_none_rpm) / band, 0.0), 1.0)
