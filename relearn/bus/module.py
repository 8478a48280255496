"""One module of a capture: what it remembers having said, and what of it holds at a moment."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from relearn.bus.address import Address
from relearn.bus.answering import Spoken
from relearn.bus.refusing import refusal, unsupported
from relearn.bus.things import is_reading, positive, things
from relearn.bus.waking import Waking, held_s
from relearn.capture.assemble import MAX_11
from relearn.j1979.refusals import PENDING


class Entry(NamedTuple):
    """What a module said of one thing. time_s: of the question, or of the answer where no question is seen.

    data: its bytes in the answer; refused: the refusal instead; neither: it was asked and not answered. delay_s,
    pending_s: when the answer and each "response pending" before it began after the question; delay_s is None where
    no question is seen.
    """

    time_s: float
    data: bytes | None = None
    refused: bytes | None = None
    delay_s: float | None = None
    pending_s: tuple[float, ...] = ()

    @property
    def spoken(self) -> bool:
        """It said something, if only that it needs time."""
        return self.data is not None or self.refused is not None or bool(self.pending_s)


@dataclass(frozen=True)
class Memory:
    """All that a module said of one thing, in time order."""

    entries: Sequence[Entry]
    value: bool

    @cached_property
    def times_s(self) -> list[float]:
        return [entry.time_s for entry in self.entries]

    @cached_property
    def hold_s(self) -> float:
        return held_s(np.array(self.times_s))

    def at(self, time_s: float, since_s: float) -> Entry | None:
        """What holds at a moment, for a module that has been there since since_s; None where nothing does."""
        row = bisect_right(self.times_s, time_s) - 1
        if not self.value:
            return self.entries[row] if row >= 0 else next((one for one in self.entries if one.data is not None), None)
        newest = self.entries[row] if row >= 0 else None
        return newest if newest and newest.time_s >= max(since_s, time_s - self.hold_s) else None


@dataclass(frozen=True)
class Module:
    """One module of a capture. memory: by thing. usual_s: how long its answers take. padding: what fills its frames."""

    identifier: int
    memory: Mapping[bytes, Memory]
    waking: Waking
    usual_s: float
    padding: int

    @property
    def extended(self) -> bool:
        return self.identifier > MAX_11

    @cached_property
    def services(self) -> frozenset[int]:
        """Those that it has ever given an answer to."""
        return frozenset(
            thing[0] for thing, kept in self.memory.items() if any(one.data is not None for one in kept.entries)
        )

    def says(self, question: bytes, to: Address, time_s: float) -> Iterator[Spoken]:
        """What it sends when asked at this time."""
        since_s = self.waking.at(time_s)
        if since_s is None or to.extended != self.extended or to.answers not in (None, self.identifier):
            return
        asked = (question, *things(question)) if is_reading(question) else ()
        if not self.memory.keys() & set(asked):
            yield from self._spoken(unsupported(question, to, self.services), Entry(time_s))
        elif now := self._now(asked[:1], time_s, since_s) or self._now(asked[1:], time_s, since_s):
            slowest = max(now, key=self._delay_s)
            yield from (self._speak(pause_s, refusal(question[0], PENDING)) for pause_s in slowest.pending_s)
            yield from self._spoken(_payload(question[0], now), slowest)

    def _now(self, asked: Sequence[bytes], time_s: float, since_s: float) -> list[Entry]:
        """What it has to say of each thing at a moment, of those that it has anything to say of."""
        known = (self.memory[thing].at(time_s, since_s) for thing in asked if thing in self.memory)
        return [entry for entry in known if entry is not None and entry.spoken]

    def _delay_s(self, entry: Entry) -> float:
        return self.usual_s if entry.delay_s is None else entry.delay_s

    def _spoken(self, payload: bytes | None, entry: Entry) -> Iterator[Spoken]:
        if payload is not None:
            yield self._speak(self._delay_s(entry), payload)

    def _speak(self, delay_s: float, payload: bytes) -> Spoken:
        return Spoken(self.identifier, self.extended, delay_s, payload, self.padding)


def _payload(service: int, now: Sequence[Entry]) -> bytes | None:
    """The answer of all that is there; a refusal where nothing is; None where it only asked for patience."""
    data = [entry.data for entry in now if entry.data is not None]
    if data:
        return positive(service, data)
    return next((entry.refused for entry in now if entry.refused is not None), None)
