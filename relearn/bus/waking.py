"""When a module of a capture was there to be asked, and for how long something it said can be said again."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.traffic import Traffic

HOLD_LEAST_S = 2.0  # a lost answer or two must not make a value vanish
HOLD_INTERVALS = 3.0
HOLD_MOST_S = 15.0  # what is asked more seldom is not known in between
ANSWER_S = 0.050  # P2 of ISO 15765-4: by when an answer begins
IN_VAIN = 2  # so many questions in a row without an answer are a silent module; one is a lost answer

Times = NDArray[np.float64]


@dataclass(frozen=True)
class Waking:
    """since_s, spoke_s, until_s: from when on it was there without a break, each time it spoke, and how long it would
    have spoken after that. All ascending seconds from the capture's start."""

    since_s: list[float]
    spoke_s: list[float]
    until_s: list[float]

    def at(self, time_s: float) -> float | None:
        """Since when it has been there; None while it is silent. At until_s itself it is silent."""
        row = bisect_right(self.spoke_s, time_s) - 1
        return self.since_s[row] if row >= 0 and time_s < self.until_s[row] else None


def held_s(times_s: Times) -> float:
    """How old something may be that was said at these times: three of its own median intervals, 2 to 15 s."""
    usual_s = float(np.median(np.diff(times_s))) if len(times_s) > 1 else 0.0
    return min(max(HOLD_INTERVALS * usual_s, HOLD_LEAST_S), HOLD_MOST_S)


def waking(spoke_s: Times, vain_s: Times) -> Waking:
    """From the times that a module spoke (of the question, where one is seen) and those it was asked in vain.

    It is there from its first word on; silent from the first of two questions in a row that it left unanswered, or
    once it has said nothing for as long as `held_s` allows; there again with the next question that it answered.
    """
    row = np.searchsorted(vain_s, spoke_s, side="right")
    after = np.append(row[1:], len(vain_s))
    first_s = np.append(vain_s, np.inf)[row]
    until_s = np.minimum(spoke_s + held_s(spoke_s), np.where(after - row >= IN_VAIN, first_s, np.inf))
    fresh = np.concatenate(([True], spoke_s[1:] > until_s[:-1]))
    since_s = np.maximum.accumulate(np.where(fresh, spoke_s, -np.inf))
    return Waking(since_s.tolist(), spoke_s.tolist(), until_s.tolist())


def asked_in_vain(heard: Traffic, questions_s: Times) -> Times:
    """When it was asked something of a kind that it answers, and sent no frame before the next question or P2."""
    next_s = np.append(questions_s, np.inf)[np.searchsorted(questions_s, heard.asked_s, side="right")]
    spoke_s = np.append(heard.answered_s, np.inf)[np.searchsorted(heard.answered_s, heard.asked_s, side="right")]
    vain_s: Times = heard.asked_s[spoke_s >= np.maximum(next_s, heard.asked_s + ANSWER_S)]
    return vain_s
