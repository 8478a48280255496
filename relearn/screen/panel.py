"""What stands beside the charts, made from findings: rows of words. Nothing is judged here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from relearn.channels import FRESH_S
from relearn.drills import questions
from relearn.findings.answers import PreconditionRow, ReadyFindings, SettleFindings, WarmUpDoc
from relearn.findings.base import EvidenceDoc, Judgement
from relearn.findings.steps import StepRow, StepsFindings
from relearn.report.words import margin, number, plain, window, words

Span = tuple[float, float]
LAST, NO_MEASUREMENT = "last read", "no measurement"
NOT_BEGUN = "not begun"
"""What is shown where a no of the steps only says that nobody has begun on them: nothing is wrong with the car."""
TOO_OLD = "the newest value is too old"
NOBODY_HAS = "nobody has begun on the steps in this recording"
READ_AT_TIMES = {"no-stored-codes": "codes are read at times only: what was stored since is not known"}
"""Preconditions whose newest reading is by nature an old one, and what that means."""


@dataclass(frozen=True)
class Line:
    """One judged row. verdict: yes, no, cannot tell. not_now: why its value is not a current one, '' where it is or
    where there is none; such a value has no margin. of: of what stretch the value is the lowest or highest, '' where it
    is a single one. span: the stretch of the capture that decided, None where none did; channel: of what."""

    id: str
    text: str
    verdict: str
    value: str = ""
    of: str = ""
    asked: str = ""
    margin: str = ""
    not_now: str = ""
    why: str = ""
    standing: str = ""
    span: Span | None = None
    channel: str = ""


@dataclass(frozen=True)
class Panel:
    """One question answered: its verdict, the sentence that explains it, and its rows. over: what was judged does not
    reach to the moment at which it was asked, so the verdict is only told as what it was."""

    question: str
    verdict: str
    sentence: str
    lines: tuple[Line, ...]
    notes: tuple[str, ...] = ()
    span: Span | None = None
    over: bool = False


@dataclass(frozen=True)
class Planned:
    """One stage of the order and where it stands. why: in words. asked: the one the page is about."""

    id: str
    title: str
    verdict: str
    why: str
    asked: bool


def minutes(seconds: float) -> str:
    """'2:05.3'"""
    whole, rest = divmod(round(seconds * 10), 600)
    return f"{whole}:{rest / 10:04.1f}"


def ready(document: ReadyFindings) -> Panel:
    """Is the car ready?"""
    channels = {part.id: _channel(part) for part in document.parts}
    lines = tuple(
        replace(_precondition(one, document.source.duration_s), of=_of(one, document.hold_s), channel=channels[one.id])
        for one in document.preconditions
    )
    notes = (*_lapsed(document), *_warming(document.warm_up))
    return Panel("Ready?", document.verdict, _ready_sentence(document, lines), lines, notes, _widest(lines))


def settle(document: SettleFindings) -> Panel:
    """Did the idle settle?"""
    lines = tuple(_judged(one) for one in document.parts)
    sentence = _sentence(document.reasons[:1])
    more = tuple(said for one in document.reasons[1:] if (said := plain(one)) not in sentence)
    return Panel("Settled?", document.verdict, sentence, lines, more, document.judged_s)


def steps(document: StepsFindings) -> Panel:
    """Were the steps done, in time?"""
    begun = steps_verdict(document) != NOT_BEGUN
    lines = tuple(_step(one, begun) for one in document.steps)
    sentence = _sentence(document.reasons) if begun else NOBODY_HAS
    return Panel("Steps done?", steps_verdict(document), sentence, lines, (), _widest(lines))


def steps_verdict(document: StepsFindings) -> str:
    """The verdict of the steps, or that nobody has begun on them."""
    return document.verdict if document.tried or document.verdict != "no" else NOT_BEGUN


def _lapsed(document: ReadyFindings) -> Iterator[str]:
    """That it was ready and is no longer."""
    if document.verdict != "yes" and document.ready_spans_s:
        from_s, to_s = document.ready_spans_s[-1]
        yield f"Lapsed: it was ready from {minutes(from_s)} to {minutes(to_s)}."


def _warming(warm: WarmUpDoc | None) -> Iterator[str]:
    """When the coolant will be warm, or why nobody can tell."""
    if warm is None or warm.reach_s is None or warm.reach_s <= 0:
        return
    if warm.trusted:
        yield f"Coolant reaches {warm.target_c:g} °C in about {warm.reach_s:.0f} s."
    else:
        yield f"When the coolant reaches {warm.target_c:g} °C cannot be told: {plain(warm.reason)}."


def _ready_sentence(document: ReadyFindings, lines: Sequence[Line]) -> str:
    """The document's own; where rows cannot tell, each reason once, before all that it is the reason of."""
    telling = [one for one in lines if one.verdict == document.verdict == "cannot tell"]
    if not telling:
        return _sentence(document.reasons)
    by_eye = ", ".join(one.text for one in document.by_eye if one.why)
    old = [one for one in telling if one.not_now.startswith(LAST)]
    reasons = {one.id: TOO_OLD if len(old) > 1 and one in old else one.why for one in telling}
    said = [
        f"{why} ({', '.join(one.text for one in telling if reasons[one.id] == why)})"
        for why in dict.fromkeys(reasons.values())
    ]
    return plain("; ".join([*said, *([f"to be confirmed by eye: {by_eye}"] if by_eye else [])]))


