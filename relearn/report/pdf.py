"""A whole job as one or two printed pages for the hand-over, from the same findings as the HTML page.

typst sets the page from templates/job.typ. Every text goes in as data, one JSON document that the template reads, and
never as markup. Fonts come with typst and matplotlib; those of the machine are ignored, so that the same findings give
the same bytes everywhere. Nothing is judged or computed here.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Literal

import matplotlib
import typst
from matplotlib.ft2font import FT2Font

from relearn.findings.job import AnywayDoc, Chapter, JobFindings, Trace
from relearn.report import words
from relearn.report.html import LAMP, Answered, chapter_title, codes, listed, moment, question, rests_on
from relearn.report.plots import chapter_svg, drawable

Paper = Literal["a4", "letter"]
Data = dict[str, object]
PAPERS: Mapping[Paper, str] = {"a4": "a4", "letter": "us-letter"}
TEMPLATE = Path(__file__).parent / "templates" / "job.typ"
FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"  # DejaVu Sans, whose measures the plots were laid out by
MOST_PAGES = 2
MOST_LETTERS = 320  # more than two lines of anything; the page places no longer text
CLOSING = (
    "Limits marked common practice or from memory are not this vehicle's specification. The vehicle's own service "
    "information, local codes and licensed practice come first."
)


@dataclass(frozen=True)
class Room:
    """How much of each list is printed, and how many lines a text may take.

    Cautions and captures (with their hashes) are printed as far as at all possible.
    """

    lines: int
    questions: int
    reasons: int
    remarks: int
    confirmations: int
    cautions: int
    captures: int
    standings: int
    pictures: int


FULL = Room(
    lines=2, questions=16, reasons=8, remarks=6, confirmations=16, cautions=14, captures=14, standings=14, pictures=2
)
TIGHT = Room(
    lines=1, questions=14, reasons=6, remarks=3, confirmations=14, cautions=14, captures=14, standings=9, pictures=1
)
TIGHTEST = Room(
    lines=1, questions=12, reasons=4, remarks=2, confirmations=10, cautions=12, captures=10, standings=4, pictures=1
)
ROOMS = (FULL, replace(FULL, pictures=1), TIGHT, TIGHTEST)


def pdf_page(document: JobFindings, paper: Paper = "a4") -> bytes:
    """The print as PDF: at most two pages. The same document gives the same bytes.

    Long texts end in an ellipsis and long lists in 'and N more', tighter where two pages would not do.
    """
    pictures = _pictures(document)
    for room in ROOMS:
        compiler = _compiler(_content(document, paper, room, pictures))
        if int(compiler.query("<pages>", field="value", one=True)) <= MOST_PAGES:
            break
    made = compiler.compile(format="pdf", timestamp=_when(document.made) or 0)
    assert isinstance(made, bytes)
    return made


def _compiler(content: Data) -> typst.Compiler:
    data = json.dumps(_printable(content), ensure_ascii=False)
    return typst.Compiler(TEMPLATE, root=TEMPLATE.parent, font_paths=_fonts(), sys_inputs={"data": data})


@cache
def _fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(FONTS)])


@cache
def _letters() -> frozenset[int]:
    """Every character that the print's widest font has."""
    return frozenset(FT2Font(str(FONTS / "DejaVuSans.ttf")).get_charmap())


def _printable(node: object) -> object:
    """Every text of the document: what does not print, or no font here has, as an escape."""
    if isinstance(node, str):
        return "".join(one if one == "\n" or ord(one) in _letters() else words.escaped(one) for one in node)
    if isinstance(node, dict):
        return {key: _printable(value) for key, value in node.items()}
    return [_printable(one) for one in node] if isinstance(node, list) else node


def _when(made: str) -> datetime | None:
    """The moment for the file's own date: the document's. None (and then no date at all) for a text that is no time
    with a zone."""
    try:
        when = datetime.fromisoformat(made)
    except ValueError:
        return None
    return when if when.tzinfo is not None else None


def _content(document: JobFindings, paper: Paper, room: Room, pictures: Sequence[Data]) -> Data:
    """Everything the template places, worded and cut to its room."""
    standings = tuple(dict.fromkeys(one for answer in _answers(document.chapters) for one in _rests(answer)))
    lists: dict[str, Sequence[object]] = {
        "questions": _questions(document, standings),
        "reasons": _texts(document.reasons),
        "anyway": [_anyway(one) for one in document.anyway],
        "remarks": _texts(document.remarks),
        "confirmations": [
            {"text": _text(one.text), "by": _by(one.confirmed_by), "note": _text(one.note)}
            for one in document.confirmations
        ],
        "cautions": _texts(one.text for one in document.cautions),
        "captures": [_capture(one, document) for one in document.chapters],
        "standings": _texts(standings),
    }
    most = {name: getattr(room, "remarks" if name == "anyway" else name) for name in lists}
    return {
        "name": f"{_text(document.title)}: {words.SIGNS[document.verdict]}",
        "author": _text(document.people.technician),
        "dated": _when(document.made) is not None,
        "paper": PAPERS[paper],
        "lines": room.lines,
        "title": _text(document.title),
        "verdict": document.verdict,
        "facts": _facts(document),
        "wide_facts": _wide_facts(document),
        **{name: list(rows[: most[name]]) for name, rows in lists.items()},
        "more": {name: max(0, len(rows) - most[name]) for name, rows in lists.items()},
        "pictures": list(pictures[: room.pictures]),
        "closing": CLOSING,
        "made_by": f"made by relearn {_text(document.version)[:20]}, which only reads from a car · "
        f"{_text(moment(document.made))[:60]} · {_text(document.vin or 'VIN not read')}",
    }


