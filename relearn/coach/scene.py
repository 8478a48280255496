"""What the stage of the steps is told from, and the small questions that are asked of it."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from relearn.checks.step_progress import Progress
from relearn.checks.steps import Course, Done
from relearn.checks.timeline import Cycle
from relearn.procedures.steps import PlannedStep

OFF, ON = "ignition-off", "ignition-on"


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything that this stage is told from. now_s: of the recording. planned: every step, those by eye too."""

    planned: tuple[PlannedStep, ...]
    asked: Course
    found: Progress
    now_s: float

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
