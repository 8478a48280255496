"""The idle episodes and engine stops of one module's view, with the sheet's own limits: what settle and air share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import floor

from relearn.actions import ignition
from relearn.channels import Channel, between, plausible_only
from relearn.checks import pedal
from relearn.checks.view import View
from relearn.events import Episode, Stop, episodes, stops
from relearn.procedures.sheets import Sheet


def engine_speed(view: View) -> Channel | None:
    """The plausible engine-speed samples, None when there are none."""
    channel = view.channels.get("engine_speed")
    measured = plausible_only(channel) if channel is not None else None
    return measured if measured is not None and len(measured) else None


def idle_episodes(view: View, sheet: Sheet) -> tuple[Episode, ...]:
    """Every idle episode (events.episodes); none without engine speed."""
    speed = engine_speed(view)
    presser = next(iter(pedal.shown(view)), None)
    released = pedal.released(presser, sheet) if presser is not None else None
    return (
        episodes(
            speed,
            sheet.need("engine.running_rpm"),
            view.channels.get("vehicle_speed"),
            sheet.need("vehicle.stopped_km_h"),
            presser,
            released,
        )
        if speed is not None
        else ()
    )


def last_long_enough(found: Sequence[Episode], speed: Channel, sheet: Sheet) -> Episode | None:
    """The last episode of at least idle.hold_s with at least idle.least_samples engine speeds; None when there is
    none."""
    least_s, least = sheet.number("idle.hold_s") or 0.0, sheet.number("idle.least_samples") or 0.0
    return next(
        (
            one
            for one in reversed(found)
            if one.duration_s >= least_s and len(between(speed, one.from_s, one.to_s)) >= least
        ),
        None,
    )


def none_long_enough(found: Sequence[Episode], sheet: Sheet) -> str:
    """The sentence for when no episode is long enough."""
    longest_s = floor(10 * max((one.duration_s for one in found), default=0.0)) / 10
    least_s, least = sheet.number("idle.hold_s") or 0.0, sheet.number("idle.least_samples") or 0.0
    if longest_s >= least_s:
        return f"no idle was read often enough to be judged: {least:g} readings of the engine speed are asked"
    return f"no idle lasted long enough to be judged: the longest {longest_s:g} s of the {least_s:g} s asked"


def engine_stops(view: View, sheet: Sheet) -> tuple[Stop, ...]:
    """Every time the engine stopped (events.stops); none without engine speed. One that nobody read was the key where
    the ignition was off meanwhile."""
    speed = engine_speed(view)
    if speed is None:
        return ()
    found = stops(speed, sheet.need("engine.running_rpm"), view.channels.get("vehicle_speed"), view.end_s)
    return tuple(replace(one, kind="switched-off") if _by_key(one, view) else one for one in found)


def _by_key(stop: Stop, view: View) -> bool:
    """Whether the module was asked in vain between the last sample that shows the engine running and the stop."""
    if not stop.unread or view.traffic is None:
        return False
    off = (one for one in ignition(view.traffic) if one.kind == "off")
    return any(one.began.latest_s >= stop.since_s and one.ended.earliest_s <= stop.time_s for one in off)
