"""The document of a coaching: what is so now, and what is to be done."""

from __future__ import annotations

from typing import Literal

from relearn.findings.base import Answer, Document, Range, TextLine

StageName = Literal["getting ready", "steps", "idle", "done"]
StepState = Literal["to come", "now", "enough", "done", "wrong", "cannot tell", "by eye"]


class HeldRow(Document):
    """One measured precondition now. value: the newest reading, null where it is no longer fresh. margin: of the
    reading nearest to its limit. trend: change in a minute, null where too little was read to tell."""

    id: str
    text: str
    verdict: Answer
    value: float | None
    unit: str
    limits: Range
    low_open: bool
    margin: float | None
    trend_per_min: float | None
    reason: str
    standing: str


class EyeRow(Document):
    """Something that a person confirms. confirmed: when (ISO 8601, UTC), null as long as nobody did."""

    id: str
    text: str
    why: str = ""
    confirmed: str | None = None


class StepLine(Document):
    """One step of the relearn in its order. state 'enough': all of it is there, and a moment is needed until that is
    certain; 'cannot tell': it can no longer be decided. reason: what was measured of it, or why it
    went wrong or cannot be told."""

    id: str
    text: str
    state: StepState
    reason: str = ""


class Countdown(Document):
    """The time that a step goes by. left_s: until what is asked is reached, 0 from then on. too_late_s: until it is too
    late, null where it never is. asked: in words."""

    what: str
    asked: str
    elapsed_s: float
    left_s: float
    too_late_s: float | None


class StepNow(Document):
    """The step under way. signs: what the data shows of it. reached: what it asks is there, and the next follows."""

    id: str
    text: str
    countdown: Countdown | None
    signs: tuple[str, ...]
    reached: bool


class IdleNow(Document):
    """The idle while it settles. speed_rpm: the newest reading, null where it is no longer fresh; age_s: how old it is,
    null before the first. held_s: how long it has stayed inside its window, of
    asked_s. left_s: how much longer it must, null while it is not inside. missing: what else is no yes, and why."""

    speed_rpm: float | None
    age_s: float | None = None
    window: str
    held_s: float | None
    asked_s: float
    left_s: float | None
    missing: tuple[TextLine, ...]


class Advice(Document):
    """What a coach says at one moment.

    time_s: seconds since 1970; at_s: since the recording began. verdict, reasons: of this stage, as it stands. say: the
    one thing to do now. silent_s: since the module last answered, null before it ever did; stopped: said when the data
    has stopped, and then nothing here is advice; quiet: said when it is silent as it should be.
    wrong: what went wrong in the newest try, with what a new one needs. lost: which step can no longer be decided, so
    that the try under way cannot become a yes, and what that means. cars: who the modules say they are, while getting
    ready. warm_up: when coolant will be ready, in words.
    gone_on: stages left on a person's word although they were no yes, with the reason.
    """

    kind: Literal["advice"] = "advice"
    relearn: str
    title: str
    sheet: str
    stage: StageName
    time_s: float
    at_s: float
    verdict: Answer
    reasons: tuple[str, ...]
    say: str
    silent_s: float | None
    stopped: str = ""
    quiet: str = ""
    preconditions: tuple[HeldRow, ...] = ()
    warm_up: str = ""
    by_eye: tuple[EyeRow, ...] = ()
    steps: tuple[StepLine, ...] = ()
    now: StepNow | None = None
    wrong: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    idle: IdleNow | None = None
    gone_on: tuple[TextLine, ...] = ()
    notes: tuple[str, ...] = ()
    cars: tuple[str, ...] = ()
    cautions: tuple[TextLine, ...]
    only_advises: str
