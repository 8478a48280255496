"""What the car's modules send without being asked, as `dbc_examples/broadcast.dbc` lays it out."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from random import Random
from typing import Any

import cantools

from relearn.errors import ProcedureError
from relearn.practice.drive import STEP_US, moments
from relearn.practice.engine import DATA, Engine
from relearn.practice.readings import readings
from relearn.practice.scenario import Scenario
from relearn.practice.transport import Sent

DATABASE = Path(__file__).parents[2] / "dbc_examples" / "broadcast.dbc"
JITTER_US = 250


@dataclass(frozen=True)
class Plan:
    """One message: how often, what is in its signals, which one counts frames, which one chooses between pages."""

    every_s: float
    signals: Mapping[str, str | float]
    counter: str | None = None
    pages: str | None = None


@dataclass
class Turn:
    """One message on its way through a capture: how many frames it has sent, and when the next is due."""

    message: Any
    plan: Plan
    due_us: int
    sent: Iterator[int] = field(default_factory=count)


def record(engine: Engine, scenario: Scenario) -> list[Sent]:
    """All frames of a capture in time order; none while the ignition is off."""
    rng = Random(f"{scenario.seed} broadcast")
    turns = [Turn(message, plan, rng.randrange(STEP_US)) for message, plan in _messages()]
    found: list[Sent] = []
    for moment in moments(engine, scenario):
        if moment.time_us >= scenario.duration_s * 1e6:
            return sorted(found)
        ready = [turn for turn in turns if turn.due_us < moment.time_us + STEP_US]
        values = readings(engine, moment, rng) if ready else {}
        for turn in ready:
            time_us, turn.due_us = turn.due_us, turn.due_us + round(turn.plan.every_s * 1e6)
            if moment.inputs.ignition:
                found.append(_sent(turn, time_us + rng.randrange(JITTER_US), values))
    raise AssertionError("moments have no end")


def _messages() -> list[tuple[Any, Plan]]:
    if not DATABASE.is_file():
        raise ProcedureError(
            "the signal database of the demo car is not there", path=DATABASE, remedy="run this in the project's folder"
        )
    database: Any = cantools.database.load_file(DATABASE)
    plans = tomllib.loads((DATA / "broadcast.toml").read_text(encoding="utf-8"))
    return [(database.get_message_by_name(name), Plan(**plan)) for name, plan in plans.items()]


def _sent(turn: Turn, time_us: int, values: Mapping[str, float]) -> Sent:
    message = turn.message
    data = message.encode(_raws(turn, next(turn.sent), values), scaling=False)
    return Sent(time_us, message.frame_id, message.is_extended_frame, bytes(data))


def _raws(turn: Turn, number: int, values: Mapping[str, float]) -> dict[str, float]:
    """Raw numbers of the signals in one frame."""
    plan = turn.plan
    wanted = {name: values[what] if isinstance(what, str) else what for name, what in plan.signals.items()}
    raws = {name: _raw(turn.message.get_signal_by_name(name), value) for name, value in wanted.items()}
    if plan.counter:
        raws[plan.counter] = number % 16
    if plan.pages:
        name = list(raws)[number % len(raws)]
        return {plan.pages: number % len(raws), name: raws[name]}
    return raws


def _raw(signal: Any, value: float) -> float:
    """The nearest raw number inside the signal's window; floating point signals carry the value itself."""
    inside: float = min(max(value, signal.minimum), signal.maximum)
    return inside if signal.is_float else round((inside - signal.offset) / signal.scale)
