"""Is the accelerator pedal released? What a reading is held against depends on which sensor the module shows."""

from __future__ import annotations

from relearn.channels import Channel, plausible_only
from relearn.checks.view import View
from relearn.procedures.sheets import Sheet
from relearn.verdict import Limits

RELATIVE = "relative_accelerator_pedal_position"
FIRST = "accelerator_pedal_position_d"
ABSOLUTE = (FIRST, "accelerator_pedal_position_e", "accelerator_pedal_position_f")
PEDALS = (*ABSOLUTE, RELATIVE)


def shown(view: View) -> tuple[Channel, ...]:
    """The pedal channels that can tell: the first absolute one the module shows, and the relative one."""
    absolute = next((view.channels[name] for name in ABSOLUTE if name in view.channels), None)
    relative = view.channels.get(RELATIVE)
    return tuple(channel for channel in (absolute, relative) if channel is not None and len(channel))


def released(channel: Channel, sheet: Sheet) -> Limits | None:
    """Inside which limits the pedal counts as released; None when nothing says.

    The relative position is held against its own ceiling. An absolute one is held against the sheet's released value;
    without one, against the lowest reading of the same capture, and never above the generic ceiling: a pedal held down
    through a whole capture would otherwise look released.
    """
    if channel.name == RELATIVE:
        return sheet.limits("pedal.relative_released_percent")
    own = sheet.around("pedal.released_percent", "pedal.released_tolerance_percent")
    if channel.name == FIRST and own is not None:
        return own
    return _near_lowest(channel, sheet)


def _near_lowest(channel: Channel, sheet: Sheet) -> Limits | None:
    ceiling, tolerance = sheet.limits("pedal.released_at_most_percent"), sheet.fact("pedal.released_tolerance_percent")
    spread = sheet.number("pedal.released_tolerance_percent")
    measured = plausible_only(channel)
    if ceiling is None or ceiling.high is None or tolerance is None or spread is None or not len(measured):
        return ceiling
    high = float(measured.value.min()) + spread
    if high >= ceiling.high:
        return ceiling
    return Limits(None, high, channel.unit, f"lowest reading of this capture plus {spread:g} % ({tolerance.standing})")
