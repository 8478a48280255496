"""What happened, read from the channels: the engine starting and stopping, and the stretches in which it idled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel, fresh_within_s, value_at
from relearn.verdict import Limits


@dataclass(frozen=True)
class Episode:
    """One stretch of idling: engine running, pedal not seen pressed, vehicle not seen moving.

    began: 'capture-start', 'engine-start', 'pedal-released', 'vehicle-stopped' or 'data-resumed'.
    ended: 'capture-end', 'engine-stopped', 'pedal-pressed', 'vehicle-moved' or 'data-lost'.
    from_s is the first sample that shows the beginning; to_s the last that does not yet show the end, so what happened
    between two samples belongs to neither side. since_s: the sample before from_s, which did not yet show the
    beginning.
    """

    began: str
    from_s: float
    to_s: float
    ended: str
    since_s: float | None = None

    @property
    def duration_s(self) -> float:
        return self.to_s - self.from_s


@dataclass(frozen=True)
class Stop:
    """The engine stopped: speed stayed at or below the running limit for a second or more, or to the capture's end.

    kind:
      'stalled'         nobody is seen to have touched it and the module kept answering for 10 s or to the capture's end
      'stopped-itself'  the car had moved since the engine started, and the engine started again by itself: the module
                        never fell silent and the starter turned for no more than a second
      'switched-off'    the module fell silent with it, within a second
      'unclear'         the module fell silent one to ten seconds later, or the capture ends within a second: a stall
                        and then the key, or the key and a module that stays awake; or engine speed was not read for
                        long before the engine stood (`unread`)
    time_s: first sample at or below the limit. since_s: the last one above it. restarted_s: first sample above it
    again, None if it never was.
    """

    kind: str
    time_s: float
    restarted_s: float | None
    since_s: float
    unread: bool = False


SHORTEST_STOP_S = 1.0  # an engine does not stop and run again within a second: that is a dip or a wrong reading
STAYS_AWAKE_S = 10.0  # modules answer for some seconds after the key is off: common practice, no source
SELF_CRANK_S = 1.0  # an engine that restarts by itself is up within a second: from memory
BEGAN = {"running": "engine-start", "pedal": "pedal-released", "vehicle": "vehicle-stopped", "data": "data-resumed"}
ENDED = {"running": "engine-stopped", "pedal": "pedal-pressed", "vehicle": "vehicle-moved", "data": "data-lost"}


def starts(engine_speed: Channel, running: Limits) -> NDArray[np.float64]:
    """Times of the first sample above the running limit after one that was not."""
    above = turning(engine_speed, running)
    return engine_speed.time_s[1:][above[1:] & ~above[:-1]]


def turning(engine_speed: Channel, running: Limits) -> NDArray[np.bool_]:
    """At each sample, whether the engine runs: above the limit, or below it for less than a second in between."""
    above = np.asarray(engine_speed.value > (running.low or 0.0), np.bool_)
    for first, last in runs(~above):
        inside = first > 0 and last + 1 < len(above)
        if inside and engine_speed.time_s[last + 1] - engine_speed.time_s[first] < SHORTEST_STOP_S:
            above[first : last + 1] = True
    return above


def episodes(
    engine_speed: Channel,
    running: Limits,
    vehicle_speed: Channel | None,
    stopped: Limits,
    pedal: Channel | None,
    released: Limits | None,
) -> tuple[Episode, ...]:
    """Every idle episode in time order. An unknown pedal or vehicle speed ends no episode; whoever judges must say
    so."""
    times_s = np.union1d(_all_times(engine_speed, vehicle_speed, pedal), _inside_gaps(engine_speed))
    times_s = times_s[times_s >= engine_speed.time_s[0]]
    broken = _broken_by(times_s, engine_speed, running, vehicle_speed, stopped, pedal, released)
    idle = ~np.logical_or.reduce(list(broken.values()))
    sources = {"running": engine_speed, "data": engine_speed, "vehicle": vehicle_speed, "pedal": pedal}
    found = [_episode(run, times_s, broken, sources) for run in runs(idle)]
    return tuple(episode for episode in found if episode.to_s > episode.from_s)


def _all_times(*channels: Channel | None) -> NDArray[np.float64]:
    return np.unique(np.concatenate([channel.time_s for channel in channels if channel is not None]))


def _inside_gaps(channel: Channel) -> NDArray[np.float64]:
    """A time inside each gap too long to be bridged, so that a gap shows even where no other channel was read."""
    gaps = np.flatnonzero(np.diff(channel.time_s) > fresh_within_s(channel))
    return (channel.time_s[gaps] + channel.time_s[gaps + 1]) / 2


def _broken_by(
    times_s: NDArray[np.float64],
    engine_speed: Channel,
    running: Limits,
    vehicle_speed: Channel | None,
    stopped: Limits,
    pedal: Channel | None,
    released: Limits | None,
) -> Mapping[str, NDArray[np.bool_]]:
    """For each reason not to be idling, when it holds; NaN (unknown) is a reason only for the engine itself."""
    none = np.zeros(len(times_s), bool)
    turns = value_at(replace(engine_speed, value=turning(engine_speed, running).astype(np.float64)), times_s)
    moving = value_at(vehicle_speed, times_s) > (stopped.high or 0.0) if vehicle_speed is not None else none
    pressed = none
    if pedal is not None and released is not None and released.high is not None:
        pressed = value_at(pedal, times_s) > released.high
    return {
        "data": np.isnan(turns) | _before_gap(engine_speed, times_s),
        "running": turns == 0,
        "vehicle": moving,
        "pedal": pressed,
    }


def _before_gap(channel: Channel, times_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """True after the last sample before a gap too long to be bridged."""
    row = np.searchsorted(channel.time_s, times_s, side="right") - 1
    ahead_s = np.append(np.diff(channel.time_s), 0.0)[np.maximum(row, 0)]
    inside = times_s > channel.time_s[np.maximum(row, 0)]
    return (row >= 0) & inside & (ahead_s > fresh_within_s(channel))


def runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _episode(
    run: tuple[int, int],
    times_s: NDArray[np.float64],
    broken: Mapping[str, NDArray[np.bool_]],
    sources: Mapping[str, Channel | None],
) -> Episode:
    first, last = run
    before = _reason(broken, first - 1) if first else None
    after = _reason(broken, last + 1) if last + 1 < len(times_s) else None
    to_s = float(times_s[last])
    source = sources[after] if after else None
    if source is not None:
        row = int(np.searchsorted(source.time_s, times_s[last + 1], side="left")) - 1
        to_s = min(to_s, float(source.time_s[row])) if row >= 0 else to_s
    return Episode(
        BEGAN[before] if before else "capture-start",
        float(times_s[first]),
        to_s,
        ENDED[after] if after else "capture-end",
        _sample_before(sources[before], float(times_s[first])) if before else None,
    )


def _sample_before(source: Channel | None, time_s: float) -> float | None:
    """Time of the last sample before time_s, None where there is none."""
    row = int(np.searchsorted(source.time_s, time_s, side="left")) - 1 if source is not None else -1
    return float(source.time_s[row]) if source is not None and row >= 0 else None


def _reason(broken: Mapping[str, NDArray[np.bool_]], row: int) -> str:
    return next(name for name, when in broken.items() if when[row])


def stops(engine_speed: Channel, running: Limits, vehicle_speed: Channel | None, end_s: float) -> tuple[Stop, ...]:
    """Every time the engine stopped, told apart by what the module and the car did (see Stop). end_s: the capture's."""
    above = turning(engine_speed, running)
    rows = np.flatnonzero(above[:-1] & ~above[1:]) + 1
    return tuple(_stop(engine_speed, above, int(row), vehicle_speed, end_s) for row in rows)


