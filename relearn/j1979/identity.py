"""Who a module says it is: service 09 infotypes and identifiers F8xx, and the check digit of a VIN."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass

from relearn.j1979.records import Item
from relearn.j1979.table import parameters
from relearn.verdict import Outcome

PADDING = b"\x00\xff"


def text(data: bytes) -> str:
    """Characters without 00, FF or blanks around them; what does not print becomes an escape like \\x1b."""
    inner = data.strip(PADDING + b" ")
    return "".join(chr(byte) if 0x20 <= byte < 0x7F else f"\\x{byte:02x}" for byte in inner)


def module_text(data: bytes) -> str:
    """A module's name: acronym and words, with 00 as filler between them too."""
    return text(data.replace(b"\x00", b""))


def hexadecimal(data: bytes) -> str:
    return data.hex().upper()


@dataclass(frozen=True)
class Infotype:
    """One kind of identification: what it is, bytes per entry, and how an entry is read."""

    item: Item
    size: int
    read: Callable[[bytes], str]


INFOTYPES: Mapping[int, Infotype] = {
    0x02: Infotype("vin", 17, text),
    0x04: Infotype("calibration", 16, text),
    0x06: Infotype("verification_number", 4, hexadecimal),
    0x0A: Infotype("name", 20, module_text),
}


def counted(kind: Infotype, data: bytes) -> tuple[str, ...] | None:
    """The entries behind a count byte (NODI), as service 09 sends them on CAN; None if the length does not fit.

    One VIN may have filler around it, as the older protocols send it.
    """
    if data[:1] == b"\x01" and kind.item == "vin" and len(data[1:].strip(PADDING)) == kind.size:
        return (text(data[1:]),)
    if not data or not data[0] or len(data) != 1 + data[0] * kind.size:
        return None
    return _entries(kind, data[1:])


def entries(kind: Infotype, data: bytes) -> tuple[str, ...] | None:
    """The entries of an identification with or without a count byte, told by the length; None if nothing fits.

    A first byte that prints as no character is a count, unless it is filler or the entries are numbers.
    """
    said = counted(kind, data)
    bare = bool(data) and (data[0] >= 0x20 or not data[0] or kind.read is hexadecimal)
    return _entries(kind, data) if said is None and bare and len(data) % kind.size == 0 else said


def extent(kind: Infotype, data: bytes) -> int | None:
    """How many of these bytes are the identification, if other identifiers may follow it; None if unclear.

    All of them, or one entry, or a count byte and its entries; the rest must begin with an identifier of
    SAE J1979-2 that is known here. Where more than one reading fits, nobody can tell.
    """
    behind_count = 1 + data[0] * kind.size if data else 0
    lengths = {len(data), kind.size, behind_count} & set(range(1, len(data) + 1))
    fitting = [length for length in lengths if entries(kind, data[:length]) is not None and _begins(data[length:])]
    return fitting[0] if len(fitting) == 1 else None


def _begins(rest: bytes) -> bool:
    """Nothing is left, or a known parameter (F4xx) or identification (F8xx)."""
    known: dict[int, Container[int]] = {0xF4: parameters(), 0xF8: INFOTYPES}
    return not rest or (len(rest) > 2 and rest[1] in known.get(rest[0], ()))


def _entries(kind: Infotype, data: bytes) -> tuple[str, ...]:
    return tuple(kind.read(data[at : at + kind.size]) for at in range(0, len(data), kind.size))


# 49 CFR 565.15: values of the letters, weights of the seventeen places, remainder 10 written X.
LETTERS = {
    letter: int(value) for letter, value in zip("ABCDEFGHJKLMNPRSTUVWXYZ", "12345678123457923456789", strict=True)
}
VALUES = LETTERS | {digit: int(digit) for digit in "0123456789"}
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
CHECK_PLACE = 8
NORTH_AMERICA = "12345"  # ISO 3780 region codes


@dataclass(frozen=True)
class VinCheck:
    """YES: the check digit is right. NO: it is wrong, or this is no VIN. CANNOT_TELL: the region need not use
    one.

    check_digit: what place nine would have to hold; None where the text is no VIN.
    """

    vin: str
    outcome: Outcome
    reason: str
    check_digit: str | None = None


def vin_check(vin: str) -> VinCheck:
    """Seventeen characters, no I, O, Q (ISO 3779); a check digit where the region uses one (49 CFR 565)."""
    if len(vin) != len(WEIGHTS):
        return VinCheck(vin, Outcome.NO, f"A VIN has 17 characters, this has {len(vin)}.")
    strange = sorted({letter for letter in vin if letter not in VALUES})
    if strange:
        return VinCheck(vin, Outcome.NO, f"A VIN cannot contain {', '.join(strange)}.")
    wanted = check_digit(vin)
    fits = vin[CHECK_PLACE] == wanted
    if vin[0] not in NORTH_AMERICA:
        said = "it would fit" if fits else f"it would have to be {wanted}"
        reason = f"Region code {vin[0]} need not use a check digit; {said}."
        return VinCheck(vin, Outcome.CANNOT_TELL, reason, wanted)
    if fits:
        return VinCheck(vin, Outcome.YES, f"The check digit {wanted} is right.", wanted)
    return VinCheck(vin, Outcome.NO, f"The check digit is {vin[CHECK_PLACE]} and should be {wanted}.", wanted)


def check_digit(vin: str) -> str:
    """The check digit of seventeen valid characters, whatever place nine holds."""
    total = sum(VALUES[letter] * weight for letter, weight in zip(vin, WEIGHTS, strict=True))
    return "0123456789X"[total % 11]
