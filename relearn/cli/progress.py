"""What stands on stderr while a recording is made: notices, and in a terminal one line that is drawn over and over."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING, TextIO

from relearn.report.words import SIGNS, number, plain, words

if TYPE_CHECKING:
    from relearn.bus.source import Notice, Status
    from relearn.findings.base import Judged
    from relearn.recording import Recording

USUAL_COLUMNS = 80
FIRST = (
    "engine_speed",
    "coolant_temperature",
    "control_module_voltage",
    "vehicle_speed",
    "accelerator_pedal_position_d",
    "malfunction_lamp",
)
"""The channels that are read first at a car; the others follow by name."""


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
            self._draw("  ".join(part for part in (counts(status), state(word, judged), values) if part))
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
    """'63 s  21/s  99 % answered', and since when nobody speaks."""
    share = f"  {status.answered_share:.0%} answered" if status.answered_share is not None else ""
    silent = f"  silent for {status.silent_s:.0f} s" if status.silent_s is not None and status.silent_s >= 2 else ""
    return f"{status.time_s:.0f} s  {status.rate_hz:.0f}/s{share.replace('%', ' %')}{silent}"


def state(word: str, judged: Judged | None) -> str:
    """'ready: NO (coolant warm)'."""
    if judged is None:
        return ""
    missing = ", ".join(words(part.id) for part in judged.parts if part.verdict != "yes")
    return f"{word}: {SIGNS[judged.verdict]}" + (f" ({missing})" if missing and judged.verdict != "yes" else "")


def reasons(judged: Judged) -> str:
    """Why, check by check; of a yes the reason for it."""
    missing = [part.reason for part in judged.parts if part.verdict != "yes"]
    return "; ".join(missing if missing and judged.verdict != "yes" else judged.reasons)


def last_values(recording: Recording) -> str:
    """The newest value of each channel of the engine module, with its unit or its word."""
    from relearn.analysis.common import engine_module, view

    channels = view(recording, engine_module(recording, None)).channels
    ordered = sorted(channels, key=lambda name: (FIRST.index(name) if name in FIRST else len(FIRST), name))
    shown = ((name, float(channels[name].value[-1]), channels[name].unit) for name in ordered if len(channels[name]))
    return " · ".join(_worded(shown))


def _worded(shown: Iterator[tuple[str, float, str]]) -> Iterator[str]:
    from relearn.j1979.names import known

    for name, value, unit in shown:
        states = known()[name].states if name in known() else {}
        yield f"{words(name)} {states.get(int(value)) or number(value, unit)}"
