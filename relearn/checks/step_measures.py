"""What was measured of a step against what was asked: least and most, since a moment is known only between samples."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf, isfinite

from relearn.actions import Moment
from relearn.checks.timeline import Cycle
from relearn.verdict import Limits, Outcome, combine

DECIMALS = 6  # captures count microseconds


@dataclass(frozen=True)
class Measure:
    """One quantity known to lie between least and most (both included), and its limits.

    yes          both ends are inside the limits
    no           every value in between is outside
    cannot tell  otherwise
    words: what was asked, as the step says it. too: how to call a value below the limits, and one above.
    """

    what: str
    least: float
    most: float
    limits: Limits
    words: str
    too: tuple[str, str] = ("too short", "too long")

    @property
    def outcome(self) -> Outcome:
        least, most = round(self.least, DECIMALS), round(self.most, DECIMALS)
        if self.limits.holds(least) and (self.limits.holds(most) or (most == inf and self.limits.high is None)):
            return Outcome.YES
        return Outcome.NO if self._below(most) or self._above(least) else Outcome.CANNOT_TELL

    @property
    def value(self) -> float:
        """The middle; the least where the most is not known."""
        return (self.least + self.most) / 2 if isfinite(self.most) else self.least

    @property
    def uncertainty(self) -> float | None:
        """Half of what lies between least and most; None where the most is not known."""
        return (self.most - self.least) / 2 if isfinite(self.most) else None

    @property
    def sentence(self) -> str:
        """'ignition off 6.2 ± 0.1 s, asked 10 s or more: too short'."""
        return f"{self.what} {self.shown}, asked {self.words}{self._remark()}"

    @property
    def shown(self) -> str:
        """The value in words: '6.2 ± 0.1 s', '4 times', '4 to 5 times', '3.0 s or more'."""
        decimals = 0 if self.limits.unit != "s" else 2 if (self.uncertainty or 1.0) < 0.095 else 1
        if not isfinite(self.most):
            return f"{self.least:.{decimals}f} {self.limits.unit} or more"
        if self.limits.unit == "s":
            return f"{self.value:.{decimals}f} ± {self.uncertainty:.{decimals}f} s"
        return f"{self._either(decimals)} {self.limits.unit}"

    def _remark(self) -> str:
        if self.outcome is Outcome.YES:
            return ""
        if self.outcome is Outcome.NO:
            return f": {self.too[0] if self._below(round(self.most, DECIMALS)) else self.too[1]}"
        if not isfinite(self.most):
            return ": the capture does not show all of it"
        return f": the samples leave open {self._either(2 if self.limits.unit == 's' else 0)} {self.limits.unit}"

    def _either(self, decimals: int) -> str:
        least, most = f"{self.least:.{decimals}f}", f"{self.most:.{decimals}f}"
        return least if least == most else f"{least} to {most}"

    def _below(self, value: float) -> bool:
        return self.limits.low is not None and value < self.limits.low

    def _above(self, value: float) -> bool:
        return self.limits.high is not None and value > self.limits.high


@dataclass(frozen=True, eq=False)
class Found:
    """What one pattern found of its step.

    outcome: None where nothing can show it, so that it is seen by eye. span: what it took, from beginning to end.
    mark: the moment that later steps are timed from. goes_on: where the next step is looked for. cut: it is open only
    because the capture begins or ends too soon. phase, cycle: the ignition phase it used up, if it is about that.
    """

    outcome: Outcome | None
    reason: str
    measures: tuple[Measure, ...] = ()
    span: tuple[Moment, Moment] | None = None
    mark: Moment | None = None
    goes_on: Moment | None = None
    frames: tuple[int, int] | None = None
    cut: bool = False
    phase: int | None = None
    cycle: Cycle | None = None


def found(measures: tuple[Measure, ...], span: tuple[Moment, Moment], frames: tuple[int, int] | None) -> Found:
    """A pattern that was found: judged by its measures; without any, seeing it is a yes."""
    outcome = combine(one.outcome for one in measures) if measures else Outcome.YES
    reason = "; ".join(one.sentence for one in measures if one.outcome is outcome)
    open_ended = any(not isfinite(one.most) for one in measures if one.outcome is Outcome.CANNOT_TELL)
    made = Found(outcome, reason or "seen", measures, span, span[0], span[1], frames)
    return replace(made, cut=outcome is Outcome.CANNOT_TELL and open_ended)


def not_seen(what: str, why: str, outcome: Outcome = Outcome.NO) -> Found:
    """A pattern that should be there and is not."""
    return Found(outcome, f"{what}: {why}")


def cut_off(what: str) -> Found:
    """A pattern that may lie outside of the capture."""
    return Found(Outcome.CANNOT_TELL, f"{what}: not seen before the capture ends", cut=True)
