"""A mean-value engine: frozen parameters, a frozen state, and one step from one state to the next.

The parts (throttle, cylinders, crank, governor, learning, fuel, thermal, electrics) know little of each other; `step`
is where they meet. Units are in the names; air flows are in kg/s. What every step makes anew is a NamedTuple, here and
in the parts: it is made in a third of the time of a frozen dataclass.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from relearn.practice.air import R_AIR, SEA_LEVEL_PA, STILL, ZERO_C_K, Air, orifice_kg_s
from relearn.practice.crank import Crank, clutch_nm, friction_nm, starter_nm
from relearn.practice.cylinders import FOUR_STROKE, RPM, Cylinders, burning_share, filling_kg, indicated_nm, pumping_nm
from relearn.practice.electrics import Battery, Electrics, Source, alternator, share
from relearn.practice.fuel import Trimming, Trims, loop_state, trim
from relearn.practice.governor import Command, Idle, Seen, govern
from relearn.practice.learning import UNTAUGHT, Asks, Learning, Watched, handed_over, learn
from relearn.practice.thermal import Heat, Temperatures, wanted_opening, warm
from relearn.practice.throttle import MM2, Plate, Throttle, area_m2, follow

DATA = Path(__file__).with_name("data")
TURNING_RPM = 40.0  # slower than this is standing still
STANDING_KM_H = 1.0
LEAST_MANIFOLD = 0.05  # of ambient pressure
KEY_OFF_A = 0.5


@dataclass(frozen=True, slots=True)
class Pedal:
    """What the two pedal tracks read, in % of their supply."""

    d_released_pct: float
    d_span_pct: float
    e_released_pct: float
    e_span_pct: float


@dataclass(frozen=True, slots=True)
class Engine:
    """All parameters of the engine, as `data/engine.toml` holds them."""

    throttle: Throttle
    cylinders: Cylinders
    crank: Crank
    governor: Idle
    learning: Asks
    heat: Heat
    electrics: Electrics
    fuel: Trimming
    pedal: Pedal


@dataclass(frozen=True, slots=True)
class Inputs:
    """What happens to the engine from outside in one step: driver, road, weather, and what is wrong with the car.

    fuel_cut: the module stops the engine by itself. electric_load_a: above the usual.
    leak_mm2: area that lets air in behind the meter. meter_gain: what the meter shows of the air through it.
    sticks_pct: the throttle moves only for more than this. closed_error_pct: where the plate really stands when the
    module believes it shut (0: learned). integral_gain: how hard the governor's integral corrects (1: right).
    coolant_open, intake_open: that sensor's circuit is broken. alternator_health: 1 good, 0 dead.
    supply_v: a workshop supply of at most supply_a, instead of the alternator; 0 for none.
    """

    ignition: bool = False
    starter: bool = False
    fuel_cut: bool = False
    pedal_pct: float = 0.0
    vehicle_km_h: float = 0.0
    gear: int = 0
    electric_load_a: float = 0.0
    ambient_c: float = 20.0
    ambient_pa: float = SEA_LEVEL_PA
    leak_mm2: float = 0.0
    meter_gain: float = 1.0
    sticks_pct: float = 0.0
    closed_error_pct: float = 0.0
    integral_gain: float = 1.0
    coolant_open: bool = False
    intake_open: bool = False
    alternator_health: float = 1.0
    supply_v: float = 0.0
    supply_a: float = 40.0


class State(NamedTuple):
    """The engine at one moment.

    turned_s: how long it has been turning. running_s: how long by itself, 0 while it stands or is cranked.
    run_time_s: time it ran since the ignition came on, not counted back by a stop.
    """

    speed_rad_s: float
    manifold_pa: float
    plate: Plate
    command: Command
    temperatures: Temperatures
    battery: Battery
    trims: Trims
    air: Air = STILL
    learning: Learning = UNTAUGHT
    turned_s: float = 0.0
    running_s: float = 0.0
    run_time_s: float = 0.0

    @property
    def speed_rpm(self) -> float:
        """Engine speed."""
        return self.speed_rad_s * RPM

    @property
    def charge_k(self) -> float:
        """Temperature of the air in the manifold."""
        return self.temperatures.intake_c + ZERO_C_K


SECTIONS: Mapping[str, type] = {
    "throttle": Throttle,
    "cylinders": Cylinders,
    "crank": Crank,
    "governor": Idle,
    "learning": Asks,
    "heat": Heat,
    "electrics": Electrics,
    "fuel": Trimming,
    "pedal": Pedal,
}


def load(changes: Mapping[str, Mapping[str, float]] = MappingProxyType({})) -> Engine:
    """The invented engine of `data/engine.toml`, with some of its numbers changed: section, name, value."""
    data = tomllib.loads((DATA / "engine.toml").read_text(encoding="utf-8"))
    sections: dict[str, Any] = {
        name: kind(**{**data[name], **changes.get(name, {})}) for name, kind in SECTIONS.items()
    }
    return Engine(**sections)


def at_rest(engine: Engine, inputs: Inputs, begin: Temperatures, trims: Trims) -> State:
    """The engine standing, the battery at rest, the thermostat where it belongs at this temperature."""
    valve = wanted_opening(engine.heat, begin.coolant_c)
    heat = Temperatures(begin.coolant_c, begin.oil_c, begin.intake_c, valve)
    command = Command(0.0, engine.governor.idle_timing_deg)
    return State(0.0, inputs.ambient_pa, Plate(0.0), command, heat, Battery(0.0, engine.electrics.rest_v), trims)


def step(engine: Engine, before: State, inputs: Inputs, roughness: float, dt: float) -> State:
    """The state `dt` seconds later (at most 0.01). roughness: −1 to 1, the chance part of this step's combustion."""
    turned_s, running_s = _turning_s(before, inputs, dt)
    learning, command = _module(engine, before, inputs, running_s, dt)
    beyond_pct = before.learning.offset_pct + inputs.closed_error_pct
    opening_pct = command.opening_pct + beyond_pct if inputs.ignition else 0.0
    air = _air(engine, before, inputs)
    burning = _burning(engine.cylinders, before, inputs, running_s)
    battery = _electricity(engine.electrics, before, inputs, running_s, dt)
    torque_nm = _driving_nm(engine, before, inputs, command.timing_deg, burning, roughness)
    speed_rad_s = _turned(engine, before, inputs, torque_nm, battery.source_a, dt)
    heating_w = _heating_w(engine, air, burning)
    loop = loop_state(engine.fuel, running_s, before.temperatures.coolant_c)
    return State(
        speed_rad_s,
        _filled_pa(engine, before, inputs, air, dt),
        follow(engine.throttle, before.plate, opening_pct, inputs.sticks_pct, dt),
        command,
        warm(engine.heat, before.temperatures, heating_w, inputs.ambient_c, inputs.vehicle_km_h, dt),
        battery,
        trim(engine.fuel, before.trims, loop, _needed_pct(air, inputs), before.speed_rpm, dt),
        air,
        learning,
        turned_s,
        running_s,
        (before.run_time_s if inputs.ignition else 0.0) + dt * (running_s > 0.0),
    )


