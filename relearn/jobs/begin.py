"""A new job from what a person gives on the command line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from relearn.analysis.job import Clock, local_now
from relearn.analysis.job_file import JobFile, PeopleFile
from relearn.errors import ChoiceError
from relearn.j1979.identity import vin_check
from relearn.jobs.work import Work, clean, start
from relearn.procedures.loader import catalogue


def begin(
    folder: Path,
    events: Sequence[str],
    *,
    sheet: str | None = None,
    vin: str | None = None,
    expected: str | None = None,
    module: str | None = None,
    title: str | None = None,
    people: Mapping[str, str] | None = None,
    now: Clock = local_now,
) -> Work:
    """Start a job in a folder (work.start). ChoiceError for a text that cannot be a VIN, or an event nobody knows."""
    wanted = JobFile.model_construct(
        title=clean(title or "") or _title(events),
        events=tuple(dict.fromkeys(events)),
        sheet=sheet,
        expected_calibration=clean(expected or "") or None,
        module=clean(module or "") or None,
        vin=_vin(vin) if vin is not None else None,
        people=PeopleFile(**{key: clean(text) for key, text in (people or {}).items()}),
    )
    return start(folder, wanted, now)


def _title(events: Sequence[str]) -> str:
    """The events' own titles in a row."""
    known = catalogue().events
    return ", ".join(known[one].title if one in known else one for one in dict.fromkeys(events))


def _vin(given: str) -> str:
    """In capitals. A check digit that does not fit is no reason to refuse: many regions use none."""
    vin = given.strip().upper()
    checked = vin_check(vin)
    if checked.check_digit is None:
        raise ChoiceError(f"{clean(vin)} is no VIN: {checked.reason.rstrip('.')}", remedy="copy it from the vehicle")
    return vin
