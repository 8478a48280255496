"""Do the procedure files fit together? Names that lead nowhere, numbers beyond sense, places nobody fills."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from relearn.j1979.table import signals
from relearn.procedures.facts import fact_rows, number_problem, step_number_rows
from relearn.procedures.models import Catalogue, Expectation, Item, Precondition, Procedure, Step
from relearn.procedures.patterns import KEPT, PATTERNS
from relearn.procedures.wording import places

RELEARNS = "relearns"
"""The place in a have_ready text that the plan fills with the titles of its relearns."""


@dataclass(frozen=True)
class Problem:
    """One thing that does not hold together: the file inside the data folder, the key, and what is wrong."""

    file: str
    key: str
    what: str


def first_problem(catalogue: Catalogue, checks: Sequence[str]) -> Problem | None:
    """The first problem in a fixed order, or None. checks: the names a precondition may be judged by."""
    return next(_problems(catalogue, checks), None)


def _problems(catalogue: Catalogue, checks: Sequence[str]) -> Iterator[Problem]:
    for key, what in _programming(catalogue):
        yield Problem("programming.toml", key, what)
    for procedure in catalogue.procedures.values():
        for key, what in _procedure(procedure, catalogue, checks):
            yield Problem(f"relearns/{procedure.id}.toml", key, what)


Found = Iterator[tuple[str, str]]


def _programming(catalogue: Catalogue) -> Found:
    for name in type(catalogue.programming).model_fields:
        rows = getattr(catalogue.programming, name)
        yield from _twice(name, [row.id for row in rows])
        for row in rows:
            own = (RELEARNS,) if name == "have_ready" else ()
            yield from _step(name, row) if isinstance(row, Step) else _item(name, row, catalogue, own)
    yield from _shown("after_write", catalogue.programming.after_write, ())


def _procedure(procedure: Procedure, catalogue: Catalogue, checks: Sequence[str]) -> Found:
    events, earlier = [row.event for row in procedure.needed_after], [row.id for row in procedure.comes_after]
    yield from _unknown("needed_after", events, catalogue.events, "event")
    yield from _unknown("comes_after", earlier, catalogue.procedures, "relearn")
    yield from _unknown("cautions", procedure.cautions, catalogue.cautions, "caution")
    yield from _twice("needed_after", events)
    yield from _twice("comes_after", earlier)
    yield from _twice("cautions", procedure.cautions)
    for key, rows in _lists(procedure):
        yield from _twice(key, [row.id for row in rows])
    for row in procedure.preconditions:
        yield from _precondition("precondition", row, checks)
    for row in procedure.during:
        yield from _precondition("during", row, KEPT)
    for item in procedure.by_eye:
        yield from _item("by_eye", item, catalogue)
    for step in procedure.steps:
        yield from _step("step", step)
    yield from _shown("step", procedure.steps, (*procedure.preconditions, *procedure.during))
    for expected in procedure.afterwards:
        yield from _expectation(expected)


def _lists(procedure: Procedure) -> list[tuple[str, Sequence[Precondition | Item | Step | Expectation]]]:
    return [
        ("precondition", (*procedure.preconditions, *procedure.during)),
        ("by_eye", procedure.by_eye),
        ("step", procedure.steps),
        ("afterwards", procedure.afterwards),
    ]


def _item(key: str, item: Item, catalogue: Catalogue, own: Sequence[str] = ()) -> Found:
    yield from _unknown(f"{key}.{item.id}.events", item.events, catalogue.events, "event")
    yield from _places(f"{key}.{item.id}.text", item.text, own)


def _precondition(key: str, row: Precondition, checks: Sequence[str]) -> Found:
    key = f"{key}.{row.id}"
    yield from _unknown(f"{key}.check", [row.check], checks, "check")
    if row.check == "within" and (row.channel is None or row.limits is None):
        yield key, "the check 'within' needs a channel and limits"
    if row.channel is not None:
        yield from _unknown(f"{key}.channel", [row.channel], signals(), "channel")
    if row.limits is not None:
        yield from _limits(f"{key}.limits", row.limits)
        yield from _same_unit(key, row.channel, row.limits)
    yield from _places(f"{key}.text", row.text)


def _step(key: str, step: Step) -> Found:
    key = f"{key}.{step.id}"
    yield from _unknown(f"{key}.numbers", step.numbers, step_number_rows(), "kind of number")
    for name, value in step.numbers.items():
        if (row := step_number_rows().get(name)) and (wrong := number_problem(row, value)):
            yield f"{key}.numbers.{name}", wrong
        if name not in places(step.text):
            yield f"{key}.text", f"does not say its number '{name}'"
    yield from _places(f"{key}.text", step.text, tuple(step.numbers))


def _shown(key: str, steps: Sequence[Step], conditions: Sequence[Precondition]) -> Found:
    """What scan data shows of each step: known patterns with their numbers, earlier steps, conditions to keep."""
    keepable = [row.id for row in conditions if row.check in KEPT]
    for place, step in enumerate(steps):
        name = f"{key}.{step.id}"
        yield from _unknown(f"{name}.shows", step.shows, PATTERNS, "pattern")
        yield from _twice(f"{name}.shows", step.shows)
        yield from _unknown(f"{name}.keeps", step.keeps, keepable, "condition to keep")
        yield from _numbers_shown(name, step)
        timed_from = [one.id for one in steps[:place] if one.shows]
        yield from _unknown(f"{name}.after", [step.after] if step.after else [], timed_from, "earlier step shown")


def _numbers_shown(name: str, step: Step) -> Found:
    rows = [PATTERNS[shown] for shown in step.shows if shown in PATTERNS]
    needs = [number for row in rows for number in row.needs]
    for number in needs:
        if number not in step.numbers:
            yield f"{name}.shows", f"needs the number '{number}'"
    for number in step.numbers:
        if rows and number not in (*needs, *(one for row in rows for one in row.may)):
            yield f"{name}.numbers.{number}", "no pattern of this step goes by it"
    if bool(step.after) != any(row.after for row in rows):
        yield f"{name}.after", "goes with a pattern that is timed from an earlier step, and only with one"
    if step.keeps and not rows:
        yield f"{name}.keeps", "a step that nothing shows keeps nothing"


def _expectation(row: Expectation) -> Found:
    key = f"afterwards.{row.id}"
    if row.limits is not None and row.around is not None:
        yield key, "has limits and around: one of them is enough"
    if row.limits is not None:
        yield from _limits(key, row.limits)
    for fact in row.around or ():
        yield from _limits(key, fact)
        if (found := fact_rows().get(fact)) and found.kind != "number":
            yield key, f"the fact '{fact}' is no single number"
    yield from _places(f"{key}.text", row.text)


def _limits(key: str, fact: str) -> Found:
    yield from _unknown(key, [fact], fact_rows(), "fact")
    if (row := fact_rows().get(fact)) and row.kind == "text":
        yield key, f"the fact '{fact}' is a text and no limit"


def _same_unit(key: str, channel: str | None, fact: str) -> Found:
    signal, row = signals().get(channel or ""), fact_rows().get(fact)
    if signal and row and signal.unit != row.unit:
        yield key, f"'{channel}' is in '{signal.unit}', but its limits are in '{row.unit}'"


def _places(key: str, text: str, own: Sequence[str] = ()) -> Found:
    for place in places(text):
        if place not in own:
            yield from _limits(key, place)


def _unknown(key: str, given: Iterable[str], known: Iterable[str], what: str) -> Found:
    names = set(known)
    for name in given:
        if name not in names:
            yield key, f"there is no {what} called '{name}'"


def _twice(key: str, names: Sequence[str]) -> Found:
    for name in dict.fromkeys(names):
        if list(names).count(name) > 1:
            yield key, f"'{name}' stands twice"
