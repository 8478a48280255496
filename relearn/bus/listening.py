"""A recording that only listens: everything on the bus, and not a word from us."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from relearn.bus.address import is_module
from relearn.bus.clock import Clock
from relearn.bus.frame import Frame
from relearn.bus.recorder import Recorder
from relearn.bus.source import Notice, Status
from relearn.bus.window import Window
from relearn.bus.wire import AnyBus
from relearn.capture.frames import Capture
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep, module_name

STEP_S = 0.1
QUIET_S = 3.0  # a bus that is awake is never still for so long
RECENT_S = 10


class Listening:
    """A Source that says nothing. keep: which frames `capture` shows, beside the diagnostic ones; recorded are all."""

    def __init__(
        self, bus: AnyBus, clock: Clock, path: Path, tell: Callable[[Notice], None], keep: Keep = KEEP_DIAGNOSTIC
    ) -> None:
        self._recorder = Recorder(bus, clock, path, Window(keep), self._wants, tell)
        self._line, self._clock = self._recorder.line, clock
        self._began_s = clock.now_s()
        self._quiet = False
        self._modules: set[int] = set()
        self._identifiers: set[tuple[int, bool]] = set()
        self._by_second: dict[int, int] = {}

    def step(self) -> None:
        self._recorder.attempt(self._listen)

    def capture(self) -> Capture:
        return self._recorder.capture()

    def status(self) -> Status:
        now_s, heard_s = self._clock.now_s(), self._recorder.heard_s
        recent = [count for second, count in self._by_second.items() if second >= int(now_s) - RECENT_S]
        return Status(
            time_s=self._recorder.elapsed_s(),
            frames=self._recorder.window.frames,
            rate_hz=sum(recent) / max(min(RECENT_S, self._recorder.elapsed_s()), 1.0),
            answered_share=None,
            silent_s=now_s - heard_s if heard_s is not None else None,
            modules=tuple(module_name(one) for one in sorted(self._modules)),
            notice=self._recorder.notice,
            identifiers=len(self._identifiers),
        )

    def close(self) -> None:
        self._recorder.close()

    def _listen(self) -> None:
        until_s = self._clock.now_s() + STEP_S
        while self._line.hear(until_s) is not None and self._clock.now_s() < until_s:
            pass
        quiet = self._clock.now_s() - (self._recorder.heard_s or self._began_s) >= QUIET_S
        if quiet != self._quiet:
            self._turn(quiet)

    def _turn(self, quiet: bool) -> None:
        self._quiet = quiet
        if not quiet:
            self._recorder.tell("back", "there are frames on the bus")
        elif self._recorder.heard_s is None:
            self._recorder.tell("silent", f"nothing is on the bus yet; {CHECK}")
        else:
            self._recorder.tell("stopped", f"nothing is on the bus any more; {CHECK}")

    def _wants(self, frame: Frame) -> bool:
        second = int(frame.time_s)
        if second not in self._by_second:
            self._by_second = {one: count for one, count in self._by_second.items() if one >= second - RECENT_S}
        self._by_second[second] = self._by_second.get(second, 0) + 1
        self._identifiers.add((frame.identifier, frame.extended))
        if is_module(frame.identifier, frame.extended):
            self._modules.add(frame.identifier)
        self._recorder.hears(frame)
        return True


CHECK = "check that the ignition is on, the connector, and the bitrate (500000 on most cars, 250000 on some)"
