"""Support masks as they travel: four bytes that say which of the 32 identifiers behind a base a module has."""

from __future__ import annotations

from collections.abc import Collection

SPAN = 0x20  # identifiers in one mask


def mask(supported: Collection[int], base: int) -> bytes:
    """Support mask of the 32 identifiers behind `base`; the last bit says whether the next mask is worth asking."""
    beyond = {base + SPAN} if any(pid > base + SPAN for pid in supported) else set()
    word = sum(1 << (base + SPAN - pid) for pid in {*supported, *beyond} if base < pid <= base + SPAN)
    return word.to_bytes(4, "big")
