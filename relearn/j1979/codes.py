"""Trouble codes: SAE J2012 / ISO 15031-6 bytes to the five characters that are printed."""

from __future__ import annotations

SYSTEMS = "PCBU"  # powertrain, chassis, body, network


def trouble_code(number: int) -> str:
    """0x0113 → 'P0113': two bits of system, two bits of first digit, then three hexadecimal digits."""
    return f"{SYSTEMS[number >> 14]}{number >> 12 & 3}{number & 0xFFF:03X}"


def trouble_codes(data: bytes) -> tuple[tuple[str, ...], str | None]:
    """The codes behind the service byte of a CAN answer, and what is wrong with the answer, if anything.

    data: a count byte, then two bytes a code. Code 0000 is padding, not a code.
    """
    if not data:
        return (), "it has no count of codes"
    numbers = [int.from_bytes(data[place : place + 2], "big") for place in range(1, len(data) - 1, 2)]
    codes = tuple(trouble_code(number) for number in numbers if number)
    if len(data) % 2 == 0 and data[-1]:
        return codes, "its last code is cut short"
    if len(codes) != data[0]:
        return codes, f"it announces {data[0]} codes and carries {len(codes)}"
    return codes, None
