"""Who the modules say they are, in words, and whether they still are."""

from __future__ import annotations

from collections.abc import Mapping

Who = Mapping[tuple[str, str], tuple[str, ...]]
"""By module and item (VIN, calibration, …): what it says."""


def changed(before: Who, now: Who) -> tuple[str, ...]:
    """What is said otherwise than before, in words."""
    return tuple(
        f"{module} {item.replace('_', ' ')} {', '.join(before[module, item])}, now {', '.join(values)}"
        for (module, item), values in now.items()
        if (module, item) in before and before[module, item] != values
    )


def presented(who: Who) -> str:
    """VIN and calibrations of all, for whoever wants to see that it is the right car."""
    vin = next((", ".join(values) for (_, item), values in who.items() if item == "vin"), "")
    calibrations = [
        f"{module} calibration {', '.join(values)}" for (module, item), values in who.items() if item == "calibration"
    ]
    return ", ".join([f"VIN {vin}" if vin else "no VIN", *calibrations])
