"""Where a number comes from, in the words that people read."""

from __future__ import annotations

import re

WORDS = {"C": "common practice, no source", "M": "from memory, confirm in the vehicle's service information"}
PUBLISHED = re.compile(r"P: *(?P<source>\S.*)")
_LOOKS_LIKE_LETTERS = re.compile(r"[A-Z]{1,3}:?")


def standing_text(standing: str) -> str:
    """The words for 'C', 'M', both ('CM') or 'P: source'; any other text is words already and stays."""
    if published := PUBLISHED.fullmatch(standing):
        return f"published: {published['source']}"
    return "; ".join(WORDS[letter] for letter in standing) if _is_letters(standing) else standing


def is_standing(standing: str) -> bool:
    """Known letters, or words. False for blank text and letters without meaning ('X', 'P' and no source)."""
    words = standing.strip()
    return _is_letters(standing) or bool(words and not _LOOKS_LIKE_LETTERS.fullmatch(words))


def joined(standings: list[str]) -> str:
    """Several standings as one text, each said once, in the order given."""
    parts = [part for standing in standings for part in standing_text(standing).split("; ")]
    return "; ".join(dict.fromkeys(parts))


def _is_letters(standing: str) -> bool:
    return standing in ("C", "M", "CM")
