"""The idle episodes and engine stops of one module's view, with the sheet's own limits: what settle and air share."""

from __future__ import annotations

from relearn.channels import Channel, plausible_only
from relearn.checks import pedal
from relearn.checks.view import View
from relearn.events import Episode, Stop, episodes, stops
from relearn.procedures.sheets import Sheet


def engine_speed(view: View) -> Channel | None:
    """The plausible engine-speed samples, None when there are none."""
    channel = view.channels.get("engine_speed")
    measured = plausible_only(channel) if channel is not None else None
    return measured if measured is not None and len(measured) else None


def idle_episodes(view: View, sheet: Sheet) -> tuple[Episode, ...]:
    """Every idle episode (events.episodes); none without engine speed."""
    speed = engine_speed(view)
    presser = next(iter(pedal.shown(view)), None)
    released = pedal.released(presser, sheet) if presser is not None else None
    return (
        episodes(
            speed,
            sheet.need("engine.running_rpm"),
            view.channels.get("vehicle_speed"),
            sheet.need("vehicle.stopped_km_h"),
            presser,
            released,
        )
        if speed is not None
        else ()
    )


def engine_stops(view: View, sheet: Sheet) -> tuple[Stop, ...]:
    """Every time the engine stopped (events.stops); none without engine speed."""
    speed = engine_speed(view)
    return (
        stops(speed, sheet.need("engine.running_rpm"), view.channels.get("vehicle_speed")) if speed is not None else ()
    )
