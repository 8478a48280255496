"""Battery, alternator or workshop supply, and load: one node whose voltage is what the module reports."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class Electrics:
    """The battery and what charges and loads it."""

    rest_v: float
    resistance_ohm: float
    polarisation_f: float
    polarisation_fade_s: float
    regulated_v: float
    alternator_from_rpm: float
    alternator_a_per_rpm: float
    alternator_greatest_a: float
    alternator_efficiency: float
    base_load_a: float
    key_on_load_a: float
    starter_a: float
    starter_inrush_a: float


class Battery(NamedTuple):
    """polarisation_v: how far charging has lifted it above rest. node_v: at its posts. source_a: from the charger."""

    polarisation_v: float
    node_v: float
    source_a: float = 0.0


class Source(NamedTuple):
    """Whatever charges: the voltage it holds, as long as it need not give more than `greatest_a`."""

    held_v: float
    greatest_a: float


def alternator(electrics: Electrics, speed_rpm: float, health: float) -> Source:
    """The alternator at this engine speed; health 1 is good, 0 is dead."""
    able_a = (speed_rpm - electrics.alternator_from_rpm) * electrics.alternator_a_per_rpm
    return Source(electrics.regulated_v, health * min(max(able_a, 0.0), electrics.alternator_greatest_a))


def share(electrics: Electrics, battery: Battery, source: Source, load_a: float, dt: float) -> Battery:
    """One step: the source holds its voltage if it can; what it cannot give comes from the battery, at a lower one."""
    open_v = electrics.rest_v + battery.polarisation_v
    wanted_a = load_a + (source.held_v - open_v) / electrics.resistance_ohm
    source_a = min(max(wanted_a, 0.0), source.greatest_a)
    charge_a = source_a - load_a
    fade_v = battery.polarisation_v * dt / electrics.polarisation_fade_s
    lifted_v = battery.polarisation_v + charge_a * dt / electrics.polarisation_f - fade_v
    return Battery(max(lifted_v, 0.0), open_v + electrics.resistance_ohm * charge_a, source_a)
