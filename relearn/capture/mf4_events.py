"""The groups of an MF4 bus log as columns: data, remote and error frames, a group of their own each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from asammdf.blocks.source_utils import Source
from asammdf.blocks.v4_constants import FLAG_CG_BUS_EVENT
from numpy.typing import NDArray

from relearn.capture import assemble
from relearn.capture.assemble import FD_LENGTHS, LAST_S, MAX_11, MAX_29, Part, Span
from relearn.capture.frames import Capture
from relearn.capture.keep import Keep
from relearn.capture.marks import I64
from relearn.capture.odd import need

RECORDS = 65_536  # read together
DATA, REMOTE, ERROR = "CAN_DataFrame", "CAN_RemoteFrame", "CAN_ErrorFrame"
_ALLOWED = np.isin(np.arange(256), FD_LENGTHS)


@dataclass(frozen=True, eq=False)
class Events:
    """Some records of one group: all their times, in file order, and the kept frames, numbered by their rows here."""

    kind: str
    time_s: NDArray[np.float64]
    time_ns: I64
    kept: Part


def read(log: Any, group: int, start_s: float, keep: Keep) -> Iterator[Events]:
    """The events of a group of an asammdf log; none where it holds no CAN frames. Odd as in odd.py."""
    channels = log.groups[group].channel_group
    kind = _kind(log.groups[group])
    for offset in range(0, channels.cycles_nr if kind else 0, RECORDS):
        signal = log.get(kind, group, record_offset=offset, record_count=RECORDS, raw=False)
        time_s = signal.timestamps + start_s
        need((time_s >= 0) & (time_s <= LAST_S))
        time_ns = np.rint(time_s * 1e6).astype(np.int64) * 1000  # as messages.py rounds them
        yield Events(kind, time_s, time_ns, _kept(kind, signal.samples, time_ns, keep))


def _kind(group: Any) -> str:
    """Which frames a group holds, '' for none."""
    channels = group.channel_group
    source = channels.acq_source
    if not channels.flags & FLAG_CG_BUS_EVENT or source is None or source.bus_type != Source.BUS_TYPE_CAN:
        return ""
    if not source.source_type & Source.SOURCE_BUS:
        return ""
    names = {channel.name for channel in group.channels}
    return next((kind for kind in (DATA, ERROR, REMOTE) if kind in names), "")


def _kept(kind: str, samples: Any, time_ns: I64, keep: Keep) -> Part:
    if kind == ERROR:
        return assemble.part(())
    identifier = (samples[f"{kind}.ID"] & MAX_29).astype(np.uint32)
    extended = _column(samples, f"{kind}.IDE", 1).astype(np.bool_)  # python-can takes 29 bits where it is not said
    need(extended | (identifier <= MAX_11))
    if kind == REMOTE:
        return assemble.part(())
    length, data = samples[f"{kind}.DataLength"].astype(np.int64), samples[f"{kind}.DataBytes"]
    need((length <= data.shape[1]) & _ALLOWED.take(length, mode="clip"))
    rows = np.flatnonzero(keep.mask(identifier, extended))
    length = length[rows]
    width = assemble.data_width(int(length.max(initial=0)))
    content = np.zeros((len(rows), width), np.uint8)
    content[:, : data.shape[1]] = data[rows, :width]
    content *= np.arange(width) < length[:, None]
    bus = _column(samples, f"{kind}.BusChannel", 0)[rows].astype(np.int64)
    return Part(time_ns[rows], rows, bus, identifier[rows], extended[rows], length.astype(np.uint8), content)


def _column(samples: Any, name: str, default: int) -> I64:
    column: I64 = samples[name] if name in samples.dtype.names else np.full(len(samples), default)
    return column


def capture(path: Path, groups: Sequence[Sequence[Events]]) -> Capture:
    """All groups as one capture, numbered as python-can's reader merges them: by time, equal times by group."""
    time_s = [np.concatenate([events.time_s for events in group]) for group in groups]
    for times in time_s:
        need(np.diff(times) >= 0)
    order = np.argsort(np.concatenate(time_s), kind="stable")
    number = np.empty(len(order), np.int64)
    number[order] = np.arange(1, len(order) + 1)
    every_ns = np.concatenate([events.time_ns for group in groups for events in group])
    parts, before = [], 0
    for events in (events for group in groups for events in group):
        parts.append(replace(events.kept, number=number[before + events.kept.number]))
        before += len(events.time_ns)
    span = Span(len(every_ns), (1, int(every_ns[order[0]])), (len(every_ns), int(every_ns[order[-1]])))
    errors = sum(len(events.time_ns) for group in groups for events in group if events.kind == ERROR)
    return assemble.capture(path, parts, span, unit="frame", faults=assemble.error_frame_fault(errors))
