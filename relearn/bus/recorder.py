"""What every recording shares, whoever asks: the line, the file, the window, the notices, and what trouble does to it.

Trouble is told once, marked in the recording by an error frame, and mostly passes: a driver whose queue is full because
nobody on the bus confirms its frames (an ignition that is off) takes them again later. An adapter that cannot be heard,
or has left the bus, ends the recording after GIVE_UP_S.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from relearn.bus.clock import Clock
from relearn.bus.frame import Frame
from relearn.bus.log import BUS_ERROR, Log
from relearn.bus.source import ENDS, LASTING, Kind, Notice
from relearn.bus.window import Window
from relearn.bus.wire import AnyBus, BusOff, Line, NotTaken
from relearn.capture.frames import Capture
from relearn.errors import BusError

GIVE_UP_S = 5.0  # a plug pushed back in, a controller that restarts by itself; common practice, no source
RETRY_S = 0.25
PASSED_S = 2.0  # a failure that long after the last one is a new trouble
BUS_CHECK_S = 1.0
AGAIN_S = 10.0  # how often the adapter's complaints are told
BUS_OFF = 0x40
# Error classes of linux/can/error.h, by which a recording itself shows its trouble: transmission timed out, controller
# left the bus, controller trouble of no stated kind. The bus error bit stands in each, since python-can's reader of
# candump text knows an error frame by that bit.
MARKS: dict[type[BusError], int] = {NotTaken: 0x01 | BUS_ERROR, BusOff: BUS_OFF | BUS_ERROR, BusError: 0x04 | BUS_ERROR}
KINDS: dict[type[BusError], Kind] = {NotTaken: "trouble", BusOff: "bus-off", BusError: "trouble"}


class Recorder:
    """An open line whose every wanted frame is recorded. heard_s: when anybody else was last heard, None before."""

    def __init__(
        self,
        bus: AnyBus,
        clock: Clock,
        path: Path,
        window: Window,
        wants: Callable[[Frame], bool],
        tell: Callable[[Notice], None],
    ) -> None:
        self.path, self.window, self.clock = path, window, clock
        self.log = Log(path)
        self.line = Line(bus, clock, self._witness, self.log.keep)
        self._newest: Notice | None = None
        self._lasting: dict[Kind, Notice] = {}
        self.heard_s: float | None = None
        self._wants, self._tell_on = wants, tell
        self._trouble: type[BusError] | None = None
        self._since_s = self._failed_s = self._checked_s = self._complained_s = 0.0
        self._error_s: float | None = None

    @property
    def notice(self) -> Notice | None:
        """The newest one of what is wrong with the bus; where nothing is, the newest of all."""
        return next(reversed(self._lasting.values()), self._newest)

    @property
    def troubled(self) -> bool:
        """The adapter failed, and nobody has been heard since."""
        return self._trouble is not None

    def attempt(self, turn: Callable[[], None]) -> None:
        """One turn of whoever records, and what is due besides. BusError, CaptureError: it is over."""
        try:
            turn()
            self._look_at_bus()
        except BusError as wrong:
            self._fail(wrong)
        self.log.keep(self.clock.now_s())

    def tell(self, kind: Kind, text: str) -> None:
        """A notice, as of now."""
        self._newest = Notice(self.clock.now_s(), kind, text)
        for ended in (kind, *ENDS.get(kind, ())):
            self._lasting.pop(ended, None)
        if kind == "well":
            self._error_s = None
        if kind in LASTING:
            self._lasting[kind] = self._newest
        self._tell_on(self._newest)

    def capture(self) -> Capture:
        """What the window holds, as of now."""
        return self.window.capture(self.path, self.clock.now_s())

    def elapsed_s(self) -> float:
        """Since the first frame."""
        return self.window.elapsed_s(self.clock.now_s())

    def close(self) -> None:
        """The file whole, the bus let go. CaptureError: the disk does not take the rest."""
        try:
            self.log.close()
        finally:
            self._let_go()

    def _let_go(self) -> None:
        try:
            self.line.close()
        except BusError as wrong:
            self.tell("trouble", f"the adapter could not be closed ({wrong.what})")

    def _witness(self, frame: Frame) -> None:
        if frame.error:
            self._record(frame)
            self._complain(frame)
        elif self._wants(frame):
            self._record(frame)

    def _record(self, frame: Frame) -> None:
        self.log.witness(frame)
        self.window.witness(frame)

    def hears(self, frame: Frame) -> None:
        """Somebody else has spoken: whatever trouble there was is over, errors on the bus once there were none for
        AGAIN_S."""
        self.heard_s = frame.time_s
        clean = self._error_s is not None and frame.time_s - self._error_s >= AGAIN_S
        if self._trouble is not None or clean:
            self._trouble = None
            self.tell("well", "the adapter works again")

    def _complain(self, frame: Frame) -> None:
        self._error_s = frame.time_s
        if frame.time_s - self._complained_s < AGAIN_S:
            return
        self._complained_s = frame.time_s
        if frame.identifier & BUS_OFF:
            self.tell("bus-off", f"the adapter says that it has left the bus; {BUS_ADVICE}")
        else:
            self.tell("trouble", f"the adapter reports errors on the bus; {BUS_ADVICE}")

    def _look_at_bus(self) -> None:
        now_s = self.clock.now_s()
        if now_s - self._checked_s >= BUS_CHECK_S:
            self._checked_s = now_s
            self.line.check()

    def _fail(self, wrong: BusError) -> None:
        """Told and marked when it begins; raised where it lasts. A full queue lasts as long as nobody is there."""
        now_s, kind = self.clock.now_s(), type(wrong)
        if self._trouble is not kind or now_s - self._failed_s > PASSED_S:
            self._begin(wrong, kind, now_s)
        elif kind is not NotTaken and now_s - self._since_s >= GIVE_UP_S:
            raise wrong
        self._failed_s = now_s
        self.clock.sleep(RETRY_S)

    def _begin(self, wrong: BusError, kind: type[BusError], now_s: float) -> None:
        new = self._trouble is not kind
        self._trouble, self._since_s = kind, now_s
        if new:
            self._record(Frame(now_s, MARKS[kind], False, b"", error=True))
            self.tell(KINDS[kind], f"{wrong.what}; {wrong.remedy}. Still trying")


BUS_ADVICE = "check bitrate, plug and wiring"
