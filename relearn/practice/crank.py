"""What turns and brakes the crankshaft besides combustion: starter, friction, driveline."""

from __future__ import annotations

from dataclasses import dataclass

from relearn.practice.cylinders import RPM

WARM_OIL_C = 90.0


@dataclass(frozen=True, slots=True)
class Crank:
    """Inertia, drag, starter and driveline."""

    inertia_kg_m2: float
    friction_nm: float
    friction_per_rpm_nm: float
    cold_friction_per_k: float
    accessory_nm: float
    roughness_nm: float
    starter_stall_nm: float
    starter_free_rpm: float
    clutch_nm_per_rad_s: float
    clutch_capacity_nm: float
    clutch_from_rpm: float
    rpm_per_km_h: tuple[float, ...]


def friction_nm(crank: Crank, speed_rpm: float, oil_c: float) -> float:
    """Rubbing and accessories: more with speed and with cold oil."""
    cold = 1.0 + crank.cold_friction_per_k * max(0.0, WARM_OIL_C - oil_c)
    return (crank.friction_nm + crank.friction_per_rpm_nm * speed_rpm) * cold + crank.accessory_nm


def starter_nm(crank: Crank, speed_rpm: float) -> float:
    """The starter's torque falls with speed and is nothing once the engine outruns it."""
    return max(0.0, crank.starter_stall_nm * (1.0 - speed_rpm / crank.starter_free_rpm))


def clutch_nm(crank: Crank, speed_rpm: float, vehicle_km_h: float, gear: int) -> float:
    """What the driveline takes from the engine (negative: gives); none in neutral or when it turns too slowly."""
    driveline_rpm = crank.rpm_per_km_h[gear] * vehicle_km_h
    if driveline_rpm < crank.clutch_from_rpm:
        return 0.0
    pulled_nm = crank.clutch_nm_per_rad_s * (speed_rpm - driveline_rpm) / RPM
    return min(max(pulled_nm, -crank.clutch_capacity_nm), crank.clutch_capacity_nm)
