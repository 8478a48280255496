"""What a recorder asks for is what the checks read: every name that a check looks up is noted and held against it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from relearn.analysis.common import engine_module, view
from relearn.analysis.settle import target
from relearn.analysis.steps import course
from relearn.analysis.wanted import wanted
from relearn.bus.pace import paces
from relearn.channels import Channel
from relearn.checks.air import air
from relearn.checks.compare import compare
from relearn.checks.ready import ready
from relearn.checks.settle import settle
from relearn.checks.steps import steps
from relearn.checks.supply import source
from relearn.checks.view import View
from relearn.errors import ChoiceError
from relearn.j1979.table import signals
from relearn.procedures.loader import procedure, procedures
from relearn.procedures.models import AFTER_WRITE
from relearn.procedures.sheets import generic, load_sheet, sheet_path
from relearn.recording import read

CAPTURES = Path(__file__).parents[2] / "captures"
SHEET = load_sheet(sheet_path("demo-car"))


class Noted(Mapping[str, Channel]):
    """Channels that note which of them is looked up."""

    def __init__(self, channels: Mapping[str, Channel]) -> None:
        self.channels, self.names = channels, set[str]()

    def __getitem__(self, name: str) -> Channel:
        self.names.add(name)
        return self.channels[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.channels)

    def __len__(self) -> int:
        return len(self.channels)

    def values(self) -> object:  # type: ignore[override]  # any channel will do: nothing is looked up by name
        return self.channels.values()


def noted(capture: str) -> tuple[View, Noted]:
    recording = read(CAPTURES / capture)
    seen = view(recording, engine_module(recording, None))
    channels = Noted(seen.channels)
    return replace(seen, channels=channels), channels


def in_table(names: set[str]) -> set[str]:
    return names & set(signals())


@pytest.mark.parametrize("relearn", list(procedures()))
@pytest.mark.parametrize("capture", ["steps-idle-right.log", "demo-after.log", "steps-pedal-right.log"])
def test_all_that_ready_and_steps_read_is_wanted(relearn: str, capture: str) -> None:
    seen, channels = noted(capture)
    ready(seen, procedure(relearn).preconditions, SHEET, 10.0)
    walked = course(relearn, SHEET)
    if walked.steps:  # of a relearn whose steps are all seen by eye nothing is read
        steps(seen, walked, SHEET, ())
    assert channels.names
    assert in_table(channels.names) <= set(wanted(relearn, SHEET))


def test_all_that_an_idle_is_judged_by_is_wanted_for_the_relearn_that_ends_in_one() -> None:
    seen, channels = noted("demo-after.log")
    settle(seen, SHEET, target(SHEET))
    compare(seen, seen, SHEET, target(SHEET))
    assert "timing_advance" in channels.names
    assert in_table(channels.names) <= set(wanted("idle-air-volume", SHEET))


def test_all_that_any_question_reads_has_a_pace_and_nothing_else_has() -> None:
    """The captures are those in which a question gets furthest."""
    read_by_any = set[str]()
    for capture in ("air-leak.log", "steps-idle-right.log"):
        seen, channels = noted(capture)
        air(seen, SHEET)
        source(channels)
        for relearn in procedures():
            ready(seen, procedure(relearn).preconditions, SHEET, 10.0)
        read_by_any |= channels.names
    assert in_table(read_by_any) <= set(wanted(None, SHEET))
    assert set(paces()) == set(wanted(None, SHEET))


def test_a_relearn_with_the_engine_off_wants_no_trims() -> None:
    assert "short_term_fuel_trim_bank_1" not in wanted("throttle-closed-position", generic())
    assert "engine_speed" in wanted(AFTER_WRITE, generic())


def test_an_unknown_relearn_is_refused() -> None:
    with pytest.raises(ChoiceError, match="there are no steps of 'nothing'"):
        wanted("nothing", generic())
