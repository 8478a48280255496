"""What happened in a recording, as its scenario made it happen."""

from pathlib import Path

import pytest

from relearn.analysis.marks import marks
from relearn.procedures.sheets import generic
from relearn.recording import read

CAPTURES = Path(__file__).parents[2] / "captures"
RUNNING = "demo-before.log"  # started at 8 s, then a warm idle to its end at 75 s


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


def test_an_engine_that_is_stopped_by_the_key_is_told_once() -> None:
    """The scenario of the right steps: started, warm, ignition off at 20 s and on again, five presses and the hold."""
    seen = [one.text for one in marks(read(CAPTURES / "steps-idle-right.log"), generic()) if one.kind != "press"]
    assert seen[:3] == ["start", "ignition off", "ignition on"]


def test_presses() -> None:
    """Five presses and the long one, as the scenario of the right steps has them."""
    seen = marks(read(CAPTURES / "steps-idle-right.log"), generic())
    assert [one.kind for one in seen].count("press") >= 6


def silenced(name: str, from_s: float, to_s: float, out: Path) -> Path:
    """The same questions, in vain from one moment to another: a plug that was pulled, and put in again."""
    lines = (CAPTURES / name).read_text(encoding="ascii").splitlines()
    times_s = [float(line.partition(")")[0].strip("(")) for line in lines]
    kept = [
        line
        for time_s, line in zip(times_s, lines, strict=True)
        if " 7E8#" not in line or not from_s <= time_s - times_s[0] < to_s
    ]
    out.write_text("\n".join([*kept, ""]), encoding="ascii")
    return out


@pytest.mark.parametrize("back_s", [50.0, 1e9])
def test_a_silence_while_the_engine_runs_is_no_ignition_that_was_switched(back_s: float, tmp_path: Path) -> None:
    seen = marks(read(silenced(RUNNING, 30.0, back_s, tmp_path / "silent.log")), generic())
    assert [one.text for one in seen] == ["start"]


def test_a_silence_while_the_engine_stands_is(tmp_path: Path) -> None:
    """At 50 s the engine of stall.log stands since 32 s and its module answers still."""
    seen = marks(read(silenced("stall.log", 45.0, 52.0, tmp_path / "silent.log")), generic())
    assert [one.text for one in seen] == ["start", "stalled", "ignition off", "ignition on"]


def test_an_engine_that_stands_after_a_silence_was_switched_off(tmp_path: Path) -> None:
    """The engine of stall.log runs at 20 s, and stands at 40 s."""
    seen = marks(read(silenced("stall.log", 20.0, 40.0, tmp_path / "silent.log")), generic())
    assert [one.text for one in seen] == ["start", "ignition off", "ignition on"]
