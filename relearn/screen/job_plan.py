"""Where a job stands by its own record, for the plan beside the charts: read again only when the record has changed."""

from __future__ import annotations

from pathlib import Path

from relearn.errors import RelearnError
from relearn.jobs import record
from relearn.jobs.folder import opened
from relearn.jobs.status import status
from relearn.jobs.work import look
from relearn.report.words import plain
from relearn.screen.panel import Planned

WAIT_S = 0.5  # for another command that holds the folder; the page asks again soon


class JobPlan:
    """The stages of one job folder. trouble: why they could not be read the last time, '' for nothing."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._changed: float | None = None
        self._stages: tuple[Planned, ...] = ()
        self.trouble = ""

    @property
    def title(self) -> str:
        """What the plan is headed with."""
        return f"The job in {plain(self._folder.resolve().name)}, by its record"

    def stages(self, asked: str) -> tuple[Planned, ...]:
        """Every stage with where it stands; what was last known where it cannot be read now."""
        try:
            changed = (self._folder / record.FILE).stat().st_mtime
            if changed != self._changed:
                self._stages, self._changed, self.trouble = self._read(asked), changed, ""
        except (RelearnError, OSError) as wrong:
            self.trouble = f"its record cannot be read now: {plain(str(wrong))}"
        return tuple(Planned(one.id, one.title, one.verdict, one.why, one.id == asked) for one in self._stages)

    def _read(self, asked: str) -> tuple[Planned, ...]:
        with opened(self._folder, WAIT_S) as job:
            found = status(look(job)).stages
        return tuple(
            Planned(one.id, plain(one.title), one.verdict, plain(one.reason), one.id == asked) for one in found
        )


def job_plan(folder: Path) -> JobPlan | None:
    """Of a folder that holds a job; None for any other."""
    return JobPlan(folder) if (folder / record.FILE).is_file() else None
