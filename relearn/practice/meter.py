"""A meter at the battery while a module is written: a supply, the battery and what loads them, once a second."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from relearn.practice.drive import moments
from relearn.practice.engine import Engine
from relearn.practice.scenario import Scenario

HEADER = "Time (s),Battery voltage (V)"
EVERY_US = 1_000_000


def table(engine: Engine, scenario: Scenario) -> Iterator[str]:
    """Lines of a CSV table: a header, then one row a second."""
    rng = Random(f"{scenario.seed} meter")
    yield HEADER
    for moment in moments(engine, scenario):
        if moment.time_us > scenario.duration_s * 1e6:
            return
        if moment.time_us % EVERY_US == 0:
            volts = moment.state.battery.node_v + rng.uniform(-0.01, 0.01)
            yield f"{moment.time_us // EVERY_US},{volts:.2f}"
