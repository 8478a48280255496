"""Where the page's data comes from. A feed is asked for what is known now; it never shows what comes later."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, Protocol

import numpy as np

from relearn.analysis.common import engine_module
from relearn.bus.clock import Clock
from relearn.channels import by_name, fresh_within_s
from relearn.recording import Recording, until
from relearn.screen.charts import Chart
from relearn.screen.series import Drawn, drawn

SLOWEST, FASTEST = 0.5, 20.0
SILENT_S = 1.2  # longer without an answer than any gentle polling takes, and short enough to be shown within 2 s
SILENT_INTERVALS = 3.0  # of a capture that was asked more seldom


@dataclass(frozen=True)
class Standing:
    """Where a feed stands. end_s: of a capture, None where there is no end. silent_s: how long nothing has come, None
    while data comes. waiting: nothing has come yet, and nothing is known to be wrong. why: what is known of that
    silence, '' for nothing. gone: why no data will come any more."""

    title: str
    kind: Literal["live", "replay", "scenario"]
    position_s: float
    end_s: float | None = None
    playing: bool = True
    speed: float = 1.0
    silent_s: float | None = None
    waiting: bool = False
    why: str = ""
    gone: str = ""


class Feed(Protocol):
    """A source of the page."""

    def standing(self) -> Standing:
        """Where it stands now."""
        ...

    def recording(self) -> Recording | None:
        """Everything known by now, and nothing that comes later; None before anything is."""
        ...

    def channels(self) -> Sequence[str]:
        """The channels there are, by name."""
        ...

    def rows(self, charts: Sequence[Chart]) -> Sequence[Drawn]:
        """The rows of each chart, those that come later too: whoever draws stops at the position."""
        ...

    def fresh_s(self, name: str) -> float:
        """How old a value of this channel may be before it is no longer the current one."""
        ...

    def stop(self) -> None:
        """It is no longer looked at."""
        ...


@dataclass(frozen=True)
class _Run:
    """Playing since a moment of the clock, from a position, so fast."""

    since_s: float
    from_s: float
    speed: float = 1.0
    playing: bool = False


class Replay:
    """A capture, played."""

    def __init__(self, recording: Recording, clock: Clock, module: str | None = None) -> None:
        self._whole, self._clock = recording, clock
        self._module = engine_module(recording, module)
        self._channels = by_name(recording.series, self._module)
        self._run = _Run(clock.now_s(), 0.0)
        self._drawn: dict[tuple[Chart, ...], tuple[Drawn, ...]] = {}
        self._fresh_s: dict[str, float] = {}

    def standing(self) -> Standing:
        at_s = self.position_s()
        ended = at_s >= self._whole.duration_s
        return Standing(
            self._whole.path.name,
            "replay",
            at_s,
            self._whole.duration_s,
            self._run.playing and not ended,
            self._run.speed,
            self._silent_s(at_s),
            waiting=not self._answered_by(at_s),
        )

    def position_s(self) -> float:
        """Seconds from the capture's start."""
        run = self._run
        gone_s = (self._clock.now_s() - run.since_s) * run.speed if run.playing else 0.0
        return min(run.from_s + gone_s, self._whole.duration_s)

    def play(self) -> None:
        """Go on; from the beginning where the end was reached."""
        at_s = self.position_s()
        self._set(playing=True, from_s=0.0 if at_s >= self._whole.duration_s else at_s)

    def pause(self) -> None:
        self._set(playing=False)

    def go_to(self, time_s: float) -> None:
        """Any moment of the capture, playing or not."""
        self._set(from_s=min(max(time_s, 0.0), self._whole.duration_s))

    def play_at(self, speed: float) -> None:
        """SLOWEST to FASTEST times as fast as it was."""
        self._set(speed=min(max(speed, SLOWEST), FASTEST))

    def recording(self) -> Recording:
        return until(self._whole, self.position_s())

    def channels(self) -> Sequence[str]:
        return tuple(self._channels)

    def rows(self, charts: Sequence[Chart]) -> Sequence[Drawn]:
        key = tuple(charts)
        if key not in self._drawn:
            self._drawn[key] = tuple(drawn(self._channels, one.channels) for one in charts)
        return self._drawn[key]

    def fresh_s(self, name: str) -> float:
        if name not in self._fresh_s:
            self._fresh_s[name] = fresh_within_s(self._channels[name])
        return self._fresh_s[name]

    def stop(self) -> None:
        self.pause()

    def _silent_s(self, at_s: float) -> float | None:
        """How long the module has been silent by then; None where no longer than it always is between two answers."""
        before = self._answered_by(at_s)
        silent_s = at_s - float(self._answered_s[before - 1]) if before else at_s
        return silent_s if silent_s > self._patience_s else None

    def _answered_by(self, at_s: float) -> int:
        """How many answers had come by then."""
        return int(np.searchsorted(self._answered_s, at_s, side="right"))

    @cached_property
    def _answered_s(self) -> np.ndarray:
        heard = self._whole.traffic.get(self._module)
        return heard.answered_s if heard is not None else np.empty(0)

    @cached_property
    def _patience_s(self) -> float:
        usual_s = float(np.median(np.diff(self._answered_s))) if len(self._answered_s) > 1 else 0.0
        return max(SILENT_S, SILENT_INTERVALS * usual_s)

    def _set(self, **changed: float) -> None:
        here = {"from_s": self.position_s(), "since_s": self._clock.now_s()}
        self._run = replace(self._run, **{**here, **changed})  # type: ignore[arg-type]
