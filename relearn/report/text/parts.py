"""The pieces that all text pages are made of."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from rich import box
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from relearn.findings.base import FaultDoc, Judgement, Source, TextLine
from relearn.report.words import SIGNS, bare_span, plain, who, window
from relearn.report.words import number as shown

if TYPE_CHECKING:
    from relearn.findings.job import AnywayDoc

STYLES = {"yes": "bold", "no": "bold reverse", "cannot tell": "bold italic"}
MOST_FAULTS = 12
WIDTH = 79


def headline(question: str, verdict: str, reasons: Sequence[str]) -> Iterable[Text]:
    """The verdict in capitals, the question, then one line for each reason."""
    yield Text.assemble((SIGNS[verdict], STYLES[verdict]), f"  {plain(question)}")
    for reason in reasons:
        yield from line(reason)


def line(text: str, indent: int = 2) -> Iterable[Text]:
    """One wrapped line; its further lines hang two columns deeper."""
    yield Text(
        textwrap.fill(
            plain(text),
            WIDTH,
            initial_indent=" " * indent,
            subsequent_indent=" " * (indent + 2),
            break_on_hyphens=False,
        )
    )


def heading(text: str) -> Text:
    return Text(f"\n{text}", style="bold")


def table(*columns: str, numbers: Sequence[int] = ()) -> Table:
    """A plain table; columns in `numbers` are right-aligned."""
    made = Table(box=box.SIMPLE, padding=(0, 1, 0, 0), show_edge=False, pad_edge=False)
    for place, name in enumerate(columns):
        made.add_column(name, justify="right" if place in numbers else "left", overflow="fold")
    return made


def row(made: Table, *cells: str) -> None:
    """A row of plain text: nothing in it is taken for markup."""
    made.add_row(*(Text(plain(cell)) for cell in cells))


def indented(made: Table) -> Padding:
    return Padding(made, (0, 0, 0, 2))


def origin(source: Source, sheet: str = "") -> Iterable[Text]:
    """Which file and module, from when, judged by which sheet."""
    module = f", {who(source.module)}" if source.module else ""
    when = f", recorded {source.start}" if source.start else ", no wall-clock time"
    yield from line(f"from {source.file}{module}, {source.duration_s:.1f} s{when}")
    if sheet:
        yield from line(f"limits: {sheet}")


def parts_of(parts: Sequence[Judgement]) -> Iterable[Text | Padding]:
    """Each part with its evidence."""
    made = table("part", "verdict", "value", "asked", "span s", numbers=(2,))
    for part in parts:
        first = part.evidence[0] if part.evidence else None
        row(
            made,
            part.id.replace("_", " "),
            part.verdict,
            shown(first.value, first.unit) if first else "–",
            window(first.limits, first.unit, first.low_open) if first else "–",
            bare_span(first.first_s, first.last_s) if first else "–",
        )
    yield indented(made)


def standings(evidence: Iterable[tuple[str, str]]) -> Iterable[Text]:
    """Where each limit comes from, once for each origin."""
    by_origin: dict[str, list[str]] = {}
    for name, standing in evidence:
        if standing:
            by_origin.setdefault(standing, []).append(name.replace("_", " "))
    if by_origin:
        yield heading("Where the limits come from")
    for standing, names in by_origin.items():
        yield from line(f"{', '.join(dict.fromkeys(names))}: {standing}")


def troubles(faults: Sequence[FaultDoc], notes: Sequence[str]) -> Iterable[Text]:
    """What was wrong in the capture, and how it was read."""
    if faults:
        yield heading("Faults in the capture")
    for fault in faults[:MOST_FAULTS]:
        many = f" ({fault.count} times)" if fault.count > 1 else ""
        yield from line(f"{fault.text}{many}")
    if len(faults) > MOST_FAULTS:
        yield from line(f"and {len(faults) - MOST_FAULTS} more; --json lists all")
    if notes:
        yield heading("Notes")
    for note in notes:
        yield from line(note)


def bullets(title: str, lines: Sequence[TextLine], marks: Mapping[str, str] | None = None) -> Iterable[Text]:
    """A titled list, each line with the mark of its standing where there are marks; nothing when it is empty."""
    if lines:
        yield heading(title)
    for one in lines:
        yield from line(f"- {one.text}{mark(one.standing, marks or {})}")


def footnotes(standings_met: Iterable[str]) -> Mapping[str, str]:
    """A letter for each standing, in the order met: a, b, c …"""
    met = dict.fromkeys(one for one in standings_met if one)
    return {standing: chr(ord("a") + place) for place, standing in enumerate(met)}


def mark(standing: str, marks: Mapping[str, str]) -> str:
    """' [a]', or nothing."""
    return f" [{marks[standing]}]" if standing in marks else ""


def legend(marks: Mapping[str, str]) -> Iterable[Text]:
    """What the letters mean."""
    if marks:
        yield heading("Where it comes from")
    for standing, letter in marks.items():
        yield from line(f"[{letter}] {standing}")


def anyway(rows: Iterable[AnywayDoc]) -> Iterable[Text]:
    """Plainly: what was done against what, and why."""
    for place, one in enumerate(rows):
        if not place:
            yield heading("Gone on with anyway")
        yield from line(f"{one.what}: {'; '.join(one.overrode)}")
        yield from line(f"reason{f' of {one.by}' if one.by else ''}: {one.reason}", 4)
