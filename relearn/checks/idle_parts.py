"""What else must hold while an idle stays inside its window: warm, stopped, no stall, no hunting. One verdict for
each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from relearn.channels import Channel, between, fresh_within_s, implausible
from relearn.checks.holding import good, worst
from relearn.checks.hunting import Swing
from relearn.events import Episode, Stop
from relearn.procedures.sheets import Sheet
from relearn.verdict import Evidence, Limits, Outcome, Verdict


def warm_part(coolant: Channel | None, sheet: Sheet, judged: Episode) -> tuple[Verdict, float]:
    """Coolant inside the warm window through to the episode's end, and the moment from which it is."""
    limits = sheet.limits("warm.coolant_c")
    if coolant is None or limits is None:
        return Verdict("warm", Outcome.CANNOT_TELL, "no coolant temperature in the capture"), judged.from_s
    during = between(coolant, judged.from_s - fresh_within_s(coolant), judged.to_s)
    evidence = _range_evidence(during, limits)
    trouble = _not_covered(during, judged)
    if trouble:
        return Verdict("warm", Outcome.CANNOT_TELL, f"coolant temperature {trouble}", evidence), judged.from_s
    cold = np.flatnonzero(~good(during, limits))
    if not len(cold):
        return Verdict("warm", Outcome.YES, f"coolant stayed at {limits.describe()}", evidence), judged.from_s
    if cold[-1] == len(during) - 1:
        last = during.take(slice(-1, None))
        why = f"coolant is {last.value[0]:g} °C at the end of the idle, not {limits.describe()}"
        return Verdict("warm", Outcome.NO, why, _range_evidence(last, limits)), judged.from_s
    warm = during.take(slice(int(cold[-1]) + 1, None))
    from_s = float(warm.time_s[0])
    why = f"coolant at {limits.describe()} from {from_s:.0f} s on"
    return Verdict("warm", Outcome.YES, why, _range_evidence(warm, limits)), from_s


def _not_covered(during: Channel, judged: Episode) -> str:
    """Why readings do not tell of the whole episode; empty when they do."""
    if not len(during) or judged.to_s - during.time_s[-1] > fresh_within_s(during):
        return "was not read to the end of the idle"
    if implausible(during).any():
        return f"reads {during.value[implausible(during)][-1]:g} °C, which is a broken circuit"
    gap_s = float(np.diff(during.time_s).max(initial=0.0))
    return f"was not read for {gap_s:.0f} s" if gap_s > fresh_within_s(during) else ""


def stopped_part(vehicle: Channel | None, sheet: Sheet, from_s: float, to_s: float) -> Verdict:
    """Vehicle speed within its ceiling over the judged span; episodes end when it moves, so this asks whether it is
    known."""
    limits = sheet.limits("vehicle.stopped_km_h")
    if vehicle is None or limits is None:
        return Verdict("stopped", Outcome.CANNOT_TELL, "no vehicle speed in the capture")
    during = between(vehicle, from_s - fresh_within_s(vehicle), to_s)
    unread = not len(during) or to_s - during.time_s[-1] > fresh_within_s(vehicle)
    if unread or float(np.diff(during.time_s).max(initial=0.0)) > fresh_within_s(vehicle):
        return Verdict("stopped", Outcome.CANNOT_TELL, "vehicle speed was not read throughout the idle")
    return Verdict("stopped", Outcome.YES, "vehicle stopped", _range_evidence(between(vehicle, from_s, to_s), limits))


def _range_evidence(channel: Channel, limits: Limits) -> tuple[Evidence, ...]:
    return (worst(channel, limits),) if len(channel) else (Evidence("none", limits=limits),)


NO_STALL = Limits(None, 0, "", "the question itself: a stall is a no")


def stall_part(halts: Sequence[Stop], from_s: float, end_s: float) -> Verdict:
    """A stall after from_s is a no; a stop that may have been one is a cannot tell."""
    later = [halt for halt in halts if halt.time_s > from_s]
    for kind, outcome in (("stalled", Outcome.NO), ("unclear", Outcome.CANNOT_TELL)):
        found = next((halt for halt in later if halt.kind == kind), None)
        if found is not None:
            count = float(sum(halt.kind == kind for halt in later))
            evidence = Evidence("stalls", count, NO_STALL, found.time_s, found.restarted_s or end_s)
            return Verdict("no-stall", outcome, stopped_words(found), (evidence,))
    return Verdict("no-stall", Outcome.YES, "no stall", (Evidence("stalls", 0.0, NO_STALL, from_s, end_s),))


STOPS: Mapping[str, str] = {
    "stalled": "the engine stalled {at} while the module kept answering",
    "stopped-itself": "the engine stopped itself {at} and restarted by itself at {again:.1f} s: no stall",
    "switched-off": "the engine was switched off {at}",
    "unclear": "the engine stopped {at}, and whether it stalled or was switched off cannot be told",
}


def stopped_words(stop: Stop) -> str:
    """What a stop was, in a sentence."""
    at = f"between {stop.since_s:.1f} and {stop.time_s:.1f} s" if stop.unread else f"at {stop.time_s:.1f} s"
    return STOPS[stop.kind].format(at=at, again=stop.restarted_s or 0.0)


def hunting_part(found: Swing | None, sheet: Sheet) -> tuple[Verdict, ...]:
    """Judged against idle.hunting_rpm when there is a swing; an even idle needs no verdict."""
    limits = sheet.limits("idle.hunting_rpm")
    if found is None or limits is None:
        return ()
    outcome = Outcome.YES if limits.holds(found.amplitude_rpm) else Outcome.NO
    named = f" at {found.frequency_hz:.2f} Hz" if found.frequency_hz is not None else ""
    return (
        Verdict(
            "hunting",
            outcome,
            f"the idle swings ± {found.amplitude_rpm:.0f} rpm{named}",
            (Evidence("hunting_amplitude", found.amplitude_rpm, limits, found.from_s, found.to_s, found.samples),),
        ),
    )
