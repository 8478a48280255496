"""What scan data can show of a step: the patterns that a step's `shows` may name, and the numbers each goes by.

The room of the checks has one function for each of these names.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class PatternRow:
    """needs: kinds of number that the step must have; may: those it may have besides. after: whether it is counted from
    an earlier step, which the step then names as `after`. deliberate: whether seeing it says that somebody has begun on
    the steps; engines start, idle and rev on any day."""

    text: str
    needs: tuple[str, ...] = ()
    may: tuple[str, ...] = ()
    after: bool = False
    deliberate: bool = False


PATTERNS: Mapping[str, PatternRow] = MappingProxyType(
    {
        "ignition-on": PatternRow("the module answers, from then on", may=("at_least_s",)),
        "ignition-off": PatternRow("the module, or the whole bus, falls silent", may=("at_least_s",), deliberate=True),
        "on-again-in-time": PatternRow(
            "the ignition came on again so late that the step cannot have been in time; being in time shows nowhere",
            needs=("within_min",),
            after=True,
        ),
        "pedal-rests": PatternRow(
            "the pedal is released until it is next pressed", needs=("about_s",), may=("tolerance_s",)
        ),
        "pedal-presses": PatternRow(
            "the pedal is pressed fully and released", needs=("count", "within_s"), deliberate=True
        ),
        "pedal-held": PatternRow(
            "the pedal is held fully pressed", needs=("about_s",), may=("tolerance_s",), deliberate=True
        ),
        "pedal-released-after": PatternRow("the pedal is released", needs=("within_s",), after=True),
        "lamp-blinking": PatternRow("the malfunction lamp goes on and off"),
        "lamp-lit": PatternRow("the malfunction lamp comes on and stays lit"),
        "engine-starts": PatternRow("engine speed rises above the running limit"),
        "engine-idles": PatternRow("the engine runs, neither pressed nor revved", needs=("at_least_s",)),
        "revved": PatternRow("engine speed rises above the revving limit", needs=("count",), may=("count_at_most",)),
    }
)
KEPT = ("within", "pedal-released")
"""How a condition that holds during a step may be judged."""
