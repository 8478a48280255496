"""How values, limits and spans are worded, wherever they are shown."""

from __future__ import annotations

import math

from relearn.verdict import Limits, figure

NO_MODULES = {"broadcast": "broadcast signals", "table": "a table of values"}  # as j1979.series names them
SIGNS = {"yes": "YES", "no": "NO", "cannot tell": "CANNOT TELL"}


def plain(text: str) -> str:
    """Text from a car or a file made safe to print: what does not print is shown as an escape."""
    return "".join(letter if letter.isprintable() else escaped(letter) for letter in text)


def escaped(letter: str) -> str:
    """A character as an escape: its code in hexadecimal."""
    return f"\\x{ord(letter):02x}"


def number(value: float | str | None, unit: str = "") -> str:
    """'12.31 V', '–' for nothing; four significant digits at most, integers whole."""
    if value is None:
        return "–"
    if isinstance(value, str):
        return plain(value)
    return f"{figure(value)} {unit}".strip()


def spread(mean: float | None, sd: float | None, unit: str = "") -> str:
    """'650.1 ± 5.5 rpm': the mean with as many decimals as its spread's second figure needs."""
    if mean is None or sd is None:
        return number(mean, unit)
    decimals = max(0, min(3, 1 - math.floor(math.log10(sd)))) if sd > 0 else 2
    return f"{mean:.{decimals}f} ± {sd:.{decimals}f} {unit}".strip()


def window(limits: tuple[float | None, float | None], unit: str, low_open: bool = False) -> str:
    """The limits in words, '–' for none."""
    return "–" if limits == (None, None) else Limits(*limits, unit, "", low_open).describe()


def margin(value: float | None, unit: str) -> str:
    """Signed distance to the nearest limit: '+0.4 V'."""
    if value is None or value == 0:
        return "–" if value is None else f"0 {unit}".strip()
    return f"{'+' if value > 0 else '-'}{number(abs(value), unit)}"


def span(first_s: float | None, last_s: float | None) -> str:
    """'12.0 to 22.0 s'."""
    return "–" if first_s is None or last_s is None else f"{first_s:.1f} to {last_s:.1f} s"


def bare_span(first_s: float | None, last_s: float | None) -> str:
    """'12.0–22.0', for a column that says it is in seconds."""
    return "–" if first_s is None or last_s is None else f"{first_s:.1f}–{last_s:.1f}"


def who(module: str) -> str:
    """'module 7E8'; what stands in a module's place is named as what it is."""
    kind, _, bus = module.partition("-bus")
    return f"{NO_MODULES[kind]}{f' of bus {bus}' if bus else ''}" if kind in NO_MODULES else f"module {module}"


def words(name: str) -> str:
    """A channel or identifier as words."""
    return plain(name).replace("_", " ").replace("-", " ")
