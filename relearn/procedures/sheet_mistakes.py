"""Every mistake in a vehicle sheet, one sentence each, with its key and the nearest right key."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from math import isfinite
from pathlib import Path
from typing import Any

from relearn.errors import SheetError
from relearn.procedures.facts import FactRow, StepNumberRow, fact_rows, number_problem, sections, step_number_rows
from relearn.procedures.loader import catalogue
from relearn.procedures.sheet_file import HEADINGS, TABLES, Document, ends_of, facts, flat
from relearn.procedures.standing import is_standing

Mistakes = Iterator[SheetError]

_TOML_NAMES = {bool: "true or false", str: "text", list: "a list", dict: "a table"}
_HOW = {
    "title": "say which vehicle this is",
    "source": "say where its numbers come from",
    "steps": "write [steps.RELEARN.STEP], then a number of that step",
    "standing": 'write [standing], then lines of "section.key" = "words"',
    "a standing": "write words, or C (common practice), M (from memory), CM, or 'P: source' (published)",
}


def mistakes(document: Document, path: Path) -> Mistakes:
    """All of them: the headings first, then value by value, then steps and standings."""
    for name in HEADINGS:
        if not _is_text(document.get(name)):
            yield SheetError("is missing or not a text", path=path, key=name, remedy=_HOW[name])
    yield from _in_facts(document, path)
    for name, look in (("steps", _in_steps), ("standing", _in_standings)):
        if isinstance(document.get(name, {}), dict):
            yield from look(document, path)
        else:
            yield SheetError("is no table", path=path, key=name, remedy=_HOW[name])


def problem(row: FactRow, given: Any) -> str | None:
    """What is wrong with a value for this fact, as the end of a sentence; None if nothing is."""
    if row.kind == "text":
        return _text_problem(row, given)
    return _range_problem(row, given) if row.kind == "range" else _number_problem(row, given)


def _in_facts(document: Document, path: Path) -> Mistakes:
    yield from _twice(facts(document), "", path)
    for key, given in facts(document):
        row = fact_rows().get(key)
        if row is not None and (wrong := problem(row, given)):
            yield SheetError(wrong, path=path, key=key, remedy=f"it means: {meaning(row)}")
        elif row is None and key in sections() and given != {}:
            yield SheetError("is a section, no value", path=path, key=key, remedy=f"write [{key}], then keys")
        elif row is None and key not in sections():
            yield _unknown(key, [*fact_rows(), *HEADINGS, *TABLES], path)


def _in_steps(document: Document, path: Path) -> Mistakes:
    given = list(flat(document.get("steps", {}), known=()))
    known = {
        f"steps.{group}.{step.id}.{name}": name
        for group in catalogue().step_groups()
        for step in catalogue().steps(group)
        for name in step.numbers
    }
    yield from _twice(given, "steps.", path)
    for key, value in ((f"steps.{name}", value) for name, value in given):
        if key not in known:
            yield _unknown(key, known, path)
        elif wrong := _number_problem(row := step_number_rows()[known[key]], value):
            yield SheetError(wrong, path=path, key=key, remedy=f"the number means '{row.text}'")


def _in_standings(document: Document, path: Path) -> Mistakes:
    given = list(flat(document.get("standing", {}), known=()))
    set_here = [f"standing.{key}" for key, _ in facts(document) if key in fact_rows()]
    yield from _twice(given, "standing.", path)
    for key, words in ((f"standing.{name}", words) for name, words in given):
        if key not in set_here:
            yield _unknown(key, set_here, path, "is the standing of a number that this sheet does not set")
        elif not isinstance(words, str) or not is_standing(words):
            yield SheetError("does not say where it comes from", path=path, key=key, remedy=_HOW["a standing"])


def _twice(pairs: Iterable[tuple[str, Any]], prefix: str, path: Path) -> Mistakes:
    for key, times in Counter(key for key, _ in pairs).items():
        if times > 1:
            yield SheetError("is set twice", path=path, key=f"{prefix}{key}", remedy="keep one of the two")


def _unknown(key: str, known: Iterable[str], path: Path, what: str = "nobody knows this key") -> SheetError:
    near = get_close_matches(key, list(known), n=1)
    sorts = ", ".join([*sections(), *TABLES])
    remedy = f"the nearest right key is '{near[0]}'" if near else f"the sections of a sheet are {sorts}"
    return SheetError(what, path=path, key=key, remedy=remedy)


def _text_problem(row: FactRow, given: Any) -> str | None:
    if not _is_text(given):
        return f"must be text, not {_called(given)}"
    return "does not have the right form" if row.pattern and not re.fullmatch(row.pattern, given) else None


def _range_problem(row: FactRow, given: Any) -> str | None:
    ends = ends_of(given)
    if ends is None:
        return "must be [low, high], or { low = … } or { high = … } where one side is open"
    wrong = [found for end in ends if end is not None and (found := _number_problem(row, end))]
    if wrong:
        return wrong[0]
    low, high = ends
    upside_down = low is not None and high is not None and low > high
    return "has its low end above its high end" if upside_down else None


def _number_problem(row: FactRow | StepNumberRow, given: Any) -> str | None:
    if isinstance(given, bool) or not isinstance(given, int | float):
        return f"must be a number, not {_called(given)}"
    if isinstance(given, float) and not isfinite(given):
        return "must be a finite number"
    return number_problem(row, given)


def meaning(row: FactRow) -> str:
    """What a fact is, with its unit."""
    return f"{row.text}, in {row.unit}" if row.unit else row.text


def _is_text(given: Any) -> bool:
    return isinstance(given, str) and bool(given.strip())


def _called(given: Any) -> str:
    if given is None:
        return "nothing"
    if isinstance(given, str) and not given.strip():
        return "blank"
    return _TOML_NAMES.get(type(given), "a number" if isinstance(given, int | float) else "a date or time")
