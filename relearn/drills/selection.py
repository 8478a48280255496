"""Which of all questions that could be asked make a lesson: few, unlike each other, and of every kind and answer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from hashlib import sha256

from relearn.drills.drill_file import Stop

CLOSE_S = 60.0  # from one stop a play shows this much: nearer, the same answer is seen in the same stretch again
Rank = tuple[int | bytes, ...]


@dataclass(frozen=True)
class Candidate:
    """A question that could be asked. right: the right choices. answer: what they come to, such as yes or no.
    together: what it shares with the others that would be asked at its moment. turns: whether its own answer changes
    just before or after. signs: how many things say so. steady_s: how long the answer stays the same."""

    stop: Stop
    right: frozenset[str]
    answer: str
    together: Hashable
    turns: bool
    signs: int
    steady_s: int


def chosen(candidates: Iterable[Candidate], most: int) -> tuple[Candidate, ...]:
    """At most so many of them, in the order in which they were given. The same for the same candidates.

    One after the other is taken from the kind, in it the answer, and then the capture that was taken least; among those
    first what turns, then what the fewest things tell, which is the most easily taken for something else, then what
    stays the longest and so is the surest. What is `alike` one that was taken is left out.
    """
    left, taken = list(candidates), list[Candidate]()
    places = {id(one): place for place, one in enumerate(left)}
    counts = Counter[Hashable]()
    while left and len(taken) < most:
        best = min(left, key=lambda one: _rank(one, counts))
        taken.append(best)
        counts.update(_counted(best))
        left = [one for one in left if one is not best and not alike(one, best)]
    return tuple(sorted(taken, key=lambda one: places[id(one)]))


def alike(one: Candidate, other: Candidate) -> bool:
    """Whether both ask for the same in one capture less than CLOSE_S apart: one kind with one right answer, or, a few
    seconds later, what goes together: why a car is not ready is also what is missing."""
    a, b = one.stop, other.stop
    if a.capture != b.capture or abs(a.at_s - b.at_s) >= CLOSE_S:
        return False
    again = a.kind == b.kind and one.right == other.right
    return again or (a.at_s != b.at_s and one.together == other.together)


def _counted(one: Candidate) -> tuple[Hashable, ...]:
    """What is to be taken equally often, the most important first."""
    kind = one.stop.kind
    return (kind,), (kind, one.answer), (kind, one.right), one.stop.capture


def _rank(one: Candidate, counts: Counter[Hashable]) -> Rank:
    """The least is the best. Where nothing else decides, a lot that is always the same does, and not the alphabet."""
    lot = sha256(f"{one.stop.capture}|{one.stop.kind}|{one.stop.at_s:g}".encode()).digest()
    return (*(counts[key] for key in _counted(one)), not one.turns, one.signs, -one.steady_s, lot)
