"""What happened in a recording, as marks on a time axis: ignition, starts, stops and presses.

A module that falls silent while the engine runs may have lost its plug: no mark calls that the ignition.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

from relearn.analysis.common import engine_module, view
from relearn.checks.idle import engine_stops
from relearn.checks.timeline import PRESSED, Timeline, by_key, timelines
from relearn.checks.view import View
from relearn.events import starts
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording

ONE_TURN_S = 1.0  # that the ignition went off may show so much later than that the engine stopped
OFF = "ignition-off"
STOPPED = {
    "stalled": "stalled",
    "stopped-itself": "stopped by itself",
    "switched-off": "switched off",
    "unclear": "stopped",
}


@dataclass(frozen=True)
class Mark:
    """One thing that happened. time_s: from the capture's start; the first sample that shows it."""

    time_s: float
    kind: str
    text: str


def marks(recording: Recording, sheet: Sheet, module: str | None = None) -> tuple[Mark, ...]:
    """In time order. Where it is open whether the ignition was on, no mark says that it was; nor where silence alone
    speaks for it, the engine running in the last sample before and not seen standing in the first one after."""
    seen = view(recording, engine_module(recording, module))
    found = timelines(seen, sheet)
    turned = tuple(_switched(found[0], seen, sheet)) if len(found) == 1 else ()
    presses = _presses(found[0]) if len(found) == 1 else ()
    return tuple(sorted([*_engine(seen, sheet, turned), *turned, *presses], key=lambda one: one.time_s))


def _engine(seen: View, sheet: Sheet, turned: Sequence[Mark]) -> Iterator[Mark]:
    """Starts and stops; a stop by the key is told once, as the ignition's."""
    speed = seen.channels.get("engine_speed")
    if speed is not None:
        yield from (Mark(float(one), "start", "start") for one in starts(speed, sheet.need("engine.running_rpm")))
    for one in engine_stops(seen, sheet):
        if one.kind != "switched-off" or not _off(turned, one.time_s):
            yield Mark(one.time_s, one.kind, STOPPED[one.kind])


def _off(turned: Sequence[Mark], time_s: float) -> bool:
    """Whether the ignition went off before, or just after, and did not come on again before."""
    before = [one for one in turned if one.time_s < time_s or (one.time_s - time_s <= ONE_TURN_S and one.kind == OFF)]
    return bool(before) and before[-1].kind == OFF


def _switched(timeline: Timeline, seen: View, sheet: Sheet) -> Iterator[Mark]:
    """Each phase at its beginning; a silence of which it is not sure, and what follows it, at none."""
    for before, phase in zip((None, *timeline.phases[:-1]), timeline.phases, strict=True):
        off = before if phase.kind == "on" else phase
        if phase.kind != "unknown" and isfinite(phase.began.earliest_s) and (off is None or by_key(off, seen, sheet)):
            yield Mark(phase.began.latest_s, f"ignition-{phase.kind}", f"ignition {phase.kind}")


def _presses(timeline: Timeline) -> Iterator[Mark]:
    """Presses whose beginning the recording shows."""
    pressed = (one for cycle in timeline.cycles.values() for one in cycle.of(PRESSED))
    yield from (Mark(one.began.latest_s, "press", "press") for one in pressed if isfinite(one.began.earliest_s))
