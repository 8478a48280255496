"""Sentences with places for numbers, so that a number stands once, in the data, and never again in a text."""

from __future__ import annotations

import re
from collections.abc import Callable

_PLACE = re.compile(r"\{([^{}]*)\}")


def places(text: str) -> tuple[str, ...]:
    """The names in braces: 'off {at_least_s} or more' → ('at_least_s',)."""
    return tuple(_PLACE.findall(text))


def fill(text: str, shown: Callable[[str], str]) -> str:
    """The text with each name in braces replaced by what `shown` says for it."""
    return _PLACE.sub(lambda place: shown(place[1]), text)


def quantity(value: float, unit: str) -> str:
    """'20 s', '5' (no unit)."""
    return f"{value:g} {unit}".rstrip()
