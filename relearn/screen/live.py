"""A recording that is being made, as a feed: one thread steps it and hands over what it holds; no other touches it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from threading import Event, Thread
from typing import Literal

from relearn.bus.clock import Clock
from relearn.bus.source import Source, Status
from relearn.capture.frames import Capture
from relearn.errors import RelearnError
from relearn.recording import Recording, live
from relearn.screen.charts import Chart
from relearn.screen.feeds import SILENT_S, Standing
from relearn.screen.growing import Growing
from relearn.screen.series import Drawn

HAND_OVER_S = 0.05
REST = 2.0  # handing over a quarter of an hour takes some hundredths of a second: twice as long is left to asking


@dataclass(frozen=True)
class _Handed:
    """What was handed over last, and when."""

    at_s: float
    capture: Capture | None = None
    status: Status | None = None


class Live:
    """A source stepped in a thread of its own until it is stopped or fails.

    Time goes on whether data comes or not, so that what is known grows old by the rules of the checks.
    """

    def __init__(
        self, source: Source, clock: Clock, title: str, kind: Literal["live", "scenario"], module: str | None = None
    ) -> None:
        self._source, self._clock = source, clock
        self._empty = Standing(title, kind, 0.0)
        self._gone = ""
        self._pause_s = 0.0
        self._handed = _Handed(clock.now_s())
        self._growing = Growing(module)
        self._stop = Event()
        self._thread = Thread(target=self._run, name="recording", daemon=True)
        self._thread.start()

    def standing(self) -> Standing:
        return replace(self._stands(), gone=self._gone or self._broken())

    def _broken(self) -> str:
        """What is said of a recording that ended without a word: no car is to be blamed for it."""
        ended = not self._thread.is_alive() and not self._stop.is_set()
        return "the recording stopped by an error of this program; start it again" if ended else ""

    def _stands(self) -> Standing:
        handed, since_s = self._handed, self._since_s()
        status = handed.status
        if status is None:
            return replace(self._empty, silent_s=since_s, waiting=True, why="asking who is there")
        silent_s = since_s + (status.time_s if status.silent_s is None else status.silent_s)
        kind, text = (status.notice.kind, status.notice.text) if status.notice is not None else ("well", "")
        return replace(
            self._empty,
            position_s=status.time_s + since_s,
            silent_s=silent_s if silent_s > SILENT_S or status.silent_s is None else None,
            waiting=status.silent_s is None and kind in (*WELL, "silent"),
            why="" if kind in WELL else text,
        )

    def recording(self) -> Recording | None:
        """What is known now; None before anything is."""
        capture, since_s = self._handed.capture, self._since_s()
        return live(replace(capture, duration_s=capture.duration_s + since_s)) if capture is not None else None

    def channels(self) -> Sequence[str]:
        return self._growing.channels()

    def rows(self, charts: Sequence[Chart]) -> Sequence[Drawn]:
        return self._growing.rows(charts)

    def fresh_s(self, name: str) -> float:
        return self._growing.fresh_s(name)

    def end(self, why: str) -> None:
        """Whoever was asked is there no longer; from any thread."""
        self._gone = why
        self._stop.set()

    def stop(self) -> None:
        """End the recording and wait until its file is whole."""
        self._stop.set()
        self._thread.join()

    def _since_s(self) -> float:
        return max(self._clock.now_s() - self._handed.at_s, 0.0)

    def _run(self) -> None:
        try:
            while not self._stop.is_set():
                self._source.step()
                if self._since_s() >= self._pause_s:
                    self._hand_over()
        except RelearnError as wrong:
            self._gone = str(wrong)
        finally:
            self._close()

    def _hand_over(self) -> None:
        began_s = self._clock.now_s()
        capture, status = self._source.capture(), self._source.status()
        self._growing.take(capture)
        self._handed = _Handed(began_s, capture, status)
        self._pause_s = max(HAND_OVER_S, (1.0 + REST) * (self._clock.now_s() - began_s))

    def _close(self) -> None:
        try:
            self._source.close()
        except RelearnError as wrong:
            self._gone = self._gone or str(wrong)


WELL = ("answering", "back", "changed", "well", "alone", "lacks", "slow", "shared-bus")
"""Notices after which a silence is not explained by them."""