def _turning_s(before: State, inputs: Inputs, dt: float) -> tuple[float, float]:
    """How long it has been turning, and turning by itself."""
    turning = inputs.ignition and before.speed_rpm > TURNING_RPM
    turned_s = before.turned_s + dt if turning else 0.0
    by_itself = turning and not inputs.fuel_cut and not (inputs.starter and before.running_s == 0.0)
    return turned_s, before.running_s + dt if by_itself else 0.0


def _module(engine: Engine, before: State, inputs: Inputs, running_s: float, dt: float) -> tuple[Learning, Command]:
    seen = _seen(before, inputs, running_s)
    command = govern(engine.governor, inputs.integral_gain, before.command, seen, dt)
    watched = Watched(inputs.ignition, inputs.pedal_pct, running_s > 0.0, before.battery.node_v)
    return handed_over(engine.learning, learn(engine.learning, before.learning, watched, dt), command, dt)


def _seen(before: State, inputs: Inputs, running_s: float) -> Seen:
    return Seen(
        before.speed_rpm,
        before.temperatures.coolant_c,
        inputs.electric_load_a,
        inputs.pedal_pct,
        running_s,
        inputs.vehicle_km_h < STANDING_KM_H,
    )


def _air(engine: Engine, before: State, inputs: Inputs) -> Air:
    ambient_k, manifold_pa = inputs.ambient_c + ZERO_C_K, before.manifold_pa
    if before.speed_rad_s == 0.0 and manifold_pa == inputs.ambient_pa:
        return STILL
    area = area_m2(engine.throttle, before.plate.opening_pct)
    filled_kg = filling_kg(engine.cylinders, before.speed_rpm, manifold_pa, inputs.ambient_pa, before.charge_k)
    return Air(
        orifice_kg_s(area, inputs.ambient_pa, ambient_k, manifold_pa),
        orifice_kg_s(inputs.leak_mm2 * MM2, inputs.ambient_pa, ambient_k, manifold_pa) if inputs.leak_mm2 else 0.0,
        filled_kg * before.speed_rad_s / FOUR_STROKE,
    )


