"""A coaching as plain lines, one for each change: for screen readers, for a terminal that is none, and to be kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from queue import Empty, SimpleQueue
from threading import Thread
from typing import TextIO

from relearn.coach.changes import lines, moments
from relearn.coach.run import Coaching
from relearn.coach.standing import Confirm, End, Key, Next
from relearn.findings.advice import Advice
from relearn.report.words import plain

BELL = "\a"
HELP = "Enter confirms the by-eye item, n goes on, 'n REASON' goes on although it is no yes, q ends."


def key_of(line: str) -> Key | None:
    """What a line means; None for one that means nothing."""
    word, _, rest = line.strip().partition(" ")
    if word.lower() in ("", "c"):
        return Confirm()
    if word.lower() == "n":
        return Next(rest)
    return End() if word.lower() == "q" else None


class Lines:
    """What a person types, line by line. It is read in a thread that ends with the program."""

    def __init__(self, stream: TextIO) -> None:
        self._waiting: SimpleQueue[Key] = SimpleQueue()
        Thread(target=self._read, args=(stream,), daemon=True).start()

    def __call__(self) -> Iterator[Key]:
        while True:
            try:
                yield self._waiting.get_nowait()
            except Empty:
                return

    def _read(self, stream: TextIO) -> None:
        for line in stream:
            key = key_of(line)
            if key is not None:
                self._waiting.put(key)


def tell(coaching: Coaching, out: TextIO, stays: bool, bells: bool = False) -> None:
    """Write what changes, until the person ends it or, unless the coaching stays, until it is done."""
    _say(out, [HELP])
    before: Advice | None = None
    answered = ""
    for advice in coaching.advices():
        if bells and moments(before, advice):
            out.write(BELL)
        _say(out, (f"{datetime.fromtimestamp(advice.time_s):%H:%M:%S}  {one}" for one in lines(before, advice)))
        if coaching.answer and coaching.answer != answered:
            _say(out, [coaching.answer])
        answered = coaching.answer
        before = advice
        if advice.stage == "done" and not stays:
            break


def _say(out: TextIO, several: Iterable[str]) -> None:
    for one in several:
        print(plain(one), file=out)
    out.flush()
