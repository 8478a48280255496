"""The steps of a relearn with their numbers: the procedure's own, or a vehicle sheet's where it sets them."""

from __future__ import annotations

from dataclasses import dataclass

from relearn.procedures.facts import step_number_rows
from relearn.procedures.loader import catalogue
from relearn.procedures.models import Step
from relearn.procedures.say import fact_shown
from relearn.procedures.sheets import Sheet
from relearn.procedures.standing import standing_text
from relearn.procedures.wording import fill, quantity


@dataclass(frozen=True)
class StepNumber:
    """One number of a step: its kind ('at_least_s', see facts.step_number_rows), value, unit and standing."""

    name: str
    value: float
    unit: str
    standing: str


@dataclass(frozen=True)
class PlannedStep:
    """One step as it is done on this vehicle. standing: of the step itself; each number has its own. shows, after,
    keeps: as in models.Step."""

    id: str
    text: str
    numbers: tuple[StepNumber, ...]
    standing: str
    shows: tuple[str, ...] = ()
    after: str | None = None
    keeps: tuple[str, ...] = ()


def planned_steps(group: str, sheet: Sheet) -> tuple[PlannedStep, ...]:
    """The steps of a relearn, or of models.AFTER_WRITE, in order."""
    return tuple(_planned(group, step, sheet) for step in catalogue().steps(group))


def _planned(group: str, step: Step, sheet: Sheet) -> PlannedStep:
    numbers = tuple(_number(f"{group}.{step.id}.{name}", name, step, sheet) for name in step.numbers)
    own = {number.name: quantity(number.value, number.unit) for number in numbers}
    text = fill(step.text, lambda place: own[place] if place in own else fact_shown(place, sheet))
    standing = standing_text(step.standing)
    return PlannedStep(step.id, text, numbers, standing, step.shows, step.after, step.keeps)


def _number(key: str, name: str, step: Step, sheet: Sheet) -> StepNumber:
    unit, of_sheet = step_number_rows()[name].unit, sheet.steps.get(key)
    if of_sheet is None or not isinstance(of_sheet.value, int | float):
        return StepNumber(name, step.numbers[name], unit, standing_text(step.standing))
    return StepNumber(name, float(of_sheet.value), unit, of_sheet.standing)
