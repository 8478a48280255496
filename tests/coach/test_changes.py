"""Lines and bells: one for each change, none for what only counts on."""

from __future__ import annotations

from relearn.coach.changes import held, lines, moments
from relearn.findings.advice import HeldRow
from tests.coach.car import IDLE, PEDAL, THROTTLE, advised, standing

STEPS = "steps-idle-right.log"


def test_time_that_goes_by_is_no_line_and_no_bell() -> None:
    where = standing(STEPS, IDLE, "steps", 15.0)
    before, after = (advised(STEPS, at_s, where) for at_s in (57.0, 59.0))
    assert lines(before, after) == () and moments(before, after) == ()


def test_the_moments_that_matter_ring() -> None:
    where = standing(STEPS, IDLE, "steps", 15.0)
    late = "steps-idle-late-release.log"
    holding, release = (advised(late, at_s, standing(late, IDLE, "steps", 15.0)) for at_s in (66.0, 68.0))
    assert moments(holding, release) == (release.say,)
    waiting, reached = advised(STEPS, 45.0, where), advised(STEPS, 46.55, where)
    assert moments(waiting, reached) == (reached.say,)
    lost = advised(STEPS, 62.0, where, heard_until_s=58.0)
    assert moments(holding, lost) == (lost.stopped,) and moments(lost, lost) == ()
    assert moments(lost, release)[0] == "answers come again"
    wrong = advised("steps-idle-four-presses.log", 50.0, standing("steps-idle-four-presses.log", IDLE, "steps", 15.0))
    assert "too few" in moments(holding, wrong)[0]


def test_ready_and_settled_ring() -> None:
    cold, ready = (
        advised(name, at_s, standing(name, IDLE)) for name, at_s in (("cold.log", 160.0), ("demo-ready-idle.log", 90.0))
    )
    assert moments(cold, ready) == ("getting ready: YES",)


def test_a_stage_opens_with_what_it_does_not_do_and_its_cautions() -> None:
    said = lines(None, advised("cold.log", 160.0, standing("cold.log", IDLE)))
    assert said[1].startswith("This program only reads.")
    assert len([one for one in said if one.startswith("caution: ")]) == 7
    assert said[-1].startswith("> Not ready: coolant warm")


def test_a_precondition_in_a_line_has_its_verdict_as_a_word() -> None:
    row = HeldRow(
        id="coolant-warm",
        text="coolant warm",
        verdict="no",
        value=62.0,
        unit="°C",
        limits=(80.0, 100.0),
        low_open=False,
        margin=-18.0,
        trend_per_min=4.12,
        reason="62 °C is not 80 to 100 °C",
        standing="",
    )
    assert held(row) == "NO  coolant warm: 62 °C, asked 80 to 100 °C, margin -18 °C, +4.1 °C/min"


def followed(name: str, relearn: str, since_s: float, from_s: float, to_s: float) -> list[str]:
    """What rings, looked at twice a second."""
    where, rung = standing(name, relearn, "steps", since_s), []
    before = advised(name, from_s, where)
    for half in range(int(2 * (to_s - from_s))):
        after = advised(name, from_s + (half + 1) / 2, where)
        rung += moments(before, after)
        before = after
    return rung


def test_every_end_of_a_step_rings_and_says_what_is_next() -> None:
    """Off at 14 s, on at 27 s, off at 31 s; 10 s off and 2 s on are asked (the scenario, the procedure)."""
    rung = followed("steps-pedal-right.log", PEDAL, 0.5, 14.0, 32.0)
    assert [one.split(",")[0] for one in rung] == [
        "Now: Switch the ignition on again without starting",
        "Now: Switch the ignition off and leave it off for 10 s or more.",
    ]
    assert "Wait 7 s with the pedal released." in followed(STEPS, IDLE, 15.0, 38.0, 40.0)


def test_one_fault_rings_once_however_its_numbers_go_on() -> None:
    """The engine is started at 15 s and its speed rises (the scenario)."""
    rung = followed("steps-throttle-engine-started.log", THROTTLE, 1.0, 14.0, 20.0)
    assert len([one for one in rung if "the engine was started" in one]) == 1