def _stop(speed: Channel, above: NDArray[np.bool_], row: int, vehicle_speed: Channel | None, end_s: float) -> Stop:
    time_s, since_s = float(speed.time_s[row]), float(speed.time_s[row - 1])
    again = np.flatnonzero(above[row:])
    until = row + int(again[0]) if len(again) else len(speed)
    restarted_s = float(speed.time_s[until]) if len(again) else None
    if time_s - since_s > fresh_within_s(speed):
        return Stop("unclear", time_s, restarted_s, since_s, unread=True)
    answering_s = _answered_for_s(speed.time_s[row : until + 1], fresh_within_s(speed))
    if restarted_s is not None and answering_s >= restarted_s - time_s:
        itself = _moved_since_start(speed, above, row, vehicle_speed) and _cranked_s(speed, row, until) <= SELF_CRANK_S
        return Stop("stopped-itself" if itself else "stalled", time_s, restarted_s, since_s)
    silent = end_s - (time_s + answering_s) > fresh_within_s(speed) or restarted_s is not None
    return Stop(_kind(answering_s, silent), time_s, restarted_s, since_s)


def _kind(answering_s: float, silent: bool) -> str:
    """What a stop without a restart by itself was, by how long the module answered and whether it then fell silent."""
    if answering_s < SHORTEST_STOP_S:
        return "switched-off" if silent else "unclear"
    return "unclear" if silent and answering_s < STAYS_AWAKE_S else "stalled"


def _cranked_s(speed: Channel, row: int, until: int) -> float:
    """How long the starter turned before the engine ran again: from the last standstill to the running limit."""
    standing = np.flatnonzero(speed.value[row:until] == 0)
    return float(speed.time_s[until] - speed.time_s[row + int(standing[-1])]) if len(standing) else 0.0


def _answered_for_s(times_s: NDArray[np.float64], limit_s: float) -> float:
    """How long answers kept coming from the first time on, up to the first gap longer than limit_s."""
    gaps = np.flatnonzero(np.diff(times_s) > limit_s)
    return float(times_s[gaps[0] if len(gaps) else -1] - times_s[0])


def _moved_since_start(speed: Channel, above: NDArray[np.bool_], row: int, vehicle_speed: Channel | None) -> bool:
    """Whether the car was seen to move between the engine's last start (or the capture's) and this stop."""
    if vehicle_speed is None:
        return False
    started = np.flatnonzero(~above[:row])
    since_s = float(speed.time_s[started[-1]]) if len(started) else -np.inf
    during = (vehicle_speed.time_s >= since_s) & (vehicle_speed.time_s <= speed.time_s[row])
    return bool((vehicle_speed.value[during] > 0).any())
