"""A capture as what was done in it: the ignition going on and off, and in each stretch of ignition on what pedal, lamp
and engine did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from relearn.actions import Phase, Stretch, as_off, as_on, ignition, stretches
from relearn.channels import Channel, between, plausible_only
from relearn.checks.holding import inside
from relearn.checks.idle import engine_speed
from relearn.checks.pedal import FIRST, RELATIVE, released
from relearn.checks.view import View, lacks
from relearn.procedures.sheets import Sheet
from relearn.traffic import Traffic, heard
from relearn.verdict import Limits

PEDAL, LAMP, ENGINE = "accelerator pedal", "malfunction lamp", "engine speed"
CHANNELS: Mapping[str, tuple[str, ...]] = {
    PEDAL: (FIRST, RELATIVE),
    LAMP: ("malfunction_lamp",),
    ENGINE: ("engine_speed",),
}
"""What each source is read from: the first one shown. Not position E or F, whose full press reads anything."""

PRESSED, FULL, LIT, RUNNING, REVVED = "pressed", "full", "lit", "running", "revved"


@dataclass(frozen=True, eq=False)
class Cycle:
    """One stretch of ignition on: the samples of each source in it, and the stretches PRESSED (out of the released
    window), FULL (pressed fully), LIT, RUNNING and REVVED. A source that the capture does not show has neither."""

    phase: Phase
    channels: Mapping[str, Channel]
    stretches: Mapping[str, tuple[Stretch, ...]]

    def of(self, kind: str) -> tuple[Stretch, ...]:
        """All stretches of one kind, in time order."""
        return self.stretches.get(kind, ())


@dataclass(frozen=True, eq=False)
class Timeline:
    """What was done, if the ignition was on (or else off) whenever nothing is known: `timelines` gives one for each.

    cycles: by the place of their phase. missing: why a source cannot be read, by source; the reason is None where the
    module itself says that it does not have it. full_from: the pedal reading from which on it is pressed fully.
    """

    phases: tuple[Phase, ...]
    cycles: Mapping[int, Cycle]
    missing: Mapping[str, str | None]
    full_from: float | None = None


def timelines(view: View, sheet: Sheet) -> tuple[Timeline, ...]:
    """One timeline, or two where the capture leaves open whether the ignition was on; none if no module answered."""
    phases, sources = ignition(traffic_of(view)), _sources(view)
    limits, missing = _limits(sources, sheet), _missing(view, sources)
    full_from = limits[FULL][1].low if FULL in limits else None
    return tuple(
        Timeline(one, _cycles(one, sources, limits), missing, full_from)
        for one in dict.fromkeys((as_on(phases), as_off(phases)))
        if one
    )


def by_key(off: Phase, seen: View, sheet: Sheet) -> bool:
    """Whether more than silence speaks for it: the engine was not running before, or stands after."""
    speed, running = engine_speed(seen), sheet.need("engine.running_rpm")
    if speed is None:
        return True
    before = speed.value[speed.time_s <= off.began.earliest_s][-1:]
    after = speed.value[speed.time_s >= off.ended.latest_s][:1]
    return not (before > (running.low or 0.0)).any() or bool((after <= (running.low or 0.0)).any())


def traffic_of(view: View) -> Traffic:
    """When the module was heard and asked. Broadcast signals count among the others': they may not be its own."""
    own = [one for one in view.channels.values() if one.module == view.module]
    foreign = [one.time_s for one in view.channels.values() if one.module != view.module]
    told = view.traffic or heard([one.time_s for one in own], [one.frame for one in own])
    return Traffic(told.answered_s, told.frame, told.asked_s, np.concatenate([told.others_s, *foreign]))


def _sources(view: View) -> Mapping[str, Channel]:
    shown = {
        source: next((view.channels[one] for one in names if one in view.channels), None)
        for source, names in CHANNELS.items()
    }
    measured = {source: plausible_only(channel) for source, channel in shown.items() if channel is not None}
    return {source: channel for source, channel in measured.items() if len(channel)}


def _missing(view: View, sources: Mapping[str, Channel]) -> Mapping[str, str | None]:
    return {
        source: None if lacks(view, names) else f"{source} is not in the capture"
        for source, names in CHANNELS.items()
        if source not in sources
    }


def _limits(sources: Mapping[str, Channel], sheet: Sheet) -> Mapping[str, tuple[str, Limits]]:
    """By kind of stretch: its source, and inside which limits a sample belongs to it."""
    limits = {
        LIT: (LAMP, _over(sheet.need("lamp.off"))),
        RUNNING: (ENGINE, sheet.need("engine.running_rpm")),
        REVVED: (ENGINE, sheet.need("engine.revved_rpm")),
    }
    window = released(sources[PEDAL], sheet) if PEDAL in sources else None
    if window is None:
        return limits
    return {**limits, PRESSED: (PEDAL, _over(window)), FULL: (PEDAL, _full(window, sheet))}


def _over(window: Limits) -> Limits:
    return Limits(window.high, None, window.unit, window.standing, low_open=True)


def _full(window: Limits, sheet: Sheet) -> Limits:
    travel = sheet.need("pedal.pressed_travel_percent")
    return Limits((window.high or 0.0) + (travel.low or 0.0), None, window.unit, travel.standing)


def _cycles(
    phases: tuple[Phase, ...], sources: Mapping[str, Channel], limits: Mapping[str, tuple[str, Limits]]
) -> Mapping[int, Cycle]:
    return {place: _cycle(phase, sources, limits) for place, phase in enumerate(phases) if phase.kind == "on"}


def _cycle(phase: Phase, sources: Mapping[str, Channel], limits: Mapping[str, tuple[str, Limits]]) -> Cycle:
    during = {
        source: between(channel, phase.began.latest_s, phase.ended.earliest_s) for source, channel in sources.items()
    }
    found = {
        kind: stretches(during[source], inside(during[source], window), phase.began, phase.ended)
        for kind, (source, window) in limits.items()
        if source in during
    }
    return Cycle(phase, during, found)
