"""What all browsers on the page share: the feed, what is asked of it, and the newest answers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from relearn.analysis.common import cautions
from relearn.analysis.marks import Mark, marks
from relearn.analysis.ready import ready
from relearn.analysis.settle import settle
from relearn.analysis.steps import steps
from relearn.channels import FRESH_S
from relearn.findings.steps import StepsFindings
from relearn.procedures.loader import procedure
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording
from relearn.screen import panel
from relearn.screen.charts import Chart, Ends, band, having, windows
from relearn.screen.feeds import Feed
from relearn.screen.job_plan import JobPlan
from relearn.screen.panel import Panel, Planned, Span, minutes
from relearn.verdict import Limits

T = TypeVar("T")
AHEAD_S, LAGS_S = 0.5, 3.0
IN_RECORDING = "In this recording"


@dataclass(frozen=True)
class Answers:
    """Everything judged at one moment. at_s: of which position of the feed. ready_spans: when it was ready. judged:
    which idle was judged."""

    at_s: float
    panels: tuple[Panel, ...] = ()
    plan: tuple[Planned, ...] = ()
    plan_of: str = IN_RECORDING
    marks: tuple[Mark, ...] = ()
    ready_spans: tuple[Span, ...] = ()
    judged: Span | None = None


@dataclass(frozen=True)
class Idle:
    """What was said of the idle, and as of when: it takes longer to judge than all else."""

    at_s: float
    panel: Panel
    judged: Span | None = None


NOTHING = Answers(0.0)
NOT_YET = Panel("Settled?", "cannot tell", "not judged yet", ())


def order(relearn: str) -> tuple[str, ...]:
    """This relearn behind those that come before it, as far as scan data shows any of their steps."""
    found = procedure(relearn)
    return (*(row.id for row in found.comes_after if has_shown_steps(row.id)), found.id)


def has_shown_steps(relearn: str) -> bool:
    """Whether scan data shows any step of it: what the page can be about."""
    return any(step.shows for step in procedure(relearn).steps)


def answers(
    recording: Recording, relearn: str, sheet: Sheet, module: str | None = None, job: JobPlan | None = None
) -> Answers:
    """Every question of the page but the idle's, asked of what is known now. job: whose plan is shown instead of the
    recording's."""
    asked = ready(recording, relearn, sheet, module)
    names = order(relearn) if job is None else (relearn,)
    done = {name: steps(recording, name, sheet, module) for name in names}
    return Answers(
        recording.duration_s,
        (panel.ready(asked), panel.steps(done[relearn])),
        _seen(done, relearn) if job is None else job.stages(relearn),
        IN_RECORDING if job is None else job.trouble or job.title,
        marks(recording, sheet, module),
        asked.ready_spans_s,
    )


def idle(recording: Recording, sheet: Sheet, module: str | None = None) -> Idle:
    """Did it settle?"""
    found = settle(recording, sheet, module)
    return Idle(recording.duration_s, panel.settle(found), found.judged_s)


def together(found: Answers, seen: Idle | None, now_s: float) -> Answers:
    """Both in one. What was said of the idle at a later moment than now would tell what comes; what was said earlier
    says so, and so does what was said of an idle that is over: another engine run may have begun since."""
    if not found.panels:
        return found
    if seen is None or seen.at_s > now_s + AHEAD_S:
        return replace(found, panels=(*found.panels, NOT_YET))
    old = (f"Judged as of {minutes(seen.at_s)}.",) if found.at_s - seen.at_s > LAGS_S else ()
    over = seen.judged is not None and seen.at_s - seen.judged[1] > FRESH_S
    of = (f"Of the idle from {minutes(seen.judged[0])} to {minutes(seen.judged[1])}.",) if over and seen.judged else ()
    shown = replace(seen.panel, notes=(*of, *old, *seen.panel.notes), over=over)
    return replace(found, panels=(*found.panels, shown), judged=seen.judged)


def _seen(done: dict[str, StepsFindings], relearn: str) -> tuple[Planned, ...]:
    """The order with what this recording shows of each one's steps."""
    return tuple(
        Planned(name, one.title, said := panel.steps_verdict(one), f"steps: {said}", name == relearn)
        for name, one in done.items()
    )


def _fresh_s(feed: Feed | None, name: str) -> float | None:
    """Rounded, so that it is not sent again at each sample. None where nothing is known of that channel yet."""
    return round(feed.fresh_s(name)) if feed is not None and name in feed.channels() else None


class Desk:
    """One feed, one relearn, one sheet; the newest answers for whoever looks. feed: None while nothing is chosen.

    job: the plan of the folder that was given, where it holds a job.
    """

    def __init__(self, feed: Feed | None, relearn: str, sheet: Sheet, job: JobPlan | None = None) -> None:
        self.feed, self.relearn, self.sheet, self.job = feed, relearn, sheet, job
        self._answers = NOTHING
        self._idle: Idle | None = None
        self._asked: dict[str, object] = {}

    @property
    def answers(self) -> Answers:
        """The newest."""
        return together(self._answers, self._idle, self.feed.standing().position_s if self.feed is not None else 0.0)

    def show(self, feed: Feed | None) -> None:
        """Another feed; nothing is known of it yet."""
        self.feed, self._answers, self._idle = feed, NOTHING, None

    def charts(self) -> tuple[Chart, ...]:
        """The charts of which the feed has anything by now."""
        return having(self.feed.channels() if self.feed is not None else ())

    def limits(self, charts: Sequence[Chart]) -> list[Limits | None]:
        """Their bands by this sheet."""
        return [band(one, self.sheet, self.relearn) for one in charts]

    def plausible(self, charts: Sequence[Chart]) -> list[list[Ends | None]]:
        """Outside of which a value is no measurement."""
        return [windows(one) for one in charts]

    def fresh(self, charts: Sequence[Chart]) -> list[list[float | None]]:
        """For how long a value of each channel is a current one."""
        return [[_fresh_s(self.feed, name) for name in one.channels] for one in charts]

    def cautions(self) -> tuple[str, ...]:
        """What to mind during this relearn."""
        return tuple(one.text for one in cautions(procedure(self.relearn).cautions))

    def judge(self) -> None:
        """Bring all answers but the idle's up to date: some tenths of a second, not for the thread that serves."""
        relearn = self.relearn
        found = self._newly("all", lambda known: answers(known, relearn, self.sheet, None, self.job))
        self._answers = found or self._answers

    def judge_idle(self) -> None:
        """Bring the answer about the idle up to date. It can take seconds after a long one."""
        found = self._newly("idle", lambda known: idle(known, self.sheet))
        self._idle = found or self._idle

    def _newly(self, what: str, ask: Callable[[Recording], T]) -> T | None:
        """What is asked now; None where nothing is known, where it was asked at this moment already, and where somebody
        has chosen another feed or relearn meanwhile."""
        feed, relearn = self.feed, self.relearn
        moment = (feed, relearn, feed.standing().position_s if feed is not None else 0.0)
        recording = feed.recording() if feed is not None and moment != self._asked.get(what) else None
        if recording is None:
            return None
        found = ask(recording)
        if feed is not self.feed or relearn != self.relearn:
            return None
        self._asked[what] = moment
        return found
