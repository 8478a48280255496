"""Preconditions on what latches: stored codes and the malfunction lamp. One fresh reading stands for the window."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from relearn.channels import Channel, fresh_within_s
from relearn.checks.holding import Spans, common, held, spans, union
from relearn.checks.view import View
from relearn.verdict import Limits, Outcome, Verdict

Judged = tuple[Verdict, Spans]
LIT = Limits(None, 0, "", "the lamp is one for the whole car")


def most_telling(judged: Sequence[Judged]) -> Judged:
    """Of several sources for one precondition: one no is a no, else one yes is enough; the spans follow the same
    rule."""
    order = (Outcome.NO, Outcome.YES, Outcome.CANNOT_TELL)
    verdict, _ = min(judged, key=lambda one: order.index(one[0].outcome))
    found = [when for _, when in judged if when]
    return verdict, common(found) if verdict.outcome is Outcome.NO else union(found)


def codes(name: str, view: View, limits: Limits, at_s: float) -> Judged:
    """No stored codes: the newest list of them, or the newest stored-code count, is zero and fresh.

    no           either holds some and is fresh
    cannot tell  neither is fresh, or the newest list still held some while the count says none
    """
    sources = [
        source
        for source in (_code_lists(view), view.channels.get("stored_code_count"))
        if source is not None and len(source)
    ]
    if not sources:
        return held(name, None, limits, at_s, 0.0), ()
    judged = [
        (held(name, source, limits, at_s, at_s - float(source.time_s[-1])), spans(source, limits, 0.0, at_s))
        for source in sources
    ]
    verdict, when = most_telling(judged)
    if any(float(source.value.max()) > 0 for source in sources):
        when = common([found for _, found in judged])
    return _naming_codes(_doubted(verdict, sources, at_s), view), when


def _doubted(verdict: Verdict, sources: Sequence[Channel], at_s: float) -> Verdict:
    """A yes from one source is a cannot tell while the newest of another still held codes."""
    held_some = [source for source in sources if source.value[-1] > 0]
    if verdict.outcome is not Outcome.YES or not held_some:
        return verdict
    age_s = at_s - float(held_some[0].time_s[-1])
    reason = f"the {held_some[0].name.replace('_', ' ')} read {age_s:.0f} s before the end still held codes"
    return Verdict(verdict.id, Outcome.CANNOT_TELL, reason, verdict.evidence)


def _code_lists(view: View) -> Channel | None:
    lists = [reading for reading in view.codes if reading.kind == "stored"]
    if not lists:
        return None
    return Channel(
        "stored_codes",
        "",
        view.module,
        np.array([one.time_s for one in lists]),
        np.array([float(len(one.codes)) for one in lists]),
        np.array([one.frame for one in lists]),
    )


def _naming_codes(verdict: Verdict, view: View) -> Verdict:
    names = [code for reading in view.codes if reading.kind == "stored" for code in reading.codes]
    if verdict.outcome is not Outcome.NO or not names:
        return verdict
    return Verdict(verdict.id, verdict.outcome, f"stored {', '.join(dict.fromkeys(names))}", verdict.evidence)


def lamps(name: str, own: Judged, others: Sequence[Channel], at_s: float) -> Judged:
    """The judged module's own answer, unless another module lights the lamp.

    no           another module's newest answer has it on and is fresh
    cannot tell  another module had it on when it was last asked, too long ago
    """
    lit = [other for other in others if len(other) and other.value[-1] > 0]
    if not lit:
        return own
    verdict, when = own
    fresh = [other for other in lit if at_s - other.time_s[-1] <= fresh_within_s(other)]
    other = (fresh or lit)[0]
    found = held(name, other, LIT, at_s, at_s - float(other.time_s[-1]))
    if verdict.outcome is not Outcome.NO:
        outcome = Outcome.NO if fresh else Outcome.CANNOT_TELL
        verdict = Verdict(name, outcome, f"module {other.module} lights the lamp", found.evidence)
    return verdict, common([when, spans(other, LIT, 0.0, at_s)])
