"""How the invented car's engine module learns its idle by the pedal: what it waits for, its lamp, and what it keeps.

What it asks for is what the steps of the idle air volume relearn say (from memory); how patient it is with each, and
when its lamp begins to blink, is invented with the car.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum, auto
from typing import NamedTuple

from relearn.practice.governor import Command


class Stage(Enum):
    """How far the module has got. OTHERWISE: nothing is under way until the ignition has been off."""

    OFF = auto()
    READY = auto()
    PRESSES = auto()
    WAIT = auto()
    HOLD = auto()
    LIT = auto()
    ACCEPTED = auto()
    LEARNING = auto()
    OTHERWISE = auto()


@dataclass(frozen=True, slots=True)
class Asks:
    """What the module asks of driver and supply, its lamp's rhythm, and how fast it learns once the engine idles."""

    full_pct: float
    released_pct: float
    on_s: float
    presses: int
    presses_within_s: float
    wait_least_s: float
    wait_most_s: float
    least_v: float
    blinks_after_s: float
    blink_period_s: float
    lit_after_s: float
    release_within_s: float
    learns_for_s: float
    learns_per_s: float


class Learning(NamedTuple):
    """Stage and how long in it, full presses since the ignition came on, whether the pedal is down from one of them.

    offset_pct: opening by which the throttle was found to differ from what the module knew.
    """

    stage: Stage = Stage.OFF
    for_s: float = 0.0
    presses: int = 0
    down: bool = False
    offset_pct: float = 0.0


UNTAUGHT = Learning()


class Watched(NamedTuple):
    """What the module goes by in one step."""

    ignition: bool
    pedal_pct: float
    running: bool
    supply_v: float


def learn(asks: Asks, before: Learning, watched: Watched, dt: float) -> Learning:
    """One step. Whatever comes too early, too late or not at all ends in OTHERWISE; what was learned is kept."""
    if not watched.ignition:
        return Learning(offset_pct=before.offset_pct)
    if before.stage is Stage.OTHERWISE:
        return before
    down = _down(asks, before.down, watched.pedal_pct)
    presses = before.presses + (down and not before.down)
    seen = Learning(before.stage, before.for_s + dt, presses, down, before.offset_pct)
    stage = _next(asks, seen, watched)
    return seen if stage is before.stage else seen._replace(stage=stage, for_s=0.0)


def lamp(asks: Asks, learning: Learning) -> bool:
    """Whether the relearn lights the malfunction lamp: blinking in the hold, then lit until the engine starts."""
    if learning.stage is Stage.HOLD:
        blinking_s = learning.for_s - asks.blinks_after_s
        return blinking_s >= 0.0 and blinking_s % asks.blink_period_s < asks.blink_period_s / 2.0
    return learning.stage in (Stage.LIT, Stage.ACCEPTED)


def handed_over(asks: Asks, learning: Learning, command: Command, dt: float) -> tuple[Learning, Command]:
    """While it learns: part of what the governor's integral had to add becomes known, and the integral is relieved."""
    if learning.stage is not Stage.LEARNING:
        return learning, command
    moved_pct = asks.learns_per_s * dt * command.integral_pct
    kept = learning._replace(offset_pct=learning.offset_pct + moved_pct)
    return kept, command._replace(integral_pct=command.integral_pct - moved_pct)


def _down(asks: Asks, before: bool, pedal_pct: float) -> bool:
    """Down from a full press on, until it is released; half-way it is what it was."""
    return pedal_pct >= asks.full_pct or (before and pedal_pct > asks.released_pct)


def _next(asks: Asks, seen: Learning, watched: Watched) -> Stage:
    if watched.running and seen.stage not in (Stage.ACCEPTED, Stage.LEARNING):
        return Stage.OTHERWISE
    return NEXT[seen.stage](asks, seen, watched)


def _off(asks: Asks, seen: Learning, watched: Watched) -> Stage:
    return Stage.READY if watched.pedal_pct <= asks.released_pct else Stage.OTHERWISE


def _ready(asks: Asks, seen: Learning, watched: Watched) -> Stage:
    if not seen.down:
        return Stage.READY
    return Stage.PRESSES if seen.for_s >= asks.on_s else Stage.OTHERWISE


def _presses(asks: Asks, seen: Learning, watched: Watched) -> Stage:
    if seen.for_s > asks.presses_within_s:
        return Stage.OTHERWISE
    return Stage.WAIT if seen.presses == asks.presses and not seen.down else Stage.PRESSES


def _wait(asks: Asks, seen: Learning, watched: Watched) -> Stage:
    if seen.down:
        return Stage.HOLD if seen.for_s >= asks.wait_least_s else Stage.OTHERWISE
    return Stage.WAIT if seen.for_s <= asks.wait_most_s else Stage.OTHERWISE


def _hold(asks: Asks, seen: Learning, watched: Watched) -> Stage:
    if watched.pedal_pct < asks.full_pct or watched.supply_v < asks.least_v:
        return Stage.OTHERWISE
    return Stage.LIT if seen.for_s >= asks.lit_after_s else Stage.HOLD


def _lit(asks: Asks, seen: Learning, watched: Watched) -> Stage:
    if seen.for_s > asks.release_within_s:
        return Stage.OTHERWISE
    return Stage.LIT if seen.down else Stage.ACCEPTED


def _accepted(asks: Asks, seen: Learning, watched: Watched) -> Stage:
    return Stage.LEARNING if watched.running else Stage.ACCEPTED


def _learning(asks: Asks, seen: Learning, watched: Watched) -> Stage:
    return Stage.LEARNING if watched.running and seen.for_s <= asks.learns_for_s else Stage.OTHERWISE


NEXT: Mapping[Stage, Callable[[Asks, Learning, Watched], Stage]] = {
    Stage.OFF: _off,
    Stage.READY: _ready,
    Stage.PRESSES: _presses,
    Stage.WAIT: _wait,
    Stage.HOLD: _hold,
    Stage.LIT: _lit,
    Stage.ACCEPTED: _accepted,
    Stage.LEARNING: _learning,
}