def _facts(document: JobFindings) -> list[Data]:
    """Who, for whom, when, which car: two beside each other."""
    people = document.people
    return [
        _fact("Made", moment(document.made), 1),
        _fact("Technician", people.technician or "not given", 1),
        _fact("Workshop", people.workshop or "not given", 1),
        _fact("For", people.customer or "not given", 1),
        _fact("Vehicle", people.vehicle or "not given", 1),
        _fact("Order", people.order or "not given", 1),
        _fact("VIN", document.vin or "not read", 1, exact=True),
        _fact("Done to it", ", ".join(map(words.words, document.plan.events)), 1),
    ]


def _wide_facts(document: JobFindings) -> list[Data]:
    before, after = _last(document, "before"), _last(document, "after")
    return [
        _fact(
            "Calibration",
            f"{listed(document.calibration_before)} → {listed(document.calibration_after)}",
            2,
            exact=True,
        ),
        _fact("Stored codes", f"{_codes(before)} → {_codes(after)}", 2),
    ]


def _fact(label: str, value: str, lines: int, exact: bool = False) -> Data:
    return {"label": label, "value": _text(value), "lines": lines, "exact": exact}


def _codes(chapter: Chapter | None) -> str:
    return "no capture" if chapter is None else f"{codes(chapter.codes.stored)} (lamp {LAMP[chapter.lamp]})"


def _answers(chapters: Sequence[Chapter]) -> Iterable[Answered]:
    return (answer for chapter in chapters for answer in chapter.answers)


def _rests(answer: Answered) -> tuple[str, ...]:
    """What its limits rest on, each once."""
    return tuple(dict.fromkeys(standing for standing, _ in rests_on(answer)))


def _questions(document: JobFindings, standings: Sequence[str]) -> list[Data]:
    """Every answer of every last try, then whether each relearn was shown to be done."""
    numbers = {standing: number for number, standing in enumerate(standings, start=1)}
    asked: list[Data] = [
        {
            "question": _text(question(answer)),
            "verdict": answer.verdict,
            "reason": _text(next(iter(answer.reasons), "no reason given")),
            "notes": sorted(numbers[one] for one in _rests(answer)),
        }
        for answer in _answers([one for one in document.chapters if one.counts])
    ]
    proofs: list[Data] = [
        {"question": _text(f"Done: {one.title}?"), "verdict": one.verdict, "reason": _text(one.reason), "notes": []}
        for one in document.proofs
    ]
    return [*asked, *proofs]


def _anyway(one: AnywayDoc) -> str:
    by = f" ({', '.join(filter(None, (one.by, moment(one.time) if one.time else '')))})" if one.by or one.time else ""
    against = f"; against it: {', '.join(one.overrode)}" if one.overrode else ""
    return _text(f"{one.what}{by}: {one.reason}{against}")


def _by(name: str | None) -> str | None:
    return None if name is None else _text(name)


def _capture(chapter: Chapter, document: JobFindings) -> Data:
    which = f" (try {chapter.attempt} of {chapter.attempts})" if chapter.attempts > 1 else ""
    return {
        "title": _text(f"{chapter_title(chapter.role, document.plan)}{which}"),
        "file": _text(f"{chapter.source.file} · {moment(chapter.source.start)}"),
        "sha256": chapter.source.sha256[:64],
    }


def _pictures(document: JobFindings) -> list[Data]:
    """The capture after the work, then the supply while programming, which is printed where there is room."""
    chapters = (found for role in ("after", "programming") if (found := _last(document, role)) is not None)
    return [_picture(one, document) for one in chapters if any(drawable(trace) for trace in one.traces)]


def _picture(chapter: Chapter, document: JobFindings) -> Data:
    shown = [_narrow(trace) for trace in chapter.traces if drawable(trace)]
    left_out = [_text(trace.title) for trace in chapter.traces if not drawable(trace)]
    judged = " Hatched, bracketed: judged." if any(trace.judged_s is not None for trace in shown) else ""
    missing = f" Not plotted, for want of usable samples: {', '.join(left_out)}." if left_out else ""
    return {
        "title": _text(chapter_title(chapter.role, document.plan)),
        "svg": chapter_svg(shown, f"print-{chapter.role}"),
        "alt": _text(", ".join(f"{trace.title} against time" for trace in shown)),
        "caption": _text(f"Pale band, dashed ends: limits.{judged} Gap: nothing read.{missing} {chapter.source.file}"),
    }


def _narrow(trace: Trace) -> Trace:
    """A title and a unit, even of wide letters, no longer than their panel."""
    return trace.model_copy(update={"title": trace.title[:30], "unit": trace.unit[:8]})


def _last(document: JobFindings, role: str) -> Chapter | None:
    """The last try at one thing."""
    return next((one for one in reversed(document.chapters) if one.role == role), None)


def _texts(several: Iterable[str]) -> list[str]:
    return [_text(one) for one in several]


def _text(one: str) -> str:
    """What does not print as an escape, and no longer than the page could place."""
    shown = words.plain(one[: MOST_LETTERS + 1])
    return shown if len(shown) <= MOST_LETTERS else f"{shown[: MOST_LETTERS - 1]}…"
