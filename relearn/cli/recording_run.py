"""The loop of a recording: step after step, and once a second a look at what it holds. No clock and no signal of its
own, so that an hour of it can be tried in seconds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from relearn.cli.progress import Progress, last_values
from relearn.cli.until import Until

if TYPE_CHECKING:
    from relearn.bus.clock import Clock
    from relearn.bus.source import Source
    from relearn.capture.frames import Capture
    from relearn.findings.base import Judged
    from relearn.recording import Recording

LOOK_S = 1.0
RECENT_S = 20.0  # what is only shown needs no more: no value is fresh for longer (channels.fresh_within_s)


@dataclass(frozen=True)
class Run:
    """One recording on its way. stopped: whether somebody asked for its end."""

    source: Source
    until: Until
    progress: Progress
    clock: Clock
    stopped: Callable[[], bool]
    database: Path | None = None
    mapping: Path | None = None

    def go(self) -> Judged | None:
        """Until it is reached or stopped; the last judgement, None where there was none. Errors as of Source.step."""
        began_s = looked_s = self.clock.now_s()
        judged: Judged | None = None
        while not self.stopped():
            self.source.step()
            now_s = self.clock.now_s()
            if now_s - looked_s < LOOK_S:
                continue
            looked_s = now_s
            judged = self._look()
            if self.until.reached(judged, now_s - began_s):
                break
        return judged

    def _look(self) -> Judged | None:
        capture = self.source.capture()
        recording = self._read(capture if self.until.judge is not None else recent(capture))
        judged = self.until.judge(recording) if self.until.judge is not None else None
        self.progress.show(self.source.status(), self.until.word, judged, last_values(recording))
        return judged

    def _read(self, capture: Capture) -> Recording:
        from relearn.recording import live

        return live(capture, self.database, self.mapping)


def recent(capture: Capture) -> Capture:
    """Its last seconds."""
    frames = capture.frames
    assert frames is not None, "a recording that is being made has frames"
    return replace(capture, frames=frames.take(frames.time_s >= capture.duration_s - RECENT_S))
