"""The charts as an element of the page: rows go out as packed columns, only those that a browser does not have yet."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from nicegui.element import Element

from relearn.screen.series import Drawn

BEAT_S = 0.4


class Strips(Element, component="strips.js", esm={"relearn-uplot": "vendor", "relearn-strips": "js"}):
    """Charts under one time axis. charts: what `charts.shown` makes; span_s: how much time a following view shows."""

    def __init__(self, charts: Sequence[Mapping[str, Any]], span_s: float) -> None:
        super().__init__()
        self._props["charts"], self._props["span"] = list(charts), span_s
        self._sent = [0] * len(charts)
        self._where: object = None
        self._spoke_s = 0.0

    def bring(self, parts: Sequence[Drawn], position_s: float, arrived_s: float, lost: bool) -> None:
        """Bring the browser's rows up to `position_s`: what is new is added, what lies ahead after a step back goes.

        arrived_s: the wall clock at which the newest row was known; the page keeps it as what it has drawn. lost: no
        value is a current one any more.
        """
        until = [one.until(position_s) for one in parts]
        changed = {
            str(place): _packed(one, min(sent, now), now)
            for place, (one, sent, now) in enumerate(zip(parts, self._sent, until, strict=True))
            if now != sent
        }
        where = (position_s, lost)
        if not changed and where == self._where:
            self._beat(arrived_s)
            return
        self._sent, self._where, self._spoke_s = until, where, arrived_s
        self.run_method("append", {"strips": changed, "position": position_s, "sent": arrived_s, "lost": lost})

    def _beat(self, now_s: float) -> None:
        """With nothing new the browser still hears that there is somebody: it calls a page without that not current."""
        if now_s - self._spoke_s >= BEAT_S:
            self._spoke_s = now_s
            self.run_method("alive")

    def tell(self, told: Mapping[str, Any]) -> None:
        """marks, spans: on the time axis; marks that come `first` keep their words where there is no room for all.
        limits, legends: of each chart, as numbers and in words. fresh, plausible: of each channel of each chart, how
        old a value may be in seconds, and within what it is a measurement."""
        self.run_method("tell", told)

    def focus(self, from_s: float, to_s: float, places: Sequence[int]) -> None:
        """Show this stretch, marked on these charts."""
        self.run_method("focus", from_s, to_s, list(places))

    def follow(self) -> None:
        """Go along with the newest sample again."""
        self.run_method("follow")

    def everything(self) -> None:
        """Show the whole recording so far."""
        self.run_method("everything")


def _packed(part: Drawn, first: int, last: int) -> dict[str, Any]:
    """Times go out as seconds since the first of them: a third of a millisecond is kept over an hour."""
    values, time_s = part.value[first:last], part.time_s[first:last]
    begun_s = float(time_s[0]) if len(time_s) else 0.0
    return {
        "from": first,
        "begun": begun_s,
        "time": _text((time_s - begun_s).astype("<f4")),
        "values": [_text(values[:, column].astype("<f4")) for column in range(values.shape[1])],
    }


def _text(array: np.ndarray) -> str:
    return base64.b64encode(np.ascontiguousarray(array).tobytes()).decode("ascii")
