"""What happened in a recording, as its scenario made it happen."""

from pathlib import Path

import pytest

from relearn.analysis.marks import marks
from relearn.procedures.sheets import generic
from relearn.recording import read

CAPTURES = Path(__file__).parents[2] / "captures"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("demo-before.log", [(8.0, "start")]),  # the starter at 8 s
        ("demo-ready-pedal.log", []),
        ("steps-write-wait-right.log", [(15.0, "ignition off"), (80.0, "ignition on")]),
        ("stall.log", [(3.0, "start"), (32.0, "stalled")]),  # the blower comes on at 32 s
    ],
)
def test_ignition_and_engine(name: str, expected: list[tuple[float, str]]) -> None:
    """Seen within two seconds of the scenario's own event: a starter takes its time, and so does a module."""
    seen = marks(read(CAPTURES / name), generic())
    assert [one.text for one in seen] == [text for _, text in expected]
    assert all(0.0 <= one.time_s - made_s < 2.0 for one, (made_s, _) in zip(seen, expected, strict=True))


def test_presses() -> None:
    """Five presses and the long one, as the scenario of the right steps has them."""
    seen = marks(read(CAPTURES / "steps-idle-right.log"), generic())
    assert [one.kind for one in seen].count("press") >= 6
