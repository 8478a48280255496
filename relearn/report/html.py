"""A whole job as one self-contained HTML page for screen and paper: no script, nothing loaded from anywhere.

All text of a car, a file or a person is hostile: the template escapes it, and what does not print becomes an escape.
Nothing is judged or computed here; the views below only find words and places for what the document says.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import TypeVar

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from relearn.findings.answers import AirFindings, IdentityFindings, ReadyFindings, SettleFindings, SupplyFindings
from relearn.findings.base import Document, FaultDoc
from relearn.findings.job import Chapter, JobFindings
from relearn.findings.plan import PlanFindings
from relearn.findings.steps import StepsFindings
from relearn.report import words
from relearn.report.plots import chapter_svg, drawable

Answered = ReadyFindings | StepsFindings | SettleFindings | SupplyFindings | IdentityFindings | AirFindings
Standings = Mapping[str, tuple[str, ...]]
T = TypeVar("T")

QUESTIONS = {
    "settle": "Did the idle settle?",
    "supply": "Was the supply held?",
    "identity": "Same car, new calibration?",
    "air": "Does the engine breathe as it meters?",
}
CHAPTERS = {
    "before": "Before the work",
    "programming": "While the module was written",
    "steps.after-write": "The wait after the write",
    "after": "After the work",
}
LAMP = {None: "not read", True: "on", False: "off"}
MOST_FAULTS = 12


@dataclass(frozen=True)
class AnswerView:
    """One answer with its place in the page. standings: what its limits rest on. names: texts of its parts by id."""

    anchor: str
    question: str
    answer: Answered
    standings: tuple[str, ...]
    names: Mapping[str, str]


@dataclass(frozen=True)
class ChapterView:
    """One capture with its title, picture and answers.

    judged: the picture marks a judged span. unplotted: titles of channels with nothing to draw.
    """

    anchor: str
    title: str
    chapter: Chapter
    picture: Markup
    judged: bool
    unplotted: tuple[str, ...]
    answers: tuple[AnswerView, ...]
    faults: tuple[FaultDoc, ...]
    more_faults: int
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Own:
    """The faults and notes that stand under a capture of the job, so that no answer repeats them."""

    faults: frozenset[FaultDoc]
    notes: frozenset[str]


def html_page(document: JobFindings) -> str:
    """The page as text. The same document gives the same bytes."""
    standings = numbers_come_from(document)
    own = Own(
        frozenset(fault for one in document.chapters for fault in one.faults),
        frozenset(note for one in document.chapters for note in one.notes),
    )
    chapters = tuple(
        _chapter(f"capture-{number}", one, document.plan, own, tuple(standings))
        for number, one in enumerate(document.chapters, start=1)
    )
    return (
        _environment()
        .get_template("job.html.jinja")
        .render(
            document=document,
            chapters=chapters,
            standings=standings,
            note_numbers={standing: number for number, standing in enumerate(standings, start=1)},
            before=_role(document, "before"),
            after=_role(document, "after"),
        )
    )


@cache
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("relearn.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_printable,
    )
    made.filters |= {
        "number": words.number,
        "span": words.span,
        "spread": words.spread,
        "words": words.words,
        "moment": moment,
        "duration": duration,
        "codes": codes,
        "listed": listed,
        "tried": tried,
    }
    made.globals |= {"window": words.window, "margin": words.margin, "SIGNS": words.SIGNS, "LAMP": LAMP}
    return made


def _printable(value: object) -> object:
    """Every text that goes into the page passes here before it is escaped."""
    return words.plain(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def moment(text: str | None) -> str:
    """'25 November 2026, 07:22:04 UTC+01:00' from ISO 8601; text that is no time stays as it is."""
    if text is None:
        return "no wall-clock time"
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        return text
    zone = when.tzname() or "no time zone given"
    return f"{when.day} {when:%B %Y, %H:%M:%S} {zone}"


def duration(time_s: float) -> str:
    """'312.4 s (5 min 12 s)'; under two minutes only the seconds."""
    minutes, seconds = divmod(round(time_s), 60)
    return f"{time_s:.1f} s" + (f" ({minutes} min {seconds} s)" if minutes >= 2 else "")


def codes(held: Sequence[str] | None) -> str:
    """Trouble codes; 'none' and 'not read' are different things."""
    return "not read" if held is None else ", ".join(held) or "none"


def listed(values: Iterable[str]) -> str:
    """Identifications in a row, 'not read' for none."""
    return ", ".join(values) or "not read"


def _role(document: JobFindings, role: str) -> Chapter | None:
    return next((one for one in document.chapters if one.role == role and one.counts), None)


def _chapter(anchor: str, chapter: Chapter, plan: PlanFindings, own: Own, standings: Sequence[str]) -> ChapterView:
    """A fault or note stands under its own capture; an answer's further ones stand with the answer's capture."""
    faults = _once(
        (*chapter.faults, *(fault for answer in chapter.answers for fault in answer.faults if fault not in own.faults))
    )
    notes = _once(
        (*chapter.notes, *(note for answer in chapter.answers for note in answer.notes if note not in own.notes))
    )
    return ChapterView(
        anchor=anchor,
        title=chapter_title(chapter.role, plan) + tried(chapter),
        chapter=chapter,
        picture=Markup(chapter_svg(chapter.traces, anchor)),  # made by our own plotting, which escapes all text in it
        judged=any(one.judged_s is not None for one in chapter.traces),
        unplotted=tuple(one.title for one in chapter.traces if not drawable(one)),
        answers=tuple(
            _answer(f"{anchor}-{place}", one, standings) for place, one in enumerate(chapter.answers, start=1)
        ),
        faults=faults[:MOST_FAULTS],
        more_faults=len(faults[MOST_FAULTS:]),
        notes=notes,
    )


def chapter_title(role: str, plan: PlanFindings) -> str:
    """What the capture was taken for, in words."""
    titles = {f"ready.{one.id}": f"Before the relearn: {one.title}" for one in plan.relearns}
    titles |= {f"steps.{one.id}": f"During the relearn: {one.title}" for one in plan.relearns}
    said = role.replace("ready.", "Before the relearn: ").replace("steps.", "During the relearn: ")
    return CHAPTERS.get(role) or titles.get(role) or words.words(said)


def tried(chapter: Chapter) -> str:
    """Which try this is, '' for the only one."""
    if chapter.attempts == 1:
        return ""
    counted = "this one counts" if chapter.counts else "a later one counts"
    return f" (try {chapter.attempt} of {chapter.attempts}: {counted})"


def _answer(anchor: str, answer: Answered, standings: Iterable[str]) -> AnswerView:
    names = {one.id: one.text for one in answer.preconditions} if isinstance(answer, ReadyFindings) else {}
    used = {standing for standing, _ in rests_on(answer)}
    return AnswerView(anchor, question(answer), answer, tuple(one for one in standings if one in used), names)


def question(answer: Answered) -> str:
    """What was asked, in words."""
    if isinstance(answer, StepsFindings):
        return f"Steps: {answer.title}?"
    return f"Ready for: {answer.title}?" if isinstance(answer, ReadyFindings) else QUESTIONS[answer.kind]


def numbers_come_from(document: JobFindings) -> Standings:
    """Every standing in the document, in the order of the page, with what rests on it."""
    found: dict[str, dict[str, None]] = {}
    for standing, what in _origins(document):
        found.setdefault(standing, {})[what] = None
    return {standing: tuple(names) for standing, names in found.items()}


def _origins(document: JobFindings) -> Iterable[tuple[str, str]]:
    for chapter in document.chapters:
        yield from rests_on(chapter.answers)
    for relearn in document.plan.relearns:
        yield from ((standing, f"plan of {relearn.title}") for standing, _ in rests_on(relearn))
    around = (document.plan.have_ready, document.plan.programming, document.plan.cautions, document.cautions)
    yield from ((standing, "plan around the relearns") for standing, _ in rests_on(around))


def rests_on(node: object) -> Iterable[tuple[str, str]]:
    """(standing, what rests on it) of a document and of everything inside it."""
    if isinstance(node, tuple):
        for one in node:
            yield from rests_on(one)
    if isinstance(node, Document):
        for name, value in node:
            if name.endswith("standing") and value:
                yield str(value), _rests(node, name)
            yield from rests_on(value)


def _rests(node: Document, name: str) -> str:
    """A word for what a standing stands beside."""
    if name != "standing":
        return words.words(name.removesuffix("_standing"))
    if text := getattr(node, "text", ""):
        return str(text)
    named = (getattr(node, key, "") for key in ("subject", "id", "kind"))
    return words.words(next((str(one) for one in named if one), "other"))


def _once(values: Iterable[T]) -> tuple[T, ...]:
    return tuple(dict.fromkeys(values))
