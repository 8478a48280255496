"""What people answered: their points by kind of question, and a class's answers as CSV that a spreadsheet can open."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from relearn.cells import one_line
from relearn.drills.drill_file import Drill
from relearn.drills.questions import Question, Truth
from relearn.drills.score import points, went_on
from relearn.drills.wording import kinds
from relearn.errors import ChoiceError

COLUMNS = (
    "person",
    "drill",
    "recording",
    "stopped at (s)",
    "kind of question",
    "question",
    "answered",
    "right by the data",
    "points (of 1)",
    "time taken (s)",
)


@dataclass(frozen=True)
class Result:
    """One person's answer to one question. answered, right: choices in words. went_on: a yes where the truth is none.
    seconds: taken to answer, None if not timed."""

    person: str
    drill: str
    capture: str
    at_s: float
    kind: str
    asked: str
    answered: tuple[str, ...]
    right: tuple[str, ...]
    points: float
    went_on: bool
    seconds: float | None = None


@dataclass(frozen=True)
class Tally:
    """One kind of question: how many were asked, the points of them, and how many wrong answers were a yes."""

    kind: str
    asked: int
    points: float
    went_on: int


def result(
    drill: Drill, question: Question, given: Collection[str], truth: Truth, person: str, seconds: float | None = None
) -> Result:
    """An answer with what it is worth. ChoiceError as score.points has it."""
    return Result(
        person,
        drill.title,
        question.capture,
        question.at_s,
        question.kind,
        question.text,
        tuple(one.text for one in question.choices if one.id in given),
        tuple(one.text for one in question.choices if one.id in truth.right),
        points(question, given, truth),
        went_on(question, given, truth),
        seconds,
    )


def by_kind(results: Collection[Result]) -> tuple[Tally, ...]:
    """The tally of each kind that was asked, in the order of the kinds."""
    found = {kind: [one for one in results if one.kind == kind] for kind in kinds()}
    return tuple(
        Tally(kind, len(of_it), sum(one.points for one in of_it), sum(one.went_on for one in of_it))
        for kind, of_it in found.items()
        if of_it
    )


def figure(worth: float) -> str:
    """Points as they are read out: two decimals at most, '0.33' and '2.5' and '3'."""
    return f"{worth:.2f}".rstrip("0").rstrip(".")


def worth(points: float) -> str:
    """Points in words, for one answer."""
    if points == 1.0:
        return "right"
    return "not right" if points == 0.0 else "partly right"


def to_csv(results: Iterable[Result]) -> bytes:
    """One row for each person and question, under COLUMNS; several choices with '; ' between them.

    UTF-8 behind a byte order mark, by which spreadsheets know it.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows(_row(one) for one in results)
    return out.getvalue().encode("utf-8-sig")


def create(path: Path, data: bytes) -> None:
    """A new file. ChoiceError where one is there already, or no folder for it: nothing is written over."""
    try:
        with path.open("xb") as out:
            out.write(data)
    except FileExistsError:
        raise ChoiceError("this file is there, and nothing is written over", path=path, remedy="name another") from None
    except FileNotFoundError:
        raise ChoiceError("there is no folder for this file", path=path, remedy="make it, or name another") from None


def _row(one: Result) -> tuple[str, ...]:
    numbers = (figure(one.points), "" if one.seconds is None else f"{one.seconds:.1f}")
    texts = (kinds()[one.kind].title, one.asked, "; ".join(one.answered), "; ".join(one.right))
    return (*map(one_line, (one.person, one.drill, one.capture)), f"{one.at_s:g}", *map(one_line, texts), *numbers)
