"""The packaged data against its own rules: here what the loader cannot see, in test_loader what it refuses."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest

from relearn.procedures.facts import fact_rows
from relearn.procedures.loader import PRECONDITION_CHECKS, catalogue, procedures
from relearn.procedures.packaged import DATA
from relearn.procedures.sheets import generic

FILES = [*(DATA / "relearns").glob("*.toml"), DATA / "events.toml", DATA / "programming.toml", DATA / "cautions.toml"]


def said(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        for key, child in node.items():
            yield from [child] if key in ("text", "because", "otherwise", "how", "title") else said(child)
    elif isinstance(node, list):
        for child in node:
            yield from said(child)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_number_hides_in_a_text(path: Any) -> None:
    texts = list(said(tomllib.loads(path.read_text(encoding="utf-8"))))
    assert texts
    assert [text for text in texts if any(letter.isdigit() for letter in text)] == []


def test_every_event_asks_for_at_least_one_relearn() -> None:
    asked = {row.event for procedure in procedures().values() for row in procedure.needed_after}
    assert asked == set(catalogue().events)


def test_every_caution_is_said_somewhere() -> None:
    named = {name for procedure in procedures().values() for name in procedure.cautions}
    assert named == {caution.id for caution in catalogue().cautions.values() if not caution.general}


def test_every_way_to_check_is_used() -> None:
    used = {row.check for procedure in procedures().values() for row in procedure.preconditions}
    assert used == set(PRECONDITION_CHECKS)


def test_every_precondition_has_its_limit_without_a_vehicle_sheet() -> None:
    keys = {row.limits for procedure in procedures().values() for row in procedure.preconditions if row.limits}
    assert keys and all(generic().limits(key) is not None for key in keys)


def test_the_generic_sheet_claims_nothing_that_only_a_vehicle_has() -> None:
    without = set(fact_rows()) - set(generic().facts)
    assert without >= {
        "idle.target_rpm",
        "idle.ignition_timing_deg",
        "idle.throttle_position_percent",
        "engine.displacement_l",
        "engine.volumetric_efficiency_idle_percent",
        "engine.volumetric_efficiency_2500_percent",
        "pedal.released_percent",
        "vehicle.vin",
    }


def test_every_generic_number_says_itself_where_it_comes_from() -> None:
    standings = [fact.standing for fact in generic().facts.values()]
    assert all(standings) and not [standing for standing in standings if "vehicle sheet" in standing]
