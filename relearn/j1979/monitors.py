"""Readiness monitors in words, from the newest answer to parameter 01 (or 41, for this drive)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from relearn.j1979.series import Series

SUPPORTED = "_monitor_supported"
STATUS = "_monitor_status"
WORDS = {0.0: "complete", 1.0: "not complete"}


def newest(series: Iterable[Series], module: str) -> Mapping[str, float]:
    """The last value of every channel of one module."""
    return {one.signal.name: float(one.value[-1]) for one in series if one.module == module and len(one)}


def monitor_states(values: Mapping[str, float]) -> Mapping[str, str]:
    """Monitor name → 'complete', 'not complete' or 'not supported', from values by channel name.

    Only monitors that the values speak of are listed: an engine with spark ignition has others than one
    without.
    """
    stems = [name.removesuffix(SUPPORTED) for name in values if name.endswith(SUPPORTED)]
    return {stem: _state(values[stem + SUPPORTED], values[stem + STATUS]) for stem in stems if stem + STATUS in values}


def _state(supported: float, status: float) -> str:
    return WORDS[status] if supported else "not supported"
