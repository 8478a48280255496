"""The trade's facts, case by case from trade_facts.toml. All are common practice or from memory, none is published."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from relearn.procedures.loader import procedure
from relearn.procedures.plan import plan
from relearn.procedures.say import by_eye, measured
from relearn.procedures.sheets import generic
from relearn.procedures.standing import standing_text
from relearn.procedures.steps import planned_steps

CASES: dict[str, list[dict[str, Any]]] = tomllib.loads(
    Path(__file__).with_name("trade_facts.toml").read_text(encoding="utf-8")
)


@pytest.mark.parametrize("case", CASES["fact"], ids=lambda case: case["key"])
def test_generic_number_and_its_standing(case: dict[str, Any]) -> None:
    limits = generic().need(case["key"])
    assert limits.describe() == case["words"]
    assert limits.standing == standing_text(case["standing"])


@pytest.mark.parametrize("case", CASES["event"], ids=lambda case: case["after"])
def test_event_asks_for_these_relearns_in_this_order(case: dict[str, Any]) -> None:
    assert [relearn.id for relearn in plan([case["after"]], generic()).relearns] == case["relearns"]


@pytest.mark.parametrize("case", CASES["order"], ids=lambda case: case["relearn"])
def test_relearn_comes_after_these(case: dict[str, Any]) -> None:
    job = plan(["reprogrammed"], generic())
    mine = next(relearn for relearn in job.relearns if relearn.id == case["relearn"])
    assert [line.id for line in mine.comes_after] == case["after"]


@pytest.mark.parametrize("case", CASES["preconditions"], ids=lambda case: case["relearn"])
def test_measured_preconditions(case: dict[str, Any]) -> None:
    found = {row.id: row.limits for row in measured(procedure(case["relearn"]), generic())}
    if "pedal-released" in found:
        found["pedal-released"] = ""  # its sentence has a test of its own
    assert found == case["measured"]


@pytest.mark.parametrize("case", CASES["preconditions"], ids=lambda case: case["relearn"])
def test_preconditions_by_eye(case: dict[str, Any]) -> None:
    texts = [line.text for line in by_eye(procedure(case["relearn"]), generic())]
    assert len(texts) == len(case["by_eye"])
    for text, words in zip(texts, case["by_eye"], strict=True):
        assert words in text


@pytest.mark.parametrize("case", CASES["timings"], ids=lambda case: case["group"])
def test_timings_of_the_steps_and_their_standing(case: dict[str, Any]) -> None:
    timed = [step for step in planned_steps(case["group"], generic()) if step.numbers]
    assert [{number.name: number.value for number in step.numbers} for step in timed] == case["numbers"]
    assert {number.standing for step in timed for number in step.numbers} == {standing_text(case["standing"])}


@pytest.mark.parametrize("case", CASES["said"], ids=lambda case: case["part"])
def test_what_is_said_around_a_write(case: dict[str, Any]) -> None:
    said = " ".join(line.text for line in getattr(plan(["reprogrammed"], generic()).programming, case["part"]))
    assert [words for words in case["words"] if words not in said] == []
