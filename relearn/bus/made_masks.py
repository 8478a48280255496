"""Support masks that a capture does not hold, made from what its modules were seen to answer."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from relearn.j1979.masks import mask
from relearn.j1979.records import MASKS

FAMILIES = (b"\x01", b"\x09", b"\x22\xf4", b"\x22\xf8")
"""Things without their last byte, which counts parameters or infotypes; each kind has masks of its own."""


def made_masks(seen: Collection[bytes], asked: Collection[bytes]) -> dict[bytes, bytes]:
    """By thing, the bytes of each mask that is not among those asked, from the things seen. A range gets none if
    nothing was seen in it or behind it, since nothing is known of it."""
    made = (one for family in FAMILIES for one in _of_family(family, seen))
    return {thing: data for thing, data in made if thing not in asked}


def _of_family(family: bytes, seen: Collection[bytes]) -> Iterator[tuple[bytes, bytes]]:
    numbers = {thing[-1] for thing in seen if thing[:-1] == family} - MASKS
    for base in sorted(MASKS):
        if any(number > base for number in numbers):
            number = bytes((base,))
            yield family + number, family[1:] + number + mask(numbers, base)
