"""Did what has to hold during a step hold while it was done: the supply, the engine off, the foot off the pedal?"""

from __future__ import annotations

from relearn.actions import Moment, holes
from relearn.channels import Channel, between, fresh_within_s, plausible_only
from relearn.checks import pedal
from relearn.checks.holding import inside, worst
from relearn.checks.ready import needs
from relearn.checks.view import View, lacks
from relearn.procedures.models import Precondition
from relearn.procedures.sheets import Sheet
from relearn.verdict import Evidence, Limits, Outcome, Verdict

LAPSED = {
    "control_module_voltage": "the supply sagged to {value}, from {time} on",
    "engine_speed": "the engine was started ({value}, from {time} on)",
    "vehicle_speed": "the vehicle moved ({value}, from {time} on)",
    pedal.FIRST: "the pedal was touched ({value}, from {time} on)",
    pedal.RELATIVE: "the pedal was touched ({value}, from {time} on)",
}
"""How a lapse is said, by channel; the others by the condition's own text."""


def kept(view: View, condition: Precondition, sheet: Sheet, span: tuple[Moment, Moment]) -> Verdict | None:
    """One condition over the time that certainly belongs to the step; None where the module says it lacks the reading.

    no           a measurement outside the limits
    cannot tell  nothing read, or nothing for longer than channels.fresh_within_s
    """
    if lacks(view, needs(condition)):
        return None
    channel, limits = _source(view, condition, sheet)
    if channel is None or limits is None:
        return Verdict(
            condition.id, Outcome.CANNOT_TELL, f"{condition.text}: not in the capture", (Evidence(condition.id),)
        )
    from_s, to_s = sorted((span[0].latest_s, span[1].earliest_s))
    during = between(channel, from_s, to_s)
    outside = during.take(~inside(during, limits))
    if len(outside):
        return Verdict(condition.id, Outcome.NO, _lapse(condition, outside, limits), (worst(outside, limits),))
    fresh_s = fresh_within_s(channel)
    around = during if len(during) else between(channel, from_s - fresh_s, to_s + fresh_s)
    if not len(around) or holes(channel, from_s, to_s, fresh_s):
        return Verdict(
            condition.id, Outcome.CANNOT_TELL, f"{condition.text}: not read during it", (Evidence(condition.id),)
        )
    return Verdict(condition.id, Outcome.YES, f"{condition.text} held", (worst(around, limits),))


def _source(view: View, condition: Precondition, sheet: Sheet) -> tuple[Channel | None, Limits | None]:
    """Where a condition is read from, and its limits."""
    if condition.check == "pedal-released":
        shown = next(iter(pedal.shown(view)), None)
        return (None, None) if shown is None else (plausible_only(shown), pedal.released(shown, sheet))
    channel = view.channels.get(condition.channel or "")
    measured = plausible_only(channel) if channel is not None else None
    return measured if measured is not None and len(measured) else None, sheet.limits(condition.limits or "")


def _lapse(condition: Precondition, outside: Channel, limits: Limits) -> str:
    shown = worst(outside, limits)
    value = f"{float(shown.value or 0.0):.4g} {outside.unit}"
    said = LAPSED.get(outside.name, f"{condition.text}: not so ({{value}}, from {{time}} on)")
    return f"{said.format(value=value, time=f'{outside.time_s[0]:.1f} s')}, asked {limits.describe()}"
