"""The three outcomes, what decided them, and how they combine. Nothing here is a boolean on purpose."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import Enum
from typing import NoReturn


class Outcome(Enum):
    """YES, NO or CANNOT_TELL. Has no truth value: `if outcome:` raises, so cannot-tell never slips through as a yes."""

    YES = "yes"
    NO = "no"
    CANNOT_TELL = "cannot tell"

    def __bool__(self) -> NoReturn:
        raise TypeError("an Outcome has three values; compare it with Outcome.YES, NO or CANNOT_TELL")


def combine(outcomes: Iterable[Outcome]) -> Outcome:
    """NO beats CANNOT_TELL beats YES. Of nothing at all: CANNOT_TELL, since nothing was shown."""
    seen = set(outcomes)
    if Outcome.NO in seen:
        return Outcome.NO
    return Outcome.YES if seen == {Outcome.YES} else Outcome.CANNOT_TELL


@dataclass(frozen=True)
class Limits:
    """A window with its unit and where it comes from. None leaves a side open.

    Both ends are included, but with `low_open` the low end itself is outside ("over 12.9 V").
    """

    low: float | None
    high: float | None
    unit: str
    standing: str
    low_open: bool = False

    def margin(self, value: float) -> float:
        """Distance to the nearest end: positive inside, negative outside, in the limits' own unit; inf if both open."""
        ends = [value - self.low] if self.low is not None else []
        ends += [self.high - value] if self.high is not None else []
        return min(ends, default=float("inf"))

    def holds(self, value: float) -> bool:
        """Inside, ends included except an open low end. NaN is never inside."""
        above = self.low is None or (value > self.low if self.low_open else value >= self.low)
        return above and (self.high is None or value <= self.high) and value == value

    def describe(self) -> str:
        """The window in words: '70 to 100 °C', 'over 12.9 V', '0 km/h', 'at most 20 %', 'any'."""
        unit = f" {self.unit}" if self.unit else ""
        if self.low is None and self.high == 0:
            return f"0{unit}" if unit else "none"
        if self.low is not None and self.high is not None:
            return (
                f"{_short(self.low)}{unit}"
                if self.low == self.high
                else f"{_short(self.low)} to {_short(self.high)}{unit}"
            )
        if self.low is not None:
            return f"over {_short(self.low)}{unit}" if self.low_open else f"{_short(self.low)}{unit} or more"
        return f"at most {_short(self.high)}{unit}" if self.high is not None else "any"


def figure(value: float) -> str:
    """A value to be read: integers and what is 1000 or more whole, else four significant digits at most."""
    return f"{value:.0f}" if abs(value) >= 1000 or float(value).is_integer() else f"{value:.4g}"


def _short(number: float) -> str:
    """Five significant digits at most: a limit is read, not computed with."""
    return f"{number:.5g}"


@dataclass(frozen=True)
class Evidence:
    """What decided a verdict: the deciding value against its limits, over which time and frames, by whose number.

    measured: whether the value is a measurement; that of a broken circuit has no margin to any limit.
    """

    subject: str
    value: float | str | None = None
    limits: Limits | None = None
    first_s: float | None = None
    last_s: float | None = None
    samples: int = 0
    first_frame: int | None = None
    last_frame: int | None = None
    measured: bool = True

    @property
    def margin(self) -> float | None:
        """Signed distance to the nearest limit, None where there is no number, no measurement or no limit."""
        if self.limits is None or not self.measured or not isinstance(self.value, int | float):
            return None
        margin = self.limits.margin(float(self.value))
        return None if margin == float("inf") else margin


@dataclass(frozen=True)
class Verdict:
    """One judgement: an outcome, the sentence that explains it, its evidence, and the judgements it was made from."""

    id: str
    outcome: Outcome
    reason: str
    evidence: tuple[Evidence, ...] = ()
    children: tuple[Verdict, ...] = ()

    def all_evidence(self) -> Iterator[Evidence]:
        """Own evidence, then the children's, depth first; nothing is left out after a no."""
        yield from self.evidence
        for child in self.children:
            yield from child.all_evidence()
