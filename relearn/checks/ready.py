"""Is the car ready for this relearn now? Each measured precondition held over the last seconds, on fresh data.

`PRECONDITIONS` is the whole list of ways to check one; a procedure's TOML names one of them for each precondition.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from relearn.channels import FRESH_S, Channel
from relearn.checks import latched, pedal
from relearn.checks.holding import Spans, as_sampled, common, held, spans
from relearn.checks.latched import Judged, most_telling
from relearn.checks.view import View, lacks
from relearn.procedures.loader import Precondition
from relearn.procedures.sheets import Sheet
from relearn.procedures.standing import joined
from relearn.verdict import Evidence, Limits, Outcome, Verdict, combine


@dataclass(frozen=True)
class Readiness:
    """The verdict with a child for each measured precondition.

    moved: preconditions the module itself says it cannot show, to be confirmed by eye (id, text).
    spans: every stretch of the capture in which asking would have given yes (from_s, to_s), each as far as its samples
    go: once a value stops coming, nothing is told of what followed.
    """

    verdict: Verdict
    moved: tuple[tuple[str, str], ...]
    spans: Spans


@dataclass(frozen=True)
class Asked:
    """One precondition as it is checked: where it looks, at which moment, over how long."""

    view: View
    precondition: Precondition
    sheet: Sheet
    at_s: float
    hold_s: float


def ready(view: View, preconditions: Sequence[Precondition], sheet: Sheet, hold_s: float) -> Readiness:
    """Judge every precondition at the end of the capture; all are judged even after a no.

    Yes only when each one that the module can show is a yes; a module that can show none of them is a cannot tell.
    """
    moved = [one for one in preconditions if lacks(view, needs(one))]
    judged = [
        PRECONDITIONS[one.check](Asked(view, one, sheet, view.end_s, hold_s))
        for one in preconditions
        if one not in moved
    ]
    children = tuple(verdict for verdict, _ in judged)
    outcome = combine(child.outcome for child in children)
    verdict = Verdict("ready", outcome, _sentence(outcome, children, preconditions, moved), children=children)
    return Readiness(verdict, tuple((one.id, one.text) for one in moved), common([found for _, found in judged]))


def needs(precondition: Precondition) -> tuple[str, ...]:
    """The channels of which at least one must be shown for the precondition to be measured."""
    return NEEDS.get(precondition.check, (precondition.channel,) if precondition.channel else ())


def _sentence(
    outcome: Outcome, children: Sequence[Verdict], asked: Sequence[Precondition], moved: Sequence[Precondition]
) -> str:
    texts = {one.id: one.text for one in asked}
    why = "; ".join(f"{texts[child.id]}: {child.reason}" for child in children if child.outcome is outcome)
    if outcome is Outcome.YES:
        why = "every measured precondition held"
    if not children:
        why = "the module shows none of the preconditions"
    by_eye = ", ".join(one.text for one in moved)
    return f"{why}; the module does not show, so confirm by eye: {by_eye}" if moved else why


def _within(asked: Asked) -> Judged:
    limits = asked.sheet.limits(asked.precondition.limits or "")
    channel = asked.view.channels.get(asked.precondition.channel or "")
    return _held(asked, channel, limits)


def _held(asked: Asked, channel: Channel | None, limits: Limits | None) -> Judged:
    name = asked.precondition.id
    if limits is None:
        return Verdict(name, Outcome.CANNOT_TELL, "no limit is known; give a vehicle sheet", (Evidence(name),)), ()
    found = held(name, channel, limits, asked.at_s, asked.hold_s)
    if channel is None:
        return found, ()
    return found, as_sampled(spans(channel, limits, asked.hold_s, asked.at_s), channel, asked.at_s)


def _ignition_on(asked: Asked) -> Judged:
    """The module answers: its newest sample of any kind is at most 5 s old, and no longer silence is in the window."""
    answers = _silences(asked.view)
    name = asked.precondition.id
    limits = Limits(None, FRESH_S, "s", "freshness rule: the longest silence between two answers")
    found, when = _held(asked, answers, limits)
    sure = found.outcome is Outcome.YES
    return (found if sure else Verdict(name, Outcome.CANNOT_TELL, "the module is not answering", found.evidence)), when


def _silences(view: View) -> Channel | None:
    """At each answer of any kind, the silence before it; None where the module never answered."""
    every = list(view.channels.values())
    if not every:
        return None
    times_s, first = np.unique(np.concatenate([one.time_s for one in every]), return_index=True)
    frames = np.concatenate([one.frame for one in every])[first]
    return Channel("silence", "s", view.module, times_s, np.diff(times_s, prepend=times_s[:1]), frames)


def _pedal_released(asked: Asked) -> Judged:
    """One pedal channel that shows it released is enough; one that shows it pressed is a no."""
    channels = pedal.shown(asked.view)
    if not channels:
        return _held(asked, None, asked.sheet.limits("pedal.released_at_most_percent"))
    return most_telling([_held(asked, channel, pedal.released(channel, asked.sheet)) for channel in channels])


def _engine_idling(asked: Asked) -> Judged:
    """Above the running limit and not above what any idle reaches; that the foot is off and the car stands is judged
    by preconditions of their own."""
    running, most = asked.sheet.limits(asked.precondition.limits or ""), asked.sheet.fact("engine.idling_at_most_rpm")
    if running is None or most is None:
        return _held(asked, None, running)
    standing = joined([running.standing, most.standing])
    limits = Limits(running.low, asked.sheet.number(most.key), running.unit, standing, running.low_open)
    return _held(asked, asked.view.channels.get(asked.precondition.channel or ""), limits)


def _no_stored_codes(asked: Asked) -> Judged:
    """No stored codes (checks.latched.codes)."""
    limits = asked.sheet.limits("codes.stored")
    return latched.codes(asked.precondition.id, asked.view, limits, asked.at_s) if limits else _held(asked, None, None)


def _lamp_off(asked: Asked) -> Judged:
    """The lamp is off by the judged module, and no other module lights it: the car has one lamp."""
    own = _within(asked)
    return latched.lamps(asked.precondition.id, own, asked.view.other_lamps, asked.at_s)


PRECONDITIONS: Mapping[str, Callable[[Asked], Judged]] = {
    "within": _within,
    "engine-idling": _engine_idling,
    "lamp-off": _lamp_off,
    "ignition-on": _ignition_on,
    "pedal-released": _pedal_released,
    "no-stored-codes": _no_stored_codes,
}
NEEDS: Mapping[str, tuple[str, ...]] = {"pedal-released": pedal.PEDALS, "ignition-on": (), "no-stored-codes": ()}
