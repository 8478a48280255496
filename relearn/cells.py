"""Text in the cells of a CSV file that somebody may open in a spreadsheet: none of it may run there as a formula."""

from __future__ import annotations

import re

# What spreadsheets take for a formula (OWASP, CSV injection), also behind what cannot be seen.
RISKY = re.compile(r"'*(?:[\s\x00-\x1f\u200b-\u200f\u2060\ufeff]*[=+\-@＝＋－＠]|[\t\r\n])")


def guarded(text: str) -> str:
    """The text behind an apostrophe where a spreadsheet could take it for a formula, else as it is."""
    return f"'{text}" if RISKY.match(text) else text


def unguarded(cell: str) -> str:
    """What `guarded` was given."""
    return cell[1:] if cell.startswith("'") and RISKY.match(cell[1:]) else cell


def one_line(text: str) -> str:
    """The text on one line, guarded: what does not print is a blank, and several blanks are one."""
    return guarded(" ".join("".join(letter if letter.isprintable() else " " for letter in text).split()))
