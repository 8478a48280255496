"""Which part of a judgement decided, and where it came closest to a limit or went farthest over one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from relearn.findings.base import EvidenceDoc, Judged, Judgement
from relearn.findings.steps import StepsFindings
from relearn.survey.columns import UNTOLD

NOT_BEGUN = "not begun"
COUNTED = "times"  # the unit of what a step counts
NUMBER = re.compile(r"\b\d+(?:[.,]\d+)*\b")
QUOTED = re.compile(r"(?<!\w)'[^']*'(?!\w)")


@dataclass(frozen=True)
class Margin:
    """Signed distance to the nearest limit: negative outside. part: of the judgement, 'rev/supply' for one inside."""

    part: str
    value: float
    unit: str


def decided_by(found: Judged) -> str:
    """The first part that has the verdict of the whole; '' for a yes, which every part decides. A no of steps on
    which nobody has begun says so.

    Where nothing could be told apart (one part, a cannot tell) its reason says what was missing, and stands behind it.
    """
    if found.verdict == "yes":
        return ""
    if isinstance(found, StepsFindings) and found.verdict == "no" and not found.tried:
        return NOT_BEGUN
    part = next((part for part in found.parts if part.verdict == found.verdict), None)
    if part is None:
        return ""
    return f"{part.id}: {without_numbers(part.reason)}" if len(found.parts) == 1 and part.verdict == UNTOLD else part.id


def without_numbers(sentence: str) -> str:
    """A sentence with each number, and each text quoted from a file, as '…', so that equal ones can be counted; 7E8 is
    a name."""
    return NUMBER.sub("…", QUOTED.sub("'…'", sentence))


def worst_margin(found: Judged) -> Margin | None:
    """The worst margin of the parts that said no, and inside those again; where none did, of all that could tell. None
    where nothing has a limit. What could not tell has none that counts: its value is old, or no measurement.

    Margins of different units are compared by their share of the window (of half its width, or of the limit itself
    where one side is open).
    """
    margins = [(name, one) for name, one in _measured(found.parts) if _tells(one)]
    if not margins:
        return None
    part, worst = min(margins, key=lambda named: _share(named[1]))
    return Margin(part, worst.margin or 0.0, worst.unit)


def _measured(parts: Iterable[Judgement], within: str = "") -> Iterator[tuple[str, EvidenceDoc]]:
    """Every evidence with the name of its part, of the parts that decided: a no, or all that could tell."""
    told = [part for part in parts if part.verdict != UNTOLD]
    for part in [part for part in told if part.verdict == "no"] or told:
        yield from ((within + part.id, one) for one in part.evidence)
        alike = (inner for inner in part.parts if inner.verdict == part.verdict)
        yield from _measured(alike, f"{within}{part.id}/")


def _tells(one: EvidenceDoc) -> bool:
    """There is a margin, and it could have been another. A car that stands is not more or less stopped, and presses
    are met in whole ones: no margin of theirs says how close it was, unless they missed."""
    low, high = one.limits
    exact = one.value == 0 or one.unit == COUNTED or low == high
    return one.margin is not None and not (one.margin == 0 and exact)


def _share(one: EvidenceDoc) -> float:
    low, high = one.limits
    room = (high - low) / 2 if low is not None and high is not None else abs(low or high or 0.0)
    return (one.margin or 0.0) / (room or 1.0)
