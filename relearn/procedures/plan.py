"""Which relearns a job needs, in which order, what to have ready and what to hold: one frozen document."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from relearn.errors import ChoiceError
from relearn.procedures.loader import catalogue
from relearn.procedures.models import AFTER_WRITE, ComesAfter, Item, Procedure
from relearn.procedures.say import Line, Measured, afterwards, by_eye, line, measured
from relearn.procedures.sheets import Sheet
from relearn.procedures.standing import standing_text
from relearn.procedures.steps import PlannedStep, planned_steps


@dataclass(frozen=True)
class Caution:
    """One caution, in words."""

    id: str
    text: str


@dataclass(frozen=True)
class PlannedRelearn:
    """One relearn of a job.

    because: a sentence for each event that asks for it.
    comes_after: relearns of this plan that are done first, and why.
    done_before: relearns outside this plan that must already be in order.
    measured, by_eye: the preconditions. how: the way in which the steps do it.
    afterwards: what should be true once it is done.
    """

    id: str
    title: str
    because: tuple[str, ...]
    comes_after: tuple[Line, ...]
    done_before: tuple[Line, ...]
    measured: tuple[Measured, ...]
    by_eye: tuple[Line, ...]
    how: str
    steps: tuple[PlannedStep, ...]
    afterwards: tuple[Measured, ...]
    cautions: tuple[Caution, ...]
    standing: str


@dataclass(frozen=True)
class PlannedProgramming:
    """Everything about writing the module, for a job in which one is written."""

    while_writing: tuple[Line, ...]
    upsets_the_supply: tuple[Line, ...]
    after_write: tuple[PlannedStep, ...]
    if_the_write_fails: tuple[Line, ...]
    if_no_newer_file: tuple[Line, ...]
    read_back: tuple[Line, ...]
    customer_gets: tuple[Line, ...]


@dataclass(frozen=True)
class Plan:
    """A job in the order in which it is done. programming: None when no module is written."""

    events: tuple[str, ...]
    sheet: str
    have_ready: tuple[Line, ...]
    programming: PlannedProgramming | None
    relearns: tuple[PlannedRelearn, ...]
    cautions: tuple[Caution, ...]


def plan(events: Sequence[str], sheet: Sheet) -> Plan:
    """The job after these events (ids in events.toml; their order and repeats do not matter).

    Relearns come in the one order of loader.procedures(). No event, or one nobody knows, is a ChoiceError.
    """
    known = _known(events)
    needed = [row for row in catalogue().procedures.values() if _reasons(row, known)]
    names = [row.id for row in needed]
    return Plan(
        known,
        sheet.title,
        _have_ready(known, needed, sheet),
        _programming(known, sheet),
        tuple(_relearn(row, known, names, sheet) for row in needed),
        tuple(Caution(row.id, row.text) for row in catalogue().cautions.values() if row.general),
    )


def _known(events: Sequence[str]) -> tuple[str, ...]:
    """The events without repeats, in the order of events.toml."""
    everything = catalogue().events
    for event in events or [""]:
        if event not in everything:
            what = f"there is no event called '{event}'" if event else "no event was given"
            raise ChoiceError(what, remedy=f"choose one or more of {', '.join(everything)}")
    return tuple(event for event in everything if event in events)


def _reasons(procedure: Procedure, events: Collection[str]) -> tuple[str, ...]:
    asked = [row for row in procedure.needed_after if row.event in events]
    return tuple(f"{catalogue().events[row.event].title}: {row.because}." for row in asked)


def _have_ready(events: Collection[str], needed: Iterable[Procedure], sheet: Sheet) -> tuple[Line, ...]:
    titles = ", ".join(row.title for row in needed)
    return _lines(catalogue().programming.have_ready, events, sheet, relearns=titles)


def _programming(events: Collection[str], sheet: Sheet) -> PlannedProgramming | None:
    if not any(catalogue().events[event].writes_module for event in events):
        return None
    rows = catalogue().programming
    return PlannedProgramming(
        _lines(rows.while_writing, events, sheet),
        _lines(rows.upsets_the_supply, events, sheet),
        planned_steps(AFTER_WRITE, sheet),
        _lines(rows.if_the_write_fails, events, sheet),
        _lines(rows.if_no_newer_file, events, sheet),
        _lines(rows.read_back, events, sheet),
        _lines(rows.customer_gets, events, sheet),
    )


def _lines(items: Iterable[Item], events: Collection[str], sheet: Sheet, **own: str) -> tuple[Line, ...]:
    said = [item for item in items if not item.events or set(item.events) & set(events)]
    return tuple(line(item, sheet, **own) for item in said)


def _relearn(procedure: Procedure, events: Collection[str], names: Collection[str], sheet: Sheet) -> PlannedRelearn:
    inside = [row for row in procedure.comes_after if row.id in names]
    outside = [row for row in procedure.comes_after if row.id not in names]
    return PlannedRelearn(
        procedure.id,
        procedure.title,
        _reasons(procedure, events),
        tuple(_first(row) for row in inside),
        tuple(_already(row) for row in outside if row.otherwise),
        measured(procedure, sheet),
        by_eye(procedure, sheet),
        procedure.how,
        planned_steps(procedure.id, sheet),
        afterwards(procedure, sheet),
        tuple(Caution(name, catalogue().cautions[name].text) for name in procedure.cautions),
        standing_text(procedure.standing),
    )


def _first(row: ComesAfter) -> Line:
    title = catalogue().procedures[row.id].title
    return Line(row.id, f"After {title}: {row.because}.", standing_text(row.standing))


def _already(row: ComesAfter) -> Line:
    return Line(row.id, row.otherwise or "", standing_text(row.standing))
