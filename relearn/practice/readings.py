"""What the engine module would show of a moment, by channel name, with the small noise of real sensors."""

from __future__ import annotations

from collections.abc import Mapping
from random import Random

from relearn.practice.air import SEA_LEVEL_K, SEA_LEVEL_PA
from relearn.practice.cylinders import filling_kg
from relearn.practice.drive import Moment
from relearn.practice.engine import Engine
from relearn.practice.fuel import Loop
from relearn.practice.learning import lamp

OPEN_CIRCUIT_C = -40.0  # SAE J1979: raw 00
LOAD_DENSITY_KG_M3 = 1.184  # SAE J1979, absolute load: air at 25 °C
WIRING_V = 0.04  # between the battery and the module


def readings(engine: Engine, moment: Moment, rng: Random) -> Mapping[str, float]:
    """All channels of the engine module at a moment; `idle_correction`, which only broadcast frames carry; and
    `learning_lamp`: whether the idle relearn lights the malfunction lamp."""
    return {
        **_motion(engine, moment),
        **_air(engine, moment, rng),
        **_throttle(engine, moment, rng),
        **_fuel(engine, moment),
        **_surroundings(engine, moment, rng),
    }


def _motion(engine: Engine, moment: Moment) -> dict[str, float]:
    state, inputs = moment.state, moment.inputs
    return {
        "engine_speed": state.speed_rpm,
        "vehicle_speed": inputs.vehicle_km_h,
        "run_time": float(int(state.run_time_s)),
        "timing_advance": state.command.timing_deg,
        "idle_correction": state.command.integral_pct,
        "neutral_drive_status": float(inputs.gear > 0),
        "obd_requirement": 3.0,
        "learning_lamp": float(lamp(engine.learning, state.learning)),
    }


def _air(engine: Engine, moment: Moment, rng: Random) -> dict[str, float]:
    state, inputs = moment.state, moment.inputs
    turning = state.speed_rpm > 0.0
    metered = state.air.throttle_kg_s * inputs.meter_gain * turning
    filled_kg = turning * filling_kg(
        engine.cylinders, state.speed_rpm, state.manifold_pa, inputs.ambient_pa, state.charge_k
    )
    full_kg = filling_kg(engine.cylinders, state.speed_rpm, SEA_LEVEL_PA, SEA_LEVEL_PA, SEA_LEVEL_K)
    return {
        "mass_air_flow": 1000.0 * metered * (1.0 + rng.uniform(-0.015, 0.015)),
        "intake_manifold_pressure": (state.manifold_pa + rng.uniform(-300.0, 300.0)) / 1000.0,
        "barometric_pressure": inputs.ambient_pa / 1000.0,
        "calculated_load": 100.0 * filled_kg / full_kg,
        "absolute_load": 100.0 * filled_kg / (engine.cylinders.displacement_m3 * LOAD_DENSITY_KG_M3),
    }


def _throttle(engine: Engine, moment: Moment, rng: Random) -> dict[str, float]:
    state, pedal = moment.state, engine.pedal
    pressed = moment.inputs.pedal_pct / 100.0
    closed_pct = engine.throttle.closed_reading_pct
    span = (100.0 - closed_pct) / 100.0
    position_pct = closed_pct + span * state.plate.opening_pct + rng.uniform(-0.1, 0.1)
    return {
        "throttle_position": position_pct,
        "relative_throttle_position": max(0.0, position_pct - closed_pct - span * moment.inputs.closed_error_pct),
        "commanded_throttle_actuator": state.command.opening_pct + state.learning.offset_pct,
        "accelerator_pedal_position_d": pedal.d_released_pct + pedal.d_span_pct * pressed + rng.uniform(-0.1, 0.1),
        "accelerator_pedal_position_e": pedal.e_released_pct + pedal.e_span_pct * pressed + rng.uniform(-0.1, 0.1),
        "relative_accelerator_pedal_position": 100.0 * pressed,
    }


def _fuel(engine: Engine, moment: Moment) -> dict[str, float]:
    trims = moment.state.trims
    return {
        "fuel_system_1_status": float(trims.loop),
        "short_term_fuel_trim_bank_1": trims.short_pct + _dither_pct(moment),
        "long_term_fuel_trim_bank_1": trims.long_pct(engine.fuel, moment.state.speed_rpm),
        "commanded_equivalence_ratio": 1.0,
        "fuel_level": 62.0,
    }


def _dither_pct(moment: Moment) -> float:
    """Closed-loop control steps rich and lean about once a second."""
    if moment.state.trims.loop is not Loop.CLOSED:
        return 0.0
    return 0.8 if moment.time_us // 450_000 % 2 else -0.8


def _surroundings(engine: Engine, moment: Moment, rng: Random) -> dict[str, float]:
    state, inputs = moment.state, moment.inputs
    return {
        "coolant_temperature": OPEN_CIRCUIT_C if inputs.coolant_open else state.temperatures.coolant_c,
        "intake_air_temperature": OPEN_CIRCUIT_C if inputs.intake_open else state.temperatures.intake_c,
        "engine_oil_temperature": state.temperatures.oil_c,
        "ambient_air_temperature": inputs.ambient_c,
        "control_module_voltage": state.battery.node_v - WIRING_V + rng.uniform(-0.02, 0.02),
    }
