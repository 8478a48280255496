"""The idle of two captures side by side, and what changed by more than its spread. Nothing is called good or bad.

changed, of a reading: the difference of the two means is more than their combined spread; a difference equal to it is
not a change. The combined spread is the root of the sum of the squares of both standard deviations (how far two single
samples differ by chance), and at least one step of the reading's own scaling, since steady means a step apart may be
one value rounded two ways. Cannot tell: a side without an idle long enough, without the reading, or with a single
sample of it, which shows no spread.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import hypot

from relearn.channels import Channel, between, plausible_only
from relearn.checks.extras import loop_state, trim_sum
from relearn.checks.idle import engine_speed, none_long_enough
from relearn.checks.settle import Settling, settle
from relearn.checks.view import View
from relearn.j1979.records import CodeKind, Codes
from relearn.j1979.table import signals
from relearn.procedures.sheets import Sheet
from relearn.verdict import Limits, Outcome

KINDS: tuple[CodeKind, ...] = ("stored", "pending", "permanent")


@dataclass(frozen=True)
class Level:
    """One reading over the judged idle. sd: None of a single sample."""

    mean: float
    sd: float | None
    samples: int


@dataclass(frozen=True)
class Side:
    """One capture's judged idle: the span that `settle` judges, or why there is none."""

    found: Settling
    missing: str | None

    @property
    def span_s(self) -> tuple[float, float] | None:
        steady = self.found.steady
        return None if steady is None else (steady.from_s, steady.to_s)


@dataclass(frozen=True)
class Reading:
    """One reading on both sides, None where a side has none. difference: after less before."""

    id: str
    unit: str
    before: Level | None
    after: Level | None
    difference: float | None
    spread: float | None
    changed: Outcome


@dataclass(frozen=True)
class State:
    """Something with a name instead of a number, None where it was not read."""

    id: str
    before: str | None
    after: str | None

    @property
    def changed(self) -> Outcome:
        if self.before is None or self.after is None:
            return Outcome.CANNOT_TELL
        return Outcome.YES if self.before != self.after else Outcome.NO


@dataclass(frozen=True)
class CodeChange:
    """One module's list of one kind. before, after: None where it was not read, and then gained and lost as well."""

    module: str
    kind: CodeKind
    before: tuple[str, ...] | None
    after: tuple[str, ...] | None

    @property
    def gained(self) -> tuple[str, ...] | None:
        return _without(self.after, self.before)

    @property
    def lost(self) -> tuple[str, ...] | None:
        return _without(self.before, self.after)


@dataclass(frozen=True)
class Compared:
    """Both idles and every reading that at least one of them shows."""

    before: Side
    after: Side
    readings: tuple[Reading, ...]
    loop: State


def compare(before: View, after: View, sheet: Sheet, target: Limits | None) -> Compared:
    """The judged idle of each capture (checks.settle, with the same sheet and target) beside the other's."""
    first, second = side(before, sheet, target), side(after, sheet, target)
    made = (_reading(name, _over(name, before, first, sheet), _over(name, after, second, sheet)) for name in READINGS)
    readings = tuple(one for one in made if one.before is not None or one.after is not None)
    return Compared(first, second, readings, State("fuel_loop", _loop(before, first), _loop(after, second)))


def side(view: View, sheet: Sheet, target: Limits | None) -> Side:
    """The idle that settle judges. missing: why there is none, None when there is one."""
    found = settle(view, sheet, target)
    if found.steady is not None:
        return Side(found, None)
    known = engine_speed(view) is not None
    return Side(found, none_long_enough(found.episodes, sheet) if known else "no engine speed in the capture")


def code_changes(before: Sequence[Codes], after: Sequence[Codes]) -> tuple[CodeChange, ...]:
    """The newest list of each kind, module by module, for every one that was read in either capture."""
    old, new = _newest(before), _newest(after)
    keys = sorted(old.keys() | new.keys(), key=lambda key: (key[0], KINDS.index(key[1])))
    return tuple(CodeChange(*key, old.get(key), new.get(key)) for key in keys)


def _newest(codes: Sequence[Codes]) -> Mapping[tuple[str, CodeKind], tuple[str, ...]]:
    return {(one.module, one.kind): one.codes for one in sorted(codes, key=lambda one: one.time_s)}


def _without(these: tuple[str, ...] | None, those: tuple[str, ...] | None) -> tuple[str, ...] | None:
    return None if these is None or those is None else tuple(code for code in these if code not in those)


def _loop(view: View, one: Side) -> str | None:
    found = loop_state(view, *one.span_s) if one.span_s is not None else None
    return found.state if found is not None else None


def _over(name: str, view: View, one: Side, sheet: Sheet) -> Channel | None:
    """The measurements of a reading over the judged idle; None where there are none."""
    channel = READINGS[name](view, sheet)
    if channel is None or one.span_s is None:
        return None
    during = between(plausible_only(channel), *one.span_s)
    return during if len(during) else None


def _reading(name: str, before: Channel | None, after: Channel | None) -> Reading:
    shown = before if before is not None else after
    old, new = _level(before), _level(after)
    unit = shown.unit if shown is not None else ""
    if old is None or new is None or old.sd is None or new.sd is None:
        return Reading(name, unit, old, new, None, None, Outcome.CANNOT_TELL)
    difference, spread = new.mean - old.mean, max(hypot(old.sd, new.sd), _step(name))
    changed = Outcome.YES if abs(difference) > spread else Outcome.NO
    return Reading(name, unit, old, new, difference, spread, changed)


def _level(channel: Channel | None) -> Level | None:
    if channel is None:
        return None
    sd = float(channel.value.std()) if len(channel) > 1 else None
    return Level(float(channel.value.mean()), sd, len(channel))


def _step(name: str) -> float:
    """One count of the reading's scaling (SAE J1979's tables); a sum of trims steps as the trims do."""
    return abs(signals()[CHANNELS[name]].scale)


def _channel(name: str, view: View, sheet: Sheet) -> Channel | None:
    return view.channels.get(name)


CHANNELS: Mapping[str, str] = {
    "engine_speed": "engine_speed",
    "throttle_position": "throttle_position",
    "mass_air_flow": "mass_air_flow",
    "short_trim_bank_1": "short_term_fuel_trim_bank_1",
    "long_trim_bank_1": "long_term_fuel_trim_bank_1",
    "trim_sum_bank_1": "short_term_fuel_trim_bank_1",
    "short_trim_bank_2": "short_term_fuel_trim_bank_2",
    "long_trim_bank_2": "long_term_fuel_trim_bank_2",
    "trim_sum_bank_2": "short_term_fuel_trim_bank_2",
    "ignition_timing": "timing_advance",
    "load": "calculated_load",
    "coolant_temperature": "coolant_temperature",
}
SUMS: Mapping[str, Callable[[View, Sheet], Channel | None]] = {
    "trim_sum_bank_1": partial(trim_sum, bank=1),
    "trim_sum_bank_2": partial(trim_sum, bank=2),
}
READINGS: Mapping[str, Callable[[View, Sheet], Channel | None]] = {
    name: SUMS.get(name, partial(_channel, channel)) for name, channel in CHANNELS.items()
}
