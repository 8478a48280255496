"""The charts' rows of a recording while it grows: each new piece is decoded once and put behind what is there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from relearn.analysis.common import engine_module
from relearn.capture.frames import Capture, Frames
from relearn.channels import Channel, by_name, fresh_within_s
from relearn.recording import live
from relearn.screen.charts import Chart, charts
from relearn.screen.series import Drawn, Rows, drawn

OVERLAP_S = 3.0  # an answer of several frames may have begun before the last piece ended (N_Cr is 1 s for each frame)
TAIL = 100  # samples of a channel that tell how often it comes


class Growing:
    """What is drawn of the engine module, from captures that each hold at least what is new."""

    def __init__(self, module: str | None = None) -> None:
        self._module, self._frame, self._time_s = module, 0, 0.0
        self._tails: Mapping[str, Channel] = {}
        self._rows = {one.title: Rows(len(one.channels)) for one in charts()}

    def take(self, capture: Capture) -> None:
        """Add what this capture holds beyond the ones before."""
        frames = capture.frames
        if frames is None or not len(frames) or int(frames.number[-1]) == self._frame:
            return
        recording = live(replace(capture, frames=_since(frames, self._time_s - OVERLAP_S)))
        self._module = self._module or engine_module(recording, None) or None
        new = by_name(recording.series, self._module or "")
        self._tails = {**self._tails, **{name: _joined(self._tails.get(name), one) for name, one in new.items()}}
        for chart in charts():
            rows = self._rows[chart.title]
            rows.add(drawn(self._tails, chart.channels).later(rows.last_s()))
        self._frame, self._time_s = int(frames.number[-1]), float(frames.time_s[-1])

    def channels(self) -> tuple[str, ...]:
        """The channels that have come, by name."""
        return tuple(self._tails)

    def rows(self, several: Sequence[Chart]) -> tuple[Drawn, ...]:
        """The rows of each chart."""
        whole = {one.title: one.channels for one in charts()}
        return tuple(
            self._rows[one.title].drawn([whole[one.title].index(name) for name in one.channels]) for one in several
        )

    def fresh_s(self, name: str) -> float:
        """How old a value of this channel may be."""
        return fresh_within_s(self._tails[name])


def _since(frames: Frames, time_s: float) -> Frames:
    return frames.take(frames.time_s >= time_s)


def _joined(before: Channel | None, found: Channel) -> Channel:
    """The newest samples of both, each once."""
    if before is None:
        return found
    tail, new = before.take(slice(-TAIL, None)), found.take(found.time_s > before.time_s[-1])
    return replace(
        new,
        time_s=np.concatenate((tail.time_s, new.time_s)),
        value=np.concatenate((tail.value, new.value)),
        frame=np.concatenate((tail.frame, new.frame)),
    )
