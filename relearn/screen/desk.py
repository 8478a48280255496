"""What all browsers on the page share: the feed, what is asked of it, and the newest answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from relearn.analysis.common import cautions
from relearn.analysis.marks import Mark, marks
from relearn.analysis.ready import ready
from relearn.analysis.settle import settle
from relearn.analysis.steps import steps
from relearn.findings.steps import StepsFindings
from relearn.procedures.loader import procedure
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording
from relearn.screen import panel
from relearn.screen.charts import Chart, Ends, ends, having
from relearn.screen.feeds import Feed
from relearn.screen.job_plan import JobPlan
from relearn.screen.panel import Panel, Planned, Span

IN_RECORDING = "In this recording"


@dataclass(frozen=True)
class Answers:
    """Everything judged at one moment. at_s: of which position of the feed. ready_spans: when it was ready. judged: which
    idle was judged."""

    at_s: float
    panels: tuple[Panel, ...] = ()
    plan: tuple[Planned, ...] = ()
    plan_of: str = IN_RECORDING
    marks: tuple[Mark, ...] = ()
    ready_spans: tuple[Span, ...] = ()
    judged: Span | None = None


NOTHING = Answers(0.0)


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
    """Every question of the page, asked of what is known now. job: whose plan is shown instead of the recording's."""
    asked, settled = ready(recording, relearn, sheet, module), settle(recording, sheet, module)
    names = order(relearn) if job is None else (relearn,)
    done = {name: steps(recording, name, sheet, module) for name in names}
    return Answers(
        recording.duration_s,
        (panel.ready(asked), panel.steps(done[relearn]), panel.settle(settled)),
        _seen(done, relearn) if job is None else job.stages(relearn),
        IN_RECORDING if job is None else job.trouble or job.title,
        marks(recording, sheet, module),
        asked.ready_spans_s,
        settled.judged_s,
    )


def _seen(done: dict[str, StepsFindings], relearn: str) -> tuple[Planned, ...]:
    """The order with what this recording shows of each one's steps."""
    return tuple(
        Planned(name, one.title, one.verdict, f"steps: {one.verdict}", name == relearn) for name, one in done.items()
    )


class Desk:
    """One feed, one relearn, one sheet; the newest answers for whoever looks. feed: None while nothing is chosen.

    job: the plan of the folder that was given, where it holds a job.
    """

    def __init__(self, feed: Feed | None, relearn: str, sheet: Sheet, job: JobPlan | None = None) -> None:
        self.feed, self.relearn, self.sheet, self.job = feed, relearn, sheet, job
        self.answers = NOTHING
        self._asked_of: object = None

    def show(self, feed: Feed | None) -> None:
        """Another feed; nothing is known of it yet."""
        self.feed, self.answers = feed, NOTHING

    def charts(self) -> tuple[Chart, ...]:
        """The charts of which the feed has anything by now."""
        return having(self.feed.channels() if self.feed is not None else ())

    def limits(self, charts: Sequence[Chart]) -> list[Ends | None]:
        """Their bands by this sheet."""
        return [ends(one, self.sheet) for one in charts]

    def cautions(self) -> tuple[str, ...]:
        """What to mind during this relearn."""
        return tuple(one.text for one in cautions(procedure(self.relearn).cautions))

    def judge(self) -> None:
        """Bring the answers up to date. It takes some tenths of a second: not for the thread that serves the page."""
        feed, relearn = self.feed, self.relearn
        asked_of = (feed, relearn, feed.standing().position_s if feed is not None else 0.0)
        recording = feed.recording() if feed is not None and asked_of != self._asked_of else None
        if recording is None:
            return
        found = answers(recording, relearn, self.sheet, None, self.job)
        if feed is self.feed and relearn == self.relearn:  # else somebody chose another one meanwhile
            self.answers, self._asked_of = found, asked_of
