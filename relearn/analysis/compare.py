"""The idle of two captures side by side, as a document."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from relearn.analysis.common import engine_module, fault_docs, others_with_engine_speed, source, view
from relearn.analysis.settle import target
from relearn.analysis.show import lamp
from relearn.checks.compare import CodeChange, Compared, Level, Reading, Side, State, code_changes
from relearn.checks.compare import compare as judge
from relearn.checks.idle_parts import stopped_words
from relearn.checks.view import View
from relearn.findings.compare import CodesChange, CompareFindings, IdleSide, LevelDoc, ReadingChange, StateChange
from relearn.j1979.monitors import monitor_states
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording
from relearn.verdict import Outcome

RULE = (
    "changed means that the two means differ by more than their combined spread: the root of the sum of the squares of "
    "both standard deviations, and at least one step of the reading's scaling"
)
LAMP = {None: None, True: "on", False: "off"}


def compare(before: Recording, after: Recording, sheet: Sheet, module: str | None = None) -> CompareFindings:
    """Both judged idles with what changed. An unknown module is a ChoiceError."""
    first, second = engine_module(before, module), engine_module(after, module)
    old, new = view(before, first), view(after, second)
    found = judge(old, new, sheet, target(sheet))
    return CompareFindings(
        sheet=sheet.title,
        rule=RULE,
        before=_side(before, first, found.before),
        after=_side(after, second, found.after),
        readings=tuple(_reading(one) for one in found.readings),
        states=(_state(found.loop), _state(State("malfunction_lamp", _lamp(old), _lamp(new)))),
        monitors=tuple(_state(one) for one in _monitors(old, new)),
        codes=tuple(_codes(one) for one in code_changes(before.codes, after.codes)),
        notes=tuple(_remarks(before, after, first, second, found)),
    )


def _side(recording: Recording, module: str, one: Side) -> IdleSide:
    return IdleSide(
        source=source(recording, module),
        judged_s=None if one.span_s is None else (round(one.span_s[0], 3), round(one.span_s[1], 3)),
        missing=one.missing,
        faults=fault_docs(recording.faults),
        notes=(*one.found.remarks, *_stalls(one), *recording.notes, *others_with_engine_speed(recording, module)),
    )


def _stalls(one: Side) -> Iterable[str]:
    return (stopped_words(halt) for halt in one.found.stops if halt.kind == "stalled")


def _reading(one: Reading) -> ReadingChange:
    return ReadingChange(
        id=one.id,
        unit=one.unit,
        before=_level(one.before),
        after=_level(one.after),
        difference=_round(one.difference),
        spread=_round(one.spread),
        changed=one.changed.value,
    )


def _level(one: Level | None) -> LevelDoc | None:
    return None if one is None else LevelDoc(mean=round(one.mean, 3), sd=_round(one.sd), samples=one.samples)


def _state(one: State) -> StateChange:
    return StateChange(id=one.id, before=one.before, after=one.after, changed=one.changed.value)


def _codes(one: CodeChange) -> CodesChange:
    return CodesChange(
        module=one.module, kind=one.kind, before=one.before, after=one.after, gained=one.gained, lost=one.lost
    )


def _last(seen: View) -> Mapping[str, float]:
    return {name: float(channel.value[-1]) for name, channel in seen.channels.items()}


def _lamp(seen: View) -> str | None:
    return LAMP[lamp(seen)]


def _monitors(before: View, after: View) -> Iterable[State]:
    """Every monitor that either capture speaks of."""
    old, new = monitor_states(_last(before)), monitor_states(_last(after))
    return (State(name, old.get(name), new.get(name)) for name in dict.fromkeys((*old, *new)))


def _remarks(before: Recording, after: Recording, first: str, second: str, found: Compared) -> Iterable[str]:
    """What makes the two less than alike, whatever they read."""
    vins = [{one.values[0] for one in each.identity if one.item == "vin" and one.values} for each in (before, after)]
    if all(vins) and vins[0].isdisjoint(vins[1]):
        yield f"not the same car: VIN {', '.join(sorted(vins[0]))} before, {', '.join(sorted(vins[1]))} after"
    if first != second:
        yield f"not the same module: {first} before, {second} after"
    coolant = next((one for one in found.readings if one.id == "coolant_temperature"), None)
    if coolant is not None and coolant.changed is Outcome.YES:
        yield "coolant differs between the two: what else differs may come from that alone"


def _round(value: float | None) -> float | None:
    return round(value, 3) if value is not None else None
