"""What else an idle shows: ignition timing, throttle, airflow per litre, trims, load and loop state over the judged
span.

Each is reported. Each is judged where there is a limit: a limit of the vehicle's own sheet asks for the reading
(missing is cannot tell); a generic limit judges what is there and passes over what is not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from relearn.channels import Channel, between, plausible_only, value_at
from relearn.checks.holding import evidence_of
from relearn.checks.view import View
from relearn.j1979.table import signals
from relearn.procedures.sheets import Sheet
from relearn.verdict import Evidence, Limits, Outcome, Verdict

LOOP = "fuel_system_1_status"


@dataclass(frozen=True)
class Extra:
    """One further reading at idle: its mean and spread over the span, or its named state. verdict: None where
    unjudged."""

    id: str
    unit: str
    mean: float | None
    sd: float | None
    state: str | None = None
    verdict: Verdict | None = None


def extras(view: View, sheet: Sheet, from_s: float, to_s: float) -> tuple[Extra, ...]:
    """Every further reading over from_s ≤ t ≤ to_s; those neither shown nor asked for are left out."""
    made = [_extra(name, make(view, sheet), _limits(name, sheet), sheet, from_s, to_s) for name, make in EXTRAS.items()]
    loop = loop_state(view, from_s, to_s)
    return tuple(one for one in (*made, loop) if one is not None)


def _extra(
    name: str, channel: Channel | None, limits: Limits | None, sheet: Sheet, from_s: float, to_s: float
) -> Extra | None:
    during = between(plausible_only(channel), from_s, to_s) if channel is not None else None
    if channel is None or during is None or not len(during):
        return _missing(name, limits, sheet)
    mean, spread = float(during.value.mean()), float(during.value.std())
    verdict = _judged(name, during, mean, limits) if limits is not None else None
    return Extra(name, channel.unit, mean, spread, None, verdict)


def _missing(name: str, limits: Limits | None, sheet: Sheet) -> Extra | None:
    if limits is None or name in MAY_BE_ABSENT or not sheet.sets(FACTS[name]):
        return None
    verdict = Verdict(
        name,
        Outcome.CANNOT_TELL,
        f"{_words(name)} is not in the capture, though the sheet has a limit for it",
        (Evidence(name, limits=limits),),
    )
    return Extra(name, limits.unit, None, None, None, verdict)


def _judged(name: str, during: Channel, mean: float, limits: Limits) -> Verdict:
    """The mean over the span against the limits: single samples scatter."""
    outcome = Outcome.YES if limits.holds(mean) else Outcome.NO
    word = "is" if outcome is Outcome.YES else "is not"
    evidence = evidence_of(name, during, mean, limits)
    return Verdict(name, outcome, f"{_words(name)} {mean:.1f} {during.unit} {word} {limits.describe()}", (evidence,))


def _words(name: str) -> str:
    return name.replace("_", " ")


def _timing(view: View, sheet: Sheet) -> Channel | None:
    return view.channels.get("timing_advance")


def _throttle(view: View, sheet: Sheet) -> Channel | None:
    return view.channels.get("throttle_position")


def _load(view: View, sheet: Sheet) -> Channel | None:
    return view.channels.get("calculated_load")


def airflow_per_litre(view: View, sheet: Sheet) -> Channel | None:
    """Measured airflow over displacement; None without either."""
    flow, litres = view.channels.get("mass_air_flow"), sheet.number("engine.displacement_l")
    if flow is None or litres is None:
        return None
    return Channel("airflow_per_litre", "g/s per l", flow.module, flow.time_s, flow.value / litres, flow.frame)


def trim_sum(view: View, sheet: Sheet, bank: int = 1) -> Channel | None:
    """Short plus long trim of a bank at each short-trim sample; None without both, NaN-free."""
    short = view.channels.get(f"short_term_fuel_trim_bank_{bank}")
    long = view.channels.get(f"long_term_fuel_trim_bank_{bank}")
    if short is None or long is None:
        return None
    total = short.value + value_at(long, short.time_s)
    known = ~np.isnan(total)
    return Channel("trim_sum", short.unit, short.module, short.time_s[known], total[known], short.frame[known])


def _second_bank(view: View, sheet: Sheet) -> Channel | None:
    return trim_sum(view, sheet, 2)


EXTRAS: Mapping[str, Callable[[View, Sheet], Channel | None]] = {
    "ignition_timing": _timing,
    "throttle_position": _throttle,
    "airflow_per_litre": airflow_per_litre,
    "trim_sum_bank_1": trim_sum,
    "trim_sum_bank_2": _second_bank,
    "load": _load,
}
FACTS: Mapping[str, str] = {
    "ignition_timing": "idle.ignition_timing_deg",
    "throttle_position": "idle.throttle_position_percent",
    "airflow_per_litre": "idle.airflow_g_per_s_per_l",
    "trim_sum_bank_1": "idle.trim_sum_percent",
    "trim_sum_bank_2": "idle.trim_sum_percent",
    "load": "idle.load_percent",
}
MAY_BE_ABSENT = frozenset({"trim_sum_bank_2"})  # many engines have one bank


def _limits(name: str, sheet: Sheet) -> Limits | None:
    if name == "ignition_timing":
        return sheet.around(FACTS[name], "idle.ignition_timing_tolerance_deg")
    return sheet.limits(FACTS[name])


def loop_state(view: View, from_s: float, to_s: float) -> Extra | None:
    """The fuel loop's state over the span, by the standard's own words; every state it was in, in order."""
    channel = view.channels.get(LOOP)
    during = between(channel, from_s, to_s) if channel is not None else None
    if during is None or not len(during):
        return None
    names = signals()[LOOP].states
    seen = dict.fromkeys(names.get(int(value), f"state {int(value)}") for value in during.value)
    return Extra("fuel_loop", "", None, None, ", then ".join(seen))
