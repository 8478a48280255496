"""The demo car's idle before and after its idle relearn: the engine model was made to idle high until then."""

import json
from pathlib import Path

import pytest

from relearn.findings.base import to_json
from relearn.findings.reading import from_json
from tests.cli.run import CAPTURES, relearn

BEFORE, AFTER = CAPTURES / "demo-ready-idle.log", CAPTURES / "demo-after.log"


def asked(*words: object) -> dict[str, dict[str, object]]:
    document = json.loads(relearn("compare", *words, "--json").out)
    return {one["id"]: one for one in (*document["readings"], *document["states"])} | {"document": document}


def test_the_idle_falls_and_what_fell_with_it_is_named() -> None:
    rows = asked(BEFORE, AFTER, "--sheet", "demo-car")
    speed = rows["engine_speed"]
    assert speed["before"]["mean"] == pytest.approx(715, abs=3)  # type: ignore[index]
    assert speed["after"]["mean"] == pytest.approx(650, abs=3)  # type: ignore[index]
    changed = {name for name, row in rows.items() if row.get("changed") == "yes"}
    assert {"engine_speed", "throttle_position", "mass_air_flow", "ignition_timing"} <= changed
    assert rows["trim_sum_bank_1"]["changed"] == rows["malfunction_lamp"]["changed"] == "no"


def test_it_judges_nothing_and_exits_0() -> None:
    ran = relearn("compare", BEFORE, AFTER)
    assert ran.code == 0
    assert "verdict" not in json.loads(relearn("compare", BEFORE, AFTER, "--json").out)


def test_the_document_reads_back_unchanged() -> None:
    ran = relearn("compare", BEFORE, AFTER, "--json")
    assert ran.err == ""
    assert to_json(from_json(ran.out)) == ran.out


@pytest.mark.parametrize("pair", [(BEFORE, AFTER), (CAPTURES / "stall.log", CAPTURES / "lamp-on.log")])
def test_the_page_fits_80_columns(pair: tuple[object, object]) -> None:
    assert max(len(line) for line in relearn("compare", *pair).out.splitlines()) <= 80


def test_a_code_and_the_lamp_are_gained() -> None:
    rows = asked(CAPTURES / "demo-before.log", CAPTURES / "lamp-on.log")
    assert (rows["malfunction_lamp"]["before"], rows["malfunction_lamp"]["after"]) == ("off", "on")
    stored = next(one for one in rows["document"]["codes"] if one["kind"] == "stored")  # type: ignore[attr-defined]
    assert (stored["before"], stored["gained"], stored["lost"]) == ([], ["P0113"], [])
    states = {one["changed"] for one in rows["document"]["monitors"]}  # type: ignore[attr-defined]
    assert "yes" in states


def test_a_capture_without_an_idle_leaves_its_side_empty() -> None:
    ran = relearn("compare", CAPTURES / "demo-ready-pedal.log", AFTER)
    assert ran.code == 0
    assert "before: no idle lasted long enough" in ran.out
    rows = asked(CAPTURES / "demo-ready-pedal.log", AFTER)
    assert rows["engine_speed"]["before"] is None and rows["engine_speed"]["changed"] == "cannot tell"


def test_another_car_is_said(tmp_path: Path) -> None:
    """The last consecutive frame of the VIN ends in D000001 (ISO 15765-2); in the other car's, in D000002."""
    other = tmp_path / "other.log"
    text = AFTER.read_text(encoding="ascii")
    assert "2244303030303031" in text
    other.write_text(text.replace("2244303030303031", "2244303030303032"), encoding="ascii")
    said = "not the same car: VIN 30ZDEML28TD000001 before, 30ZDEML28TD000002 after"
    assert said in json.loads(relearn("compare", BEFORE, other, "--json").out)["notes"]
    assert json.loads(relearn("compare", BEFORE, AFTER, "--json").out)["notes"] == []


def test_a_missing_file_is_one_sentence() -> None:
    ran = relearn("compare", BEFORE, CAPTURES / "gone.log")
    assert (ran.code, ran.out) == (2, "")
    assert "gone.log" in ran.err
