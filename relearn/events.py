"""What happened, read from the channels: the engine starting and stopping, and the stretches in which it idled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

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
    between two samples belongs to neither side.
    """

    began: str
    from_s: float
    to_s: float
    ended: str

    @property
    def duration_s(self) -> float:
        return self.to_s - self.from_s


@dataclass(frozen=True)
class Stop:
    """The engine stopped: speed fell to or below the running limit.

    kind: 'stalled' (nobody touched it and the module kept answering), 'stopped-itself' (the car had moved since the
    engine started and the engine started again while the module never fell silent), or 'switched-off' (the module fell
    silent with it).
    time_s: first sample at or below the limit. restarted_s: first sample above it again, None if it never was.
    """

    kind: str
    time_s: float
    restarted_s: float | None


STILL_ANSWERING_S = 1.0
BEGAN = {"running": "engine-start", "pedal": "pedal-released", "vehicle": "vehicle-stopped", "data": "data-resumed"}
ENDED = {"running": "engine-stopped", "pedal": "pedal-pressed", "vehicle": "vehicle-moved", "data": "data-lost"}


def starts(engine_speed: Channel, running: Limits) -> NDArray[np.float64]:
    """Times of the first sample above the running limit after one that was not."""
    above = engine_speed.value > (running.low or 0.0)
    return engine_speed.time_s[1:][above[1:] & ~above[:-1]]


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
    broken = _broken_by(times_s, engine_speed, running, vehicle_speed, stopped, pedal, released)
    idle = ~np.logical_or.reduce(list(broken.values()))
    sources = {"running": engine_speed, "data": engine_speed, "vehicle": vehicle_speed, "pedal": pedal}
    found = [_episode(run, times_s, broken, sources) for run in _runs(idle)]
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
    speed = value_at(engine_speed, times_s)
    moving = value_at(vehicle_speed, times_s) > (stopped.high or 0.0) if vehicle_speed is not None else none
    pressed = none
    if pedal is not None and released is not None and released.high is not None:
        pressed = value_at(pedal, times_s) > released.high
    return {
        "data": np.isnan(speed) | _before_gap(engine_speed, times_s),
        "running": speed <= (running.low or 0.0),
        "vehicle": moving,
        "pedal": pressed,
    }


def _before_gap(channel: Channel, times_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """True after the last sample before a gap too long to be bridged."""
    row = np.searchsorted(channel.time_s, times_s, side="right") - 1
    ahead_s = np.append(np.diff(channel.time_s), 0.0)[np.maximum(row, 0)]
    inside = times_s > channel.time_s[np.maximum(row, 0)]
    return (row >= 0) & inside & (ahead_s > fresh_within_s(channel))


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
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
    )


def _reason(broken: Mapping[str, NDArray[np.bool_]], row: int) -> str:
    return next(name for name, when in broken.items() if when[row])


def stops(engine_speed: Channel, running: Limits, vehicle_speed: Channel | None) -> tuple[Stop, ...]:
    """Every time the engine stopped, told apart by what the module and the car did (see Stop)."""
    above = engine_speed.value > (running.low or 0.0)
    rows = np.flatnonzero(above[:-1] & ~above[1:]) + 1
    return tuple(_stop(engine_speed, above, int(row), vehicle_speed) for row in rows)


def _stop(speed: Channel, above: NDArray[np.bool_], row: int, vehicle_speed: Channel | None) -> Stop:
    time_s = float(speed.time_s[row])
    again = np.flatnonzero(above[row:])
    until = row + int(again[0]) if len(again) else len(speed)
    restarted_s = float(speed.time_s[until]) if len(again) else None
    still = speed.time_s[row : until + 1]
    silent_s = float(np.diff(still).max(initial=0.0))
    started = np.flatnonzero(~above[:row])
    since_s = float(speed.time_s[started[-1]]) if len(started) else -np.inf
    if restarted_s is not None and silent_s <= fresh_within_s(speed) and _moved(vehicle_speed, since_s, time_s):
        return Stop("stopped-itself", time_s, restarted_s)
    answering_s = _answered_for_s(still, fresh_within_s(speed))
    return Stop("stalled" if answering_s >= STILL_ANSWERING_S else "switched-off", time_s, restarted_s)


def _answered_for_s(times_s: NDArray[np.float64], limit_s: float) -> float:
    """How long answers kept coming from the first time on, up to the first gap longer than limit_s."""
    gaps = np.flatnonzero(np.diff(times_s) > limit_s)
    return float(times_s[gaps[0] if len(gaps) else -1] - times_s[0])


def _moved(vehicle_speed: Channel | None, from_s: float, to_s: float) -> bool:
    if vehicle_speed is None:
        return False
    during = (vehicle_speed.time_s >= from_s) & (vehicle_speed.time_s <= to_s)
    return bool((vehicle_speed.value[during] > 0).any())
