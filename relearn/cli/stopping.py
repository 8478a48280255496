"""Ctrl-C and its like: the first ends a recording in good order, a second one at once."""

from __future__ import annotations

import signal
from types import FrameType, TracebackType

NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")  # the last two: a closed terminal, and what Windows has instead


class Stopping:
    """While it is entered, asking the program to end only sets `asked`; asking again is a KeyboardInterrupt."""

    def __init__(self) -> None:
        self.asked = False
        self._before: list[tuple[signal.Signals, object]] = []

    def __enter__(self) -> Stopping:
        for name in NAMES:
            number = getattr(signal, name, None)
            if number is not None and signal.getsignal(number) is not signal.SIG_IGN:  # as nohup wants it
                self._before.append((number, signal.signal(number, self._heard) or signal.SIG_DFL))
        return self

    def __exit__(self, kind: type[BaseException] | None, wrong: BaseException | None, at: TracebackType | None) -> None:
        for number, handler in self._before:
            signal.signal(number, handler)  # type: ignore[arg-type]

    def _heard(self, number: int, frame: FrameType | None) -> None:
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
