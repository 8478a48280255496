"""Where to stop: the runs of whole seconds in which an answer stays the same, and the telling moments among them."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass
from itertools import pairwise

STRIDE_S = 4  # an answer that comes and goes within this is no moment to ask about
LEAST_RUN_S = 3  # the second asked about and one on each side of it, which must agree
APART_S = 10


@dataclass(frozen=True)
class Run:
    """Whole seconds from first_s to last_s, both included, at which the answer is the same."""

    first_s: int
    last_s: int
    answer: Hashable

    @property
    def middle_s(self) -> int:
        return (self.first_s + self.last_s) // 2


def runs(answer: Callable[[int], Hashable], last_s: int) -> tuple[Run, ...]:
    """The runs of the answers at seconds 1 to last_s. Looked at every STRIDE_S, each change narrowed to its second;
    what comes and goes between two looks may be passed over. `answer` is asked often: it should keep what it found.
    """
    if last_s < 1:
        return ()
    looks = [*range(1, last_s, STRIDE_S), last_s]
    firsts = [1, *(second for a, b in pairwise(looks) for second in _changes(answer, a, b))]
    lasts = [*(second - 1 for second in firsts[1:]), last_s]
    return tuple(Run(a, b, answer(a)) for a, b in zip(firsts, lasts, strict=True))


def _changes(answer: Callable[[int], Hashable], a: int, b: int) -> Iterator[int]:
    """The first second of each new answer in a < second ≤ b."""
    if answer(a) == answer(b):
        return
    if b - a == 1:
        yield b
        return
    middle = (a + b) // 2
    yield from _changes(answer, a, middle)
    yield from _changes(answer, middle, b)


def holding(found: tuple[Run, ...], second: int) -> Run:
    """The run that this second lies in."""
    return next(run for run in found if run.first_s <= second <= run.last_s)


def settled(found: tuple[Run, ...]) -> tuple[Run, ...]:
    """The runs long enough that the second asked about agrees with both its neighbours."""
    return tuple(run for run in found if run.last_s - run.first_s + 1 >= LEAST_RUN_S)


def beside(found: tuple[Run, ...], second: int) -> tuple[Run, ...]:
    """The long enough run before and the one behind, where at most one second lies between this second and the end of
    its own: so near do `telling` and `after_changes` pick what tells a change. What comes and goes between is passed.
    """
    steady = settled(found)
    place = steady.index(holding(steady, second))
    before = steady[max(place - 1, 0) : place] if second <= steady[place].first_s + 1 else ()
    behind = steady[place + 1 : place + 2] if second >= steady[place].last_s - 1 else ()
    return (*before, *behind)


def telling(found: tuple[Run, ...]) -> tuple[int, ...]:
    """Just before the last change, just after it, a steady stretch that shows another answer, and the end.

    In time order, each APART_S from the one before unless its answer is another; all agree with both neighbours.
    """
    steady = settled(found)
    if not steady:
        return ()
    around = [steady[-2].last_s - 1, steady[-1].first_s + 1] if len(steady) > 1 else []
    told = {run.answer for run in steady[-2:]}
    others = [run for run in steady[:-2] if run.answer not in told]
    longest = max(others, key=lambda run: run.last_s - run.first_s, default=None)
    picked = sorted({*around, *([longest.middle_s] if longest is not None else []), steady[-1].last_s - 1})
    return tuple(_apart(picked, steady))


def after_changes(found: tuple[Run, ...]) -> tuple[int, ...]:
    """Just after each change into a long enough run; of a recording in which nothing changes, its end."""
    changed = tuple(run.first_s + 1 for run in settled(found) if run.first_s > 1)
    return changed or tuple(run.last_s - 1 for run in settled(found)[-1:])


def _apart(seconds: list[int], steady: tuple[Run, ...]) -> Iterator[int]:
    before: tuple[int, Hashable] | None = None
    for second in seconds:
        answer = holding(steady, second).answer
        if before is None or second - before[0] >= APART_S or answer != before[1]:
            yield second
            before = second, answer


def agrees(answer: Callable[[float], Hashable], at_s: float, end_s: float) -> bool:
    """Whether the answer a second before and, where the recording goes on, a second after is the same."""
    near = [max(0.0, at_s - 1), min(end_s, at_s + 1)]
    return all(answer(one) == answer(at_s) for one in near)
