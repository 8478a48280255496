"""Ctrl-C and its like: the first ends a recording in good order, a second one at once."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType, TracebackType

NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")  # the last two: a closed terminal, and what Windows has instead
Heard = Callable[[int, FrameType | None], None]


@contextmanager
def asked_to_end(heard: Heard) -> Iterator[Callable[[], None]]:
    """While it is entered, `heard` is called whenever the program is asked to end. What is ignored, as nohup wants it,
    stays ignored.

    Yields what to call when the program is ending by its own exit code: from then on, and for good, nothing that asks
    it to end makes another of it, while Python clears up.
    """
    before = {}
    for number in (getattr(signal, name) for name in NAMES if hasattr(signal, name)):
        if signal.getsignal(number) is not signal.SIG_IGN:
            before[number] = signal.signal(number, heard) or signal.SIG_DFL

    def ending() -> None:
        for number in before:
            signal.signal(number, signal.SIG_IGN)
        before.clear()

    try:
        yield ending
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class Stopping:
    """While it is entered, asking the program to end only sets `asked`; asking again is a KeyboardInterrupt."""

    def __init__(self) -> None:
        self.asked = False
        self._ears = asked_to_end(self._heard)

    def __enter__(self) -> Stopping:
        self._ears.__enter__()
        return self

    def __exit__(self, kind: type[BaseException] | None, wrong: BaseException | None, at: TracebackType | None) -> None:
        self._ears.__exit__(None, None, None)

    def _heard(self, number: int, frame: FrameType | None) -> None:
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