def _filled_pa(engine: Engine, before: State, inputs: Inputs, air: Air, dt: float) -> float:
    """Ideal gas in the manifold: what flows in and does not flow out raises the pressure."""
    gained_kg = (air.throttle_kg_s + air.leak_kg_s - air.cylinders_kg_s) * dt
    pressure_pa = before.manifold_pa + gained_kg * R_AIR * before.charge_k / engine.cylinders.manifold_m3
    return min(max(pressure_pa, LEAST_MANIFOLD * inputs.ambient_pa), inputs.ambient_pa)


def _burning(cylinders: Cylinders, before: State, inputs: Inputs, running_s: float) -> float:
    """Share of the charge that does useful work, 0 without fuel."""
    if not inputs.ignition or inputs.fuel_cut or before.turned_s < cylinders.cranking_fire_s:
        return 0.0
    if running_s == 0.0 and not inputs.starter:
        return 0.0
    return burning_share(cylinders, before.speed_rpm, by_itself=not inputs.starter)


def _driving_nm(
    engine: Engine, before: State, inputs: Inputs, timing_deg: float, burning: float, roughness: float
) -> float:
    """Combustion with its scatter, and the starter."""
    starting_nm = starter_nm(engine.crank, before.speed_rpm) if inputs.starter else 0.0
    if burning <= 0.0:
        return starting_nm
    charge_kg = filling_kg(engine.cylinders, before.speed_rpm, before.manifold_pa, inputs.ambient_pa, before.charge_k)
    burnt_nm = indicated_nm(engine.cylinders, charge_kg, timing_deg) * burning
    return burnt_nm + roughness * engine.crank.roughness_nm + starting_nm


def _turned(engine: Engine, before: State, inputs: Inputs, driving_nm: float, source_a: float, dt: float) -> float:
    """Speed after a step of Newton's second law for rotation; at a standstill friction only holds."""
    if before.speed_rad_s == 0.0 and driving_nm <= 0.0:
        return 0.0
    speed_rpm = before.speed_rpm
    drag_nm = friction_nm(engine.crank, speed_rpm, before.temperatures.oil_c)
    if before.speed_rad_s > 0.0:
        drag_nm += pumping_nm(engine.cylinders, inputs.ambient_pa, before.manifold_pa)
        drag_nm += clutch_nm(engine.crank, speed_rpm, inputs.vehicle_km_h, inputs.gear)
    if speed_rpm > engine.electrics.alternator_from_rpm and not inputs.supply_v:
        drag_nm += source_a * engine.electrics.regulated_v / engine.electrics.alternator_efficiency / before.speed_rad_s
    return max(0.0, before.speed_rad_s + (driving_nm - drag_nm) / engine.crank.inertia_kg_m2 * dt)


def _electricity(electrics: Electrics, before: State, inputs: Inputs, running_s: float, dt: float) -> Battery:
    source = (
        Source(inputs.supply_v, inputs.supply_a)
        if inputs.supply_v
        else alternator(electrics, before.speed_rpm, inputs.alternator_health)
    )
    return share(electrics, before.battery, source, _load_a(electrics, before, inputs, running_s), dt)


def _load_a(electrics: Electrics, before: State, inputs: Inputs, running_s: float) -> float:
    if not inputs.ignition:
        return KEY_OFF_A
    usual_a = electrics.base_load_a if running_s > 0.0 else electrics.key_on_load_a
    cranking_a = electrics.starter_a if before.speed_rpm > TURNING_RPM else electrics.starter_inrush_a
    return usual_a + inputs.electric_load_a + cranking_a * inputs.starter


def _heating_w(engine: Engine, air: Air, burning: float) -> float:
    if burning <= 0.0:
        return 0.0
    fuel_kg_s = air.cylinders_kg_s / engine.cylinders.air_fuel_ratio
    return fuel_kg_s * engine.cylinders.heating_value_j_kg * engine.heat.fuel_share


def _needed_pct(air: Air, inputs: Inputs) -> float:
    """How much more fuel than the meter asks for the air in the manifold really needs."""
    if air.throttle_kg_s <= 0.0:
        return 0.0
    return 100.0 * ((air.throttle_kg_s + air.leak_kg_s) / (air.throttle_kg_s * inputs.meter_gain) - 1.0)
