"""What a recording is made for: what is judged of it once a second, and what ends it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from relearn.errors import ChoiceError

if TYPE_CHECKING:
    from relearn.findings.base import Judged
    from relearn.procedures.sheets import Sheet
    from relearn.recording import Recording

READY, SETTLED = "ready", "settled"


@dataclass(frozen=True)
class Until:
    """word: 'ready', 'settled', or '' where nothing is judged. judge: what is asked. ends: whether its yes ends the
    recording. for_s: how long it lasts, None without end."""

    word: str = ""
    judge: Callable[[Recording], Judged] | None = None
    ends: bool = False
    for_s: float | None = None

    def reached(self, judged: Judged | None, elapsed_s: float) -> bool:
        """Whether the recording is long enough (elapsed_s ≥ for_s), or the answer it was made for is yes."""
        if self.for_s is not None and elapsed_s >= self.for_s:
            return True
        return self.ends and judged is not None and judged.verdict == "yes"


def until(text: str | None, relearn: str | None, sheet: Sheet) -> Until:
    """By --until and --for. ChoiceError: ready without a relearn, a time that is none."""
    if text == SETTLED:
        return Until(SETTLED, lambda recording: _settle(recording, sheet), ends=True)
    ready = _ready_judge(relearn, sheet)
    if text == READY:
        if ready is None:
            raise ChoiceError("--until ready needs a relearn to be ready for", remedy="name it with --for")
        return Until(READY, ready, ends=True)
    for_s = None if text is None else _seconds(text)
    return Until(READY if ready else "", ready, for_s=for_s)


def fitting(relearn: str, sheet: Sheet) -> str:
    """The relearn itself. ChoiceError: an unknown one, or one of whose steps scan data shows nothing, as of writing."""
    from relearn.analysis.steps import course
    from relearn.procedures.loader import procedures
    from relearn.procedures.models import AFTER_WRITE

    fit = [one for one in (*procedures(), AFTER_WRITE) if any(step.shows for step in course(one, sheet).steps)]
    if relearn not in fit:
        what = "shows nothing in scan data" if relearn in procedures() else "is no relearn"
        raise ChoiceError(f"'{relearn}' {what}", remedy=f"choose one of {', '.join(fit)}")
    return relearn


def _ready_judge(relearn: str | None, sheet: Sheet) -> Callable[[Recording], Judged] | None:
    """Of a relearn; what follows a write has steps, but nothing to be ready for."""
    from relearn.procedures.models import AFTER_WRITE

    if relearn is None or relearn == AFTER_WRITE:
        return None
    return lambda recording: _ready(recording, relearn, sheet)


def _ready(recording: Recording, relearn: str, sheet: Sheet) -> Judged:
    from relearn.analysis.ready import ready

    return ready(recording, relearn, sheet)


def _settle(recording: Recording, sheet: Sheet) -> Judged:
    from relearn.analysis.settle import settle

    return settle(recording, sheet)


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = -1.0
    if not isfinite(seconds) or seconds <= 0:
        raise ChoiceError(f"--until {text} is none of its choices", remedy="give ready, settled or a number of seconds")
    return seconds
