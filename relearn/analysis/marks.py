"""What happened in a recording, as marks on a time axis: ignition, starts, stops and presses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite

from relearn.analysis.common import engine_module, view
from relearn.checks.idle import engine_stops
from relearn.checks.timeline import PRESSED, Timeline, timelines
from relearn.checks.view import View
from relearn.events import starts
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording

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
    """In time order. Where it is open whether the ignition was on, no mark says that it was."""
    seen = view(recording, engine_module(recording, module))
    found = timelines(seen, sheet)
    sure = [*_switched(found[0]), *_presses(found[0])] if len(found) == 1 else []
    return tuple(sorted([*_engine(seen, sheet), *sure], key=lambda one: one.time_s))


def _engine(seen: View, sheet: Sheet) -> Iterator[Mark]:
    speed = seen.channels.get("engine_speed")
    if speed is not None:
        yield from (Mark(float(one), "start", "start") for one in starts(speed, sheet.need("engine.running_rpm")))
    yield from (Mark(one.time_s, one.kind, STOPPED[one.kind]) for one in engine_stops(seen, sheet))


def _switched(timeline: Timeline) -> Iterator[Mark]:
    for phase in timeline.phases:
        if phase.kind != "unknown" and isfinite(phase.began.earliest_s):
            yield Mark(phase.began.latest_s, f"ignition-{phase.kind}", f"ignition {phase.kind}")


def _presses(timeline: Timeline) -> Iterator[Mark]:
    """Presses whose beginning the recording shows."""
    pressed = (one for cycle in timeline.cycles.values() for one in cycle.of(PRESSED))
    yield from (Mark(one.began.latest_s, "press", "press") for one in pressed if isfinite(one.began.earliest_s))
