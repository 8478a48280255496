"""Our own frames coming back: some buses hand a sender what it has just sent (a multicast socket hears itself)."""

from __future__ import annotations

from collections import deque

from relearn.bus.frame import Frame

BACK_WITHIN_S = 1.0


class Echoes:
    """Tells what we said from what others say: each frame said counts for one that is heard within a second."""

    def __init__(self) -> None:
        self._said: deque[Frame] = deque()

    def said(self, frame: Frame) -> None:
        """We have just said this."""
        self._forget(frame.time_s)
        self._said.append(frame)

    def back(self, heard: Frame) -> bool:
        """Whether what is heard is our own."""
        self._forget(heard.time_s)
        own = next((frame for frame in self._said if _same(frame, heard)), None)
        if own is not None:
            self._said.remove(own)
        return own is not None

    def _forget(self, now_s: float) -> None:
        while self._said and self._said[0].time_s < now_s - BACK_WITHIN_S:
            self._said.popleft()


def _same(one: Frame, other: Frame) -> bool:
    return (one.identifier, one.extended, one.data) == (other.identifier, other.extended, other.data)
