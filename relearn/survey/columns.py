"""The columns of a survey's table. The only place they are spelt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

Cell = str | float | None
Row = Mapping[str, Cell]


@dataclass(frozen=True)
class Column:
    """A name; text (never missing, '' for nothing) or a number (None for nothing) with its unit; and the same in words,
    for people."""

    name: str
    number: bool = False
    unit: str = ""
    words: str = ""


def _texts(*names: str) -> tuple[Column, ...]:
    return tuple(Column(name) for name in names)


def _number(name: str, unit: str = "", words: str = "") -> Column:
    return Column(name, True, unit, words or name.replace("_", " "))


FIRST = _texts("folder", "file", "sha256", "question", "relearn", "verdict", "reason", "decided_by")
LAST = (
    _number("worst_margin"),
    *_texts("worst_margin_unit", "worst_margin_of", "start"),
    _number("duration_s", "s", "duration"),
    *_texts("module", "sheet", "sheet_sha256", "version"),
    _number("faults", "", "faults in the capture"),
    _number("judged_in_s", "s", "time to judge"),
)
KEY_NUMBERS: Mapping[str, tuple[Column, ...]] = {
    "ready": (
        *_texts("not_met", "not_told"),
        _number("engine_speed_rpm", "rpm", "engine speed"),
        _number("supply_v", "V", "module voltage"),
        _number("coolant_c", "°C", "coolant temperature"),
        _number("ready_s", "s", "time in which it was ready"),
        _number("warm_up_s", "s", "time until coolant is warm"),
    ),
    "steps": (
        _number("steps_done", "", "steps done"),
        _number("steps_wrong", "", "steps wrong"),
        _number("steps_not_told", "", "steps that cannot be told"),
        *_texts("trouble"),
    ),
    "settle": (
        _number("mean_rpm", "rpm", "mean idle speed"),
        _number("sd_rpm", "rpm", "spread of idle speed (sd)"),
        _number("settle_s", "s", "time to settle"),
        _number("drift_rpm_per_min", "rpm/min", "drift of idle speed"),
        _number("hunting_amplitude_rpm", "rpm", "swing, amplitude"),
        _number("hunting_hz", "Hz", "swing, frequency"),
        _number("stalls", "", "stalls"),
    ),
    "supply": (
        _number("share_inside", "", "share of the time inside"),
        _number("worst_v", "V", "voltage farthest out"),
        _number("sags", "", "sags"),
        _number("surges", "", "surges"),
        _number("last_minute_mean_v", "V", "mean of the last minute"),
        _number("last_minute_sd_v", "V", "spread of the last minute (sd)"),
    ),
    "identity": (
        *_texts("vin", "vin_check", "calibrations", "verification_numbers"),
        _number("modules", "", "modules that identified themselves"),
    ),
    "air": (
        _number("trims_idle_percent", "%", "trims at idle"),
        _number("trims_2500_percent", "%", "trims at about 2,500 rpm"),
        _number("airflow_per_litre", "g/s per l", "airflow per litre at idle"),
        *_texts("would_settle"),
    ),
}
CSV_BEGINS = ",".join(one.name for one in FIRST)
UNREADABLE: Final = "unreadable"


def columns(question: str) -> tuple[Column, ...]:
    """The columns of a survey for this question, in order."""
    return (*FIRST, *KEY_NUMBERS[question], *LAST)


def empty(question: str) -> dict[str, Cell]:
    """A row with nothing in it yet."""
    return {one.name: None if one.number else "" for one in columns(question)}
