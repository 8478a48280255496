"""The columns of a survey's table. The only place they are spelt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

Cell = str | float | None
Row = Mapping[str, Cell]


@dataclass(frozen=True)
class Column:
    """A name, and what it holds: text (unit None; never missing, '' for nothing) or a number in a unit ('' for a bare
    one; None for nothing); and the same in words, for people: of a text only where its values are counted."""

    name: str
    unit: str | None = None
    words: str = ""

    @property
    def number(self) -> bool:
        return self.unit is not None


def _columns(*rows: tuple[str] | tuple[str, str | None, str]) -> tuple[Column, ...]:
    return tuple(Column(*row) for row in rows)


FIRST = _columns(
    ("folder",), ("file",), ("sha256",), ("question",), ("relearn",), ("verdict",), ("reason",), ("decided_by",)
)
KEY_NUMBERS: Mapping[str, tuple[Column, ...]] = {
    "ready": _columns(
        ("not_met", None, "not met"),
        ("not_told", None, "cannot be told"),
        ("not_shown", None, "left to the eye"),
        ("engine_speed_rpm", "rpm", "engine speed"),
        ("supply_v", "V", "module voltage"),
        ("coolant_c", "°C", "coolant temperature"),
        ("ready_s", "s", "time in which it was ready"),
        ("warm_up_s", "s", "time until coolant is warm"),
    ),
    "steps": _columns(
        ("steps_done", "", "steps done"),
        ("steps_wrong", "", "steps wrong"),
        ("steps_not_told", "", "steps that cannot be told"),
        ("trouble",),
    ),
    "settle": _columns(
        ("mean_rpm", "rpm", "mean idle speed"),
        ("sd_rpm", "rpm", "spread of idle speed (sd)"),
        ("settle_s", "s", "time to settle"),
        ("drift_rpm_per_min", "rpm/min", "drift of idle speed"),
        ("hunting_amplitude_rpm", "rpm", "swing, amplitude"),
        ("hunting_hz", "Hz", "swing, frequency"),
        ("stalls", "", "stalls"),
    ),
    "supply": _columns(
        ("share_inside", "", "share of the time inside"),
        ("worst_v", "V", "voltage farthest out"),
        ("sags", "", "sags"),
        ("surges", "", "surges"),
        ("last_minute_mean_v", "V", "mean of the last minute"),
        ("last_minute_sd_v", "V", "spread of the last minute (sd)"),
    ),
    "identity": _columns(
        ("vin",),
        ("vin_check", None, "check digit"),
        ("calibrations", None, "calibration"),
        ("verification_numbers",),
        ("modules", "", "modules that identified themselves"),
    ),
    "air": _columns(
        ("trims_idle_percent", "%", "trims at idle"),
        ("trims_2500_percent", "%", "trims at about 2,500 rpm"),
        ("airflow_per_litre", "g/s per l", "airflow per litre at idle"),
        ("would_settle", None, "would the idle settle"),
    ),
}
LAST = _columns(
    ("worst_margin", "", "worst margin"),
    ("worst_margin_unit",),
    ("worst_margin_of",),
    ("start",),
    ("duration_s", "s", "duration"),
    ("module",),
    ("sheet",),
    ("sheet_sha256",),
    ("dbc_sha256",),
    ("map_sha256",),
    ("module_asked",),
    ("version",),
    ("faults", "", "faults in the capture"),
    ("judged_in_s", "s", "time to judge"),
    ("path",),
)
ASKED: Final = {
    "question": "question",
    "relearn": "relearn",
    "sheet_sha256": "sheet",
    "dbc_sha256": "database (--dbc)",
    "map_sha256": "map (--map)",
    "module_asked": "module (--module)",
}
"""What every row of a table has in common, and its name for people: rows that differ in it are of different surveys."""
CSV_BEGINS = ",".join(one.name for one in FIRST)
UNREADABLE: Final = "unreadable"
UNTOLD: Final = "cannot tell"


def columns(question: str) -> tuple[Column, ...]:
    """The columns of a survey for this question, in order."""
    return (*FIRST, *KEY_NUMBERS[question], *LAST)


def empty(question: str) -> dict[str, Cell]:
    """A row with nothing in it yet."""
    return {one.name: None if one.number else "" for one in columns(question)}
