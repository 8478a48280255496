"""What stands on stderr while a recording is made: notices, and in a terminal one line that is drawn over and over."""

from __future__ import annotations

import shutil
from datetime import datetime
from typing import TYPE_CHECKING, TextIO

from relearn.report.words import SIGNS, number, plain, words

if TYPE_CHECKING:
    from relearn.bus.source import Notice, Status
    from relearn.findings.base import Judged
    from relearn.recording import Recording

USUAL_COLUMNS = 80
ALWAYS = {
    "engine_speed": "",
    "coolant_temperature": "",
    "control_module_voltage": "",
    "accelerator_pedal_position_d": "pedal ",
}
"""The channels that are read first at a car, and always stand there; so short that 80 columns hold them, by their units
where these tell them apart. The others follow by name, as far as there is room and they are fresh."""


class Progress:
    """Writes to one stream. Where that is no terminal there is a line only when there is something new."""

    def __init__(self, stream: TextIO) -> None:
        self._stream, self._terminal = stream, stream.isatty()
        self._drawn = 0
        self._missing = ""

    def notice(self, notice: Notice) -> None:
        """One line that stays."""
        self._say(f"{datetime.fromtimestamp(notice.time_s):%H:%M:%S}  {notice.text}")

    def show(self, status: Status, word: str, judged: Judged | None, values: str) -> None:
        """How it goes."""
        if self._terminal:
            parts = (counts(status), sign(word, judged), values, missing(judged))
            self._draw("  ".join(part for part in parts if part))
        elif judged is not None and state(word, judged) != self._missing:
            self._missing = state(word, judged)
            self._say(f"{self._missing}. {reasons(judged)}")

    def end(self) -> None:
        """Nothing more is drawn."""
        self._erase()

    def _say(self, text: str) -> None:
        self._erase()
        print(plain(text), file=self._stream, flush=True)

    def _draw(self, text: str) -> None:
        columns = shutil.get_terminal_size((USUAL_COLUMNS, 24)).columns - 1  # a full line would wrap
        shown = plain(text)[:columns]
        self._stream.write(f"\r{shown.ljust(min(self._drawn, columns))}")
        self._stream.flush()
        self._drawn = len(shown)

    def _erase(self) -> None:
        """With blanks, which every terminal knows."""
        if self._drawn:
            self._draw("")
            self._stream.write("\r")
            self._stream.flush()
            self._drawn = 0


def counts(status: Status) -> str:
    """'63 s  21/s (99 %)': how long, answers a second and the share of the questions that got one; and since when no
    answer comes."""
    share = f" ({100 * status.answered_share:.0f} %)" if status.answered_share is not None else ""
    silent = f"  silent for {status.silent_s:.0f} s" if status.silent_s is not None and status.silent_s >= 2 else ""
    return f"{status.time_s:.0f} s  {status.rate_hz:.0f}/s{share}{silent}"


def state(word: str, judged: Judged | None) -> str:
    """'ready: NO (coolant warm)'."""
    return " ".join(part for part in (sign(word, judged), missing(judged)) if part)


def sign(word: str, judged: Judged | None) -> str:
    """'ready: NO'."""
    return f"{word}: {SIGNS[judged.verdict]}" if judged is not None else ""


def missing(judged: Judged | None) -> str:
    """'(coolant warm)', what is not a yes; nothing for what is one."""
    if judged is None or judged.verdict == "yes":
        return ""
    parts = ", ".join(words(part.id) for part in judged.parts if part.verdict != "yes")
    return f"({parts})" if parts else ""


def reasons(judged: Judged) -> str:
    """Why, check by check; of a yes the reason for it."""
    missing = [part.reason for part in judged.parts if part.verdict != "yes"]
    return "; ".join(missing if missing and judged.verdict != "yes" else judged.reasons)


def last_values(recording: Recording) -> str:
    """The newest value of each channel of the engine module while it is fresh (channels.fresh_within_s), with its unit
    or its word; a dash for one of ALWAYS that is not."""
    from relearn.analysis.common import engine_module, view
    from relearn.channels import fresh_within_s

    channels = view(recording, engine_module(recording, None)).channels
    now = {
        name: float(one.value[-1])
        for name, one in channels.items()
        if len(one) and recording.duration_s - float(one.time_s[-1]) <= fresh_within_s(one)
    }
    units = {name: one.unit for name, one in channels.items()}
    return "  ".join(
        _worded(name, now.get(name), units.get(name)) for name in (*ALWAYS, *sorted(set(now) - set(ALWAYS)))
    )


def _worded(name: str, value: float | None, unit: str | None) -> str:
    from relearn.j1979.names import known

    states = known()[name].states if name in known() else {}
    label = ALWAYS.get(name, f"{words(name)} ")
    if value is None:
        return f"{label}– {known()[name].unit}"
    return f"{label}{states.get(int(value)) or number(value, unit or '')}"
