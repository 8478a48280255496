"""Where a coaching stands: which stage since when, what a person confirmed or said. It is moved on by two things only,
what the data shows and what the person says. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from relearn.errors import ChoiceError
from relearn.findings.advice import Advice, StageName
from relearn.jobs.sequence import IDLE_SPEED
from relearn.procedures.loader import procedure, procedures
from relearn.procedures.models import AFTER_WRITE


@dataclass(frozen=True)
class Confirmed:
    """A person saw this item. time_s: seconds since 1970."""

    item: str
    time_s: float


@dataclass(frozen=True)
class GoneOn:
    """A stage was left on a person's word although it was no yes: what stood against it, and why they did."""

    stage: StageName
    time_s: float
    against: str
    reason: str


@dataclass(frozen=True)
class Standing:
    """One relearn on its way. since_s: when the stage began; began: when each one did. Seconds since 1970."""

    relearn: str
    stages: tuple[StageName, ...]
    stage: StageName
    since_s: float
    began: tuple[tuple[StageName, float], ...] = ()
    confirmed: tuple[Confirmed, ...] = ()
    gone_on: tuple[GoneOn, ...] = ()
    ended: bool = False

    def began_s(self, stage: StageName) -> float | None:
        """When a stage began; None for one that never did."""
        return dict(self.began).get(stage)


@dataclass(frozen=True)
class Confirm:
    """The next item that is seen by eye is as it should be."""


@dataclass(frozen=True)
class Next:
    """On to the next stage. reason: why, where this one is no yes."""

    reason: str = ""


@dataclass(frozen=True)
class End:
    """No more."""


Key = Confirm | Next | End


@dataclass(frozen=True)
class Moved:
    """The standing after a key, and what to tell the person who pressed it where it changed nothing."""

    standing: Standing
    answer: str = field(default="")


def begin(relearn: str, now_s: float) -> Standing:
    """At the first stage. An unknown relearn is a ChoiceError."""
    stages = stages_of(relearn)
    return Standing(relearn, stages, stages[0], now_s, ((stages[0], now_s),))


def stages_of(relearn: str) -> tuple[StageName, ...]:
    """What a relearn goes through: nothing is to be ready for the wait after a write, and only where the idle speed is
    expected to be right afterwards is the idle watched."""
    if relearn == AFTER_WRITE:
        return "steps", "done"
    if relearn not in procedures():
        known = ", ".join((*procedures(), AFTER_WRITE))
        raise ChoiceError(f"there is no relearn called '{relearn}'", remedy=f"choose one of {known}")
    watched = any(one.id == IDLE_SPEED for one in procedure(relearn).afterwards)
    return ("getting ready", "steps", "idle", "done") if watched else ("getting ready", "steps", "done")


def by_data(standing: Standing, advice: Advice) -> Standing:
    """On from the steps, and from the idle, once they are a yes. From getting ready only a person leads on."""
    if standing.stage not in ("steps", "idle") or advice.stage != standing.stage:
        return standing
    return _on(standing, advice.time_s) if advice.verdict == "yes" and not advice.stopped else standing


def by_keys(standing: Standing, advice: Advice, keys: Iterable[Key]) -> Moved:
    """What the person said, in order. advice: what they saw when they did."""
    moved = Moved(standing)
    for key in keys:
        answer = moved.answer
        moved = _by_key(moved.standing, advice, key)
        moved = replace(moved, answer=moved.answer or answer)
    return moved


def against(standing: Standing, advice: Advice) -> str:
    """What stands against leaving this stage now; nothing when it is a yes and all that is seen by eye is confirmed."""
    known = {one.item for one in standing.confirmed}
    unseen = [one.text for one in advice.by_eye if one.id not in known]
    said = [] if advice.verdict == "yes" else [advice.stopped or "; ".join(advice.reasons)]
    said += [f"not confirmed by eye: {', '.join(unseen)}"] if unseen else []
    return "; ".join(said)


def _by_key(standing: Standing, advice: Advice, key: Key) -> Moved:
    if isinstance(key, End):
        return Moved(replace(standing, ended=True))
    if advice.stage != standing.stage:
        return Moved(standing)  # said to a stage that is over
    return _confirmed(standing, advice) if isinstance(key, Confirm) else _next(standing, advice, key)


def _confirmed(standing: Standing, advice: Advice) -> Moved:
    known = {one.item for one in standing.confirmed}
    item = next((one for one in advice.by_eye if one.id not in known), None)
    if item is None:
        return Moved(standing, "nothing is left to be confirmed by eye")
    word = Confirmed(item.id, advice.time_s)
    return Moved(replace(standing, confirmed=(*standing.confirmed, word)))


def _next(standing: Standing, advice: Advice, key: Next) -> Moved:
    """A stage that is no yes is left only with a reason; the last one is not left."""
    if standing.stage == "done":
        return Moved(standing, "nothing follows: end with q")
    why, reason = against(standing, advice), key.reason.strip()
    if why and not reason:
        return Moved(standing, f"going on needs a reason, because {why}")
    if why:
        standing = replace(standing, gone_on=(*standing.gone_on, GoneOn(standing.stage, advice.time_s, why, reason)))
    return Moved(_on(standing, advice.time_s))


def _on(standing: Standing, now_s: float) -> Standing:
    following = standing.stages[standing.stages.index(standing.stage) + 1]
    return replace(standing, stage=following, since_s=now_s, began=(*standing.began, (following, now_s)))
