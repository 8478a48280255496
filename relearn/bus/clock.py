"""Time that never runs backwards, given in from outside so that an hour can pass in a second."""

from __future__ import annotations

import time
from typing import Protocol


class Clock(Protocol):
    """What tells the time and lets it pass."""

    def now_s(self) -> float:
        """Seconds since 1970. Never less than it was before, even when somebody sets the machine's clock."""
        ...

    def sleep(self, seconds: float) -> None:
        """Let this much time pass; none for zero or less."""
        ...


class MachineClock:
    """The machine's own time: its wall clock when this was made, counted on by its steady one."""

    def __init__(self) -> None:
        self._start_s = time.time() - time.monotonic()

    def now_s(self) -> float:
        return self._start_s + time.monotonic()

    def sleep(self, seconds: float) -> None:
        time.sleep(max(seconds, 0.0))
