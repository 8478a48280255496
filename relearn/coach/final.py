"""How a coaching ended, by its whole recording: what the commands that judge a finished recording say of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from relearn.analysis.ready import ready
from relearn.analysis.settle import settle
from relearn.analysis.steps import steps
from relearn.coach.standing import Standing
from relearn.findings.base import Judged, wall_clock
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording
from relearn.report.words import SIGNS
from relearn.verdict import Outcome, combine


@dataclass(frozen=True)
class Ended:
    """The last word. lines: everything that was judged or said, in order. outcome: of what counts at the end: the
    readiness, of a coaching that never left it; else the steps, and with them the idle where it was watched."""

    outcome: Outcome
    lines: tuple[str, ...]


def ended(recording: Recording, standing: Standing, sheet: Sheet) -> Ended:
    """Judge the whole recording for every stage that was reached."""
    judged = tuple(_judged(recording, standing, sheet))
    return Ended(
        combine(one.outcome for one in judged),
        (
            *(f"by eye at {wall_clock(one.time_s)}: {one.item}" for one in standing.confirmed),
            *(f"gone on from {one.stage} although {one.against}; reason: {one.reason}" for one in standing.gone_on),
            *(f"{SIGNS[one.verdict]}  {QUESTIONS[type(one).__name__]}: {'; '.join(one.reasons)}" for one in judged),
        ),
    )


def _judged(recording: Recording, standing: Standing, sheet: Sheet) -> Iterator[Judged]:
    if standing.stage == "getting ready":
        yield ready(recording, standing.relearn, sheet)
        return
    yield steps(recording, standing.relearn, sheet)
    if standing.began_s("idle") is not None:
        yield settle(recording, sheet)


QUESTIONS = {"ReadyFindings": "ready", "StepsFindings": "steps done, in time", "SettleFindings": "idle settled"}
