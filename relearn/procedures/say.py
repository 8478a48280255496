"""Procedure rows said for one vehicle: texts with the sheet's numbers in them, and where those come from."""

from __future__ import annotations

from dataclasses import dataclass

from relearn.j1979.table import signals
from relearn.procedures.facts import fact_rows
from relearn.procedures.models import Expectation, Item, Precondition, Procedure
from relearn.procedures.sheets import Sheet
from relearn.procedures.standing import joined, standing_text
from relearn.procedures.wording import fill, places
from relearn.verdict import Limits


@dataclass(frozen=True)
class Line:
    """One thing to have, do, hold or know, in words. standing: of the numbers in it, else of the saying."""

    id: str
    text: str
    standing: str


@dataclass(frozen=True)
class Measured:
    """One thing that scan data shows. limits: in words ('70 to 100 °C'), '' where the check is no comparison.

    standing: of the limits; without limits, of the requirement itself.
    """

    id: str
    text: str
    limits: str
    unit: str
    standing: str


def line(item: Item, sheet: Sheet, **own: str) -> Line:
    """An item's text, filled from the sheet and from `own` places."""
    text = fill(item.text, lambda place: own[place] if place in own else fact_shown(place, sheet))
    facts = [sheet.fact(place) for place in places(item.text) if place not in own]
    return Line(item.id, text, joined([fact.standing for fact in facts if fact] or [item.standing]))


def fact_shown(key: str, sheet: Sheet) -> str:
    """A fact's window in words; what is missing, where the sheet does not have it."""
    limits = sheet.limits(key)
    return _missing(key) if limits is None else limits.describe()


def measured(procedure: Procedure, sheet: Sheet) -> tuple[Measured, ...]:
    """The preconditions that scan data can show."""
    return tuple(_precondition(row, sheet) for row in procedure.preconditions)


def by_eye(procedure: Procedure, sheet: Sheet) -> tuple[Line, ...]:
    """The preconditions that somebody has to confirm."""
    return tuple(line(item, sheet) for item in procedure.by_eye)


def afterwards(procedure: Procedure, sheet: Sheet) -> tuple[Measured, ...]:
    """What should be true after the relearn; limits '' where it is seen or heard."""
    return tuple(_expectation(row, sheet) for row in procedure.afterwards)


def _precondition(row: Precondition, sheet: Sheet) -> Measured:
    text = fill(row.text, lambda place: fact_shown(place, sheet))
    if row.check == "pedal-released":
        return _pedal(row, text, sheet)
    if row.limits is None:
        return Measured(row.id, text, "", "", standing_text(row.standing))
    return _compared(row.id, text, row.limits, sheet.limits(row.limits), row.standing)


def _pedal(row: Precondition, text: str, sheet: Sheet) -> Measured:
    """Position D by the vehicle's own released value, or by the generic ceiling where that is not known."""
    own = sheet.around("pedal.released_percent", "pedal.released_tolerance_percent")
    witnesses = {
        "relative_accelerator_pedal_position": sheet.limits("pedal.relative_released_percent"),
        "accelerator_pedal_position_d": own or sheet.limits("pedal.released_at_most_percent"),
    }
    known = {signals()[channel].title: limits for channel, limits in witnesses.items() if limits is not None}
    said = "; ".join(f"{title} {limits.describe()}" for title, limits in known.items())
    standing = joined([limits.standing for limits in known.values()] or [row.standing])
    return Measured(row.id, text, said, "%", standing)


def _expectation(row: Expectation, sheet: Sheet) -> Measured:
    text = fill(row.text, lambda place: fact_shown(place, sheet))
    if row.around is not None:
        return _compared(row.id, text, row.around[0], sheet.around(*row.around), row.standing)
    if row.limits is not None:
        return _compared(row.id, text, row.limits, sheet.limits(row.limits), row.standing)
    return Measured(row.id, text, "", "", standing_text(row.standing))


def _compared(name: str, text: str, fact: str, limits: Limits | None, standing: str) -> Measured:
    unit = fact_rows()[fact].unit
    if limits is None:
        return Measured(name, text, _missing(fact), unit, standing_text(standing))
    return Measured(name, text, limits.describe(), unit, limits.standing)


def _missing(key: str) -> str:
    return f"not known ({key} is not in the vehicle sheet)"
