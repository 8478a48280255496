"""When nothing may be asked, because a word from us could do harm on this bus.

  other-tester   somebody else sends, under a tester's identifier, anything but a reading question in a single frame or
                 flow control: a first or consecutive frame, a session, a write. ISO 15765-2 lets a new single frame end
                 a reception that is under way, so one question of ours can spoil a module that is being written.
                 Nothing is asked until ALONE_S have passed without such a frame.
  wrong-bitrate  the bus has given errors and never yet a frame: at a wrong bitrate every frame of ours would destroy
                 the others'. Nothing is asked until a frame is heard, or LISTEN_S have passed without an error.

Another tester's reading questions hold nothing back. Our own frames handed back by the adapter are not heard here.
"""

from __future__ import annotations

from typing import Literal

from relearn.bus.address import is_tester
from relearn.bus.frame import Frame
from relearn.bus.speech import is_flow, reads
from relearn.errors import BusError

LISTEN_S = 1.5  # before the first word: a writing tester is never still for so long; common practice, no source
ALONE_S = 30.0  # an erasure between two parts of a write takes some seconds; common practice, no source
Held = Literal["other-tester", "wrong-bitrate"]


class HeldBack(BusError):
    """A question that was not said, because of what was heard just before."""


class Manners:
    """What was heard of others. asked_s: when another tester last asked something that only reads."""

    def __init__(self) -> None:
        self.asked_s: float | None = None
        self._acted_s: float | None = None
        self._error_s: float | None = None
        self._frames = False

    def heard(self, frame: Frame) -> None:
        """Somebody else's frame, or an error."""
        if frame.error:
            self._error_s = frame.time_s
            return
        self._frames = True
        if not is_tester(frame.identifier, frame.extended):
            return
        if is_flow(frame.data) or reads(frame.data):
            self.asked_s = frame.time_s
        else:
            self._acted_s = frame.time_s

    def held(self, now_s: float) -> Held | None:
        """Why nothing may be asked now; None while it may."""
        if self._acted_s is not None and now_s - self._acted_s < ALONE_S:
            return "other-tester"
        if not self._frames and self._error_s is not None and now_s - self._error_s < LISTEN_S:
            return "wrong-bitrate"
        return None

    def check(self, now_s: float) -> None:
        """HeldBack: nothing may be asked now."""
        if (held := self.held(now_s)) is not None:
            raise HeldBack(f"nothing is asked ({held})", remedy="wait until the bus is free")
