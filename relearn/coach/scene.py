"""What the stage of the steps is told from, and the small questions that are asked of it."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from relearn.channels import FRESH_INTERVALS, fresh_within_s, median_interval_s
from relearn.checks.step_progress import Progress
from relearn.checks.steps import Course, Done
from relearn.checks.timeline import Cycle
from relearn.procedures.steps import PlannedStep

OFF, ON = "ignition-off", "ignition-on"
CURRENT_S = 2.0  # an older reading of a pedal, a lamp or an engine speed is not what it does now


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything that this stage is told from. now_s: of the recording. planned: every step, those by eye too. heard_s:
    when the module was last heard. lacking: sources that the module says it does not have."""

    planned: tuple[PlannedStep, ...]
    asked: Course
    found: Progress
    now_s: float
    heard_s: float
    lacking: frozenset[str] = frozenset()

    @property
    def under_way(self) -> Done | None:
        """The step under way, of those that scan data shows."""
        return self.found.done[self.found.at] if self.found.at is not None else None

    @property
    def spent(self) -> bool:
        """The ignition is on, in a stretch that no try can begin with any more."""
        one, phase = self.under_way, self.found.phase
        return one is not None and ON in one.step.shows and phase is not None and phase.kind == "on" and not one.span

    @property
    def following(self) -> PlannedStep | None:
        """The step behind the one under way, by eye or not."""
        if self.under_way is None:
            return None
        place = self.planned.index(self.under_way.step)
        return next(iter(self.planned[place + 1 :]), None)


def since_s(cycle: Cycle, kind: str) -> float | None:
    """Since when something is going on that has not ended; None when it is not."""
    several = cycle.of(kind)
    return several[-1].began.latest_s if several and not isfinite(several[-1].ended.latest_s) else None


def unread_s(scene: Scene, source: str) -> float | None:
    """For how long a source has not been read, where that is too long to say what it does now; None if it is fresh."""
    cycle = scene.found.cycle
    if cycle is None:
        return None
    channel = cycle.channels.get(source)
    if channel is None or not len(channel):
        age_s = scene.now_s - max(cycle.phase.began.latest_s, 0.0)
        return age_s if age_s > CURRENT_S else None
    interval_s = median_interval_s(channel) or 0.0
    allowed_s = min(max(CURRENT_S, FRESH_INTERVALS * interval_s), fresh_within_s(channel))
    age_s = scene.now_s - float(channel.time_s[-1])
    return age_s if age_s > allowed_s else None
