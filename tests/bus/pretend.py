"""One module with parameters, for the tests of whoever asks: it can be slow, refuse groups, be busy or asleep."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field

from relearn.bus.address import Address
from relearn.bus.answering import Spoken
from relearn.j1979.table import parameters

Data = Callable[[int, float], bytes]
"""The data bytes of a parameter at a moment."""


def zeros(pid: int, now_s: float) -> bytes:
    return bytes(parameters()[pid].length)


@dataclass
class Module:
    """together: most parameters in one request; more are refused (13), or answered in part, or not at all.

    texts: whole answers to other questions, by question. asked: every question it heard, with its time.
    """

    supported: Collection[int]
    identifier: int = 0x7E8
    extended: bool = False
    by_identifier: bool = False
    together: int = 6
    beyond: str = "refused"
    delay_s: float = 0.005
    data: Data = zeros
    awake: Callable[[float], bool] = lambda now_s: True
    refuses: dict[bytes, int] = field(default_factory=dict)
    texts: dict[bytes, bytes] = field(default_factory=dict)
    asked: list[tuple[float, bytes, Address]] = field(default_factory=list)

    def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
        if to.extended != self.extended or to.answers not in (None, self.identifier) or not self.awake(now_s):
            return ()
        self.asked.append((now_s, payload, to))
        answer = self._answer(payload, now_s)
        return () if answer is None else [Spoken(self.identifier, self.extended, self.delay_s, answer)]

    def times(self, payload: str) -> list[float]:
        """When a question was heard."""
        return [time_s for time_s, asked, _ in self.asked if asked.hex() == payload.lower()]

    def _answer(self, payload: bytes, now_s: float) -> bytes | None:
        service, width = payload[0], 2 if self.by_identifier else 1
        if payload in self.refuses:
            return bytes((0x7F, service, self.refuses[payload]))
        if payload in self.texts:
            return self.texts[payload]
        if service != (0x22 if self.by_identifier else 0x01):
            return None
        names = [payload[at : at + width] for at in range(1, len(payload), width)]
        if len(names) > self.together:
            if self.beyond == "refused":
                return bytes((0x7F, service, 0x13))
            names = names[: self.together] if self.beyond == "in part" else []
        known = [name for name in names if name[:-1] in (b"", b"\xf4") and self._has(name[-1])]
        data = b"".join(name + self._data(name[-1], now_s) for name in known)
        return bytes((service + 0x40,)) + data if data else None

    def _has(self, pid: int) -> bool:
        is_mask = pid % 0x20 == 0 and (pid == 0 or any(one > pid for one in self.supported))
        return is_mask or pid in self.supported

    def _data(self, pid: int, now_s: float) -> bytes:
        if pid % 0x20:
            return self.data(pid, now_s)
        word = sum(1 << pid + 0x20 - one for one in range(pid + 1, pid + 0x21) if self._has(one))
        return word.to_bytes(4, "big")