def _precondition(row: PreconditionRow, at_s: float) -> Line:
    """at_s: the moment that was judged; a value that cannot tell and is older than any sample may be is not current."""
    line = _line(row.id, row.text, row.verdict, row.reason, row)
    old = row.verdict == "cannot tell" and row.last_s is not None and at_s - row.last_s > FRESH_S
    if not old or row.last_s is None or line.not_now:
        return line
    if row.id in READ_AT_TIMES:
        return replace(line, margin="", not_now=f"{LAST} at {minutes(row.last_s)}", why=READ_AT_TIMES[row.id])
    return replace(line, margin="", not_now=f"{LAST} {at_s - row.last_s:.0f} s ago")


def _judged(part: Judgement) -> Line:
    shown = next((one for one in part.evidence if one.value is not None), None)
    if shown is None:
        return Line(part.id, words(part.id), part.verdict, why=plain(part.reason))
    return replace(_line(part.id, words(part.id), part.verdict, part.reason, shown), channel=_channel(part))


def _channel(part: Judgement) -> str:
    """What to look at for it on the charts."""
    return next((at.channel for one in part.evidence if (at := questions.shown(one)) is not None), "")


def _of(row: PreconditionRow, hold_s: float) -> str:
    """Of several values that had to hold, the one nearest to its limit is shown; and what it is."""
    low, high = row.limits
    if row.samples < 2 or not isinstance(row.value, int | float) or low == high or (low, high) == (None, 0):
        return ""
    lowest = high is None or (low is not None and row.value - low < high - row.value)
    return f"{'lowest' if lowest else 'highest'} of {hold_s:g} s"


def _line(name: str, text: str, verdict: str, reason: str, shown: PreconditionRow | EvidenceDoc) -> Line:
    measured = _measured(shown)
    return Line(
        name,
        plain(text),
        verdict,
        number(shown.value, shown.unit),
        asked=window(shown.limits, shown.unit, shown.low_open),
        margin=margin(shown.margin, shown.unit) if measured and not _exact(shown) else "",
        not_now="" if measured else NO_MEASUREMENT,
        why=plain(reason),
        standing=plain(shown.standing),
        span=_span(shown.first_s, shown.last_s),
    )


def _exact(shown: PreconditionRow | EvidenceDoc) -> bool:
    """Whether one value alone is asked, from which nothing has a margin while it holds."""
    low, high = shown.limits
    return shown.margin == 0 and (low == high or (low is None and high == 0))


def _measured(shown: PreconditionRow | EvidenceDoc) -> bool:
    """A number with a limit and without a margin to it is that of a broken circuit (verdict.Evidence)."""
    return not isinstance(shown.value, int | float) or shown.limits == (None, None) or shown.margin is not None


def _step(row: StepRow, any_begun: bool) -> Line:
    begun = any_begun or row.verdict == "yes"
    return Line(
        row.id,
        plain(row.text),
        row.verdict if begun else NOT_BEGUN,
        number(row.measured, row.unit) if row.measured is not None and begun else "",
        asked=plain(row.asked),
        why=plain(row.reason) if begun else "",
        standing=plain(row.standing),
        span=_span(*row.span_s),
    )


def _sentence(reasons: Sequence[str]) -> str:
    return plain("; ".join(dict.fromkeys(reasons)))


def _span(first_s: float | None, last_s: float | None) -> Span | None:
    return None if first_s is None or last_s is None else (first_s, last_s)


def _widest(lines: Sequence[Line]) -> Span | None:
    spans = [one.span for one in lines if one.span is not None]
    return (min(a for a, _ in spans), max(b for _, b in spans)) if spans else None
