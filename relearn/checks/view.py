"""What one module told, as the checks see it, and the small questions several checks ask of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from relearn.channels import Channel
from relearn.j1979.records import Codes, Support
from relearn.j1979.table import parameters
from relearn.traffic import Traffic


@dataclass(frozen=True, eq=False)
class View:
    """One module of one capture: its channels by name, what it says it supports, its codes, and when the capture ends.

    codes: every reading of every kind, in time order. end_s: seconds from capture start. traffic: when it spoke and was
    asked, None where nobody says. other_lamps: what every other module says of the malfunction lamp: the car has one.
    """

    module: str
    channels: Mapping[str, Channel]
    end_s: float
    support: Support | None = None
    codes: tuple[Codes, ...] = ()
    traffic: Traffic | None = None
    other_lamps: tuple[Channel, ...] = ()


@cache
def parameter_of() -> Mapping[str, int]:
    """The mode 01 parameter that carries each channel."""
    return {signal.name: row.pid for row in parameters().values() for signal in row.signals}


def lacks(view: View, names: Sequence[str]) -> bool:
    """True when the module itself says (support masks) that it has none of these channels, and indeed sent none."""
    if view.support is None or not names or any(name in view.channels for name in names):
        return False
    identifiers = [parameter_of().get(name) for name in names]
    return all(pid is not None and view.support.says(pid) is False for pid in identifiers)
