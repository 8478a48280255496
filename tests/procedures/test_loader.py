"""Procedure data that does not hold together is refused with file and key. Each case is one edit of good data."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from relearn.errors import ChoiceError, ProcedureError
from relearn.procedures import facts
from relearn.procedures.loader import load, procedure, procedures
from relearn.procedures.packaged import DATA

IDLE = "relearns/idle-air-volume.toml"
PEDAL = "relearns/accelerator-closed-position.toml"

BROKEN = [
    (IDLE, 'how = "By', 'howto = "By', "how"),
    (IDLE, 'check = "pedal-released"', 'check = "pedal-realeased"', "precondition.pedal-released.check"),
    (IDLE, 'channel = "coolant_temperature"', 'channel = "coolant"', "precondition.coolant-warm.channel"),
    (IDLE, 'channel = "coolant_temperature"\n', "", "precondition.coolant-warm"),
    (IDLE, 'limits = "warm.coolant_c"', 'limits = "warm.coolant_f"', "precondition.coolant-warm.limits"),
    (IDLE, 'limits = "warm.coolant_c"', 'limits = "vehicle.vin"', "precondition.coolant-warm.limits"),
    (IDLE, 'limits = "warm.coolant_c"', 'limits = "engine.off_rpm"', "precondition.coolant-warm"),
    (IDLE, 'id = "throttle-closed-position"', 'id = "throttle-open-position"', "comes_after"),
    (IDLE, 'event = "reprogrammed"', 'event = "programmed"', "needed_after"),
    (IDLE, 'event = "reprogrammed"', 'event = "module-replaced"', "needed_after"),
    (IDLE, '"exhaust"', '"exhausts"', "cautions"),
    (IDLE, "numbers = { about_s = 7 }", "numbers = { about_m = 7 }", "step.wait.numbers"),
    (IDLE, "numbers = { about_s = 7 }", "numbers = { about_s = -7 }", "step.wait.numbers.about_s"),
    (IDLE, "numbers = { about_s = 7 }", 'numbers = { about_s = "7" }', "step.3.numbers.about_s"),
    (IDLE, "numbers = { about_s = 7 }", "numbers = { about_s = nan }", "step.3.numbers.about_s"),
    (IDLE, "numbers = { about_s = 7 }", "numbers = { about_s = 7, at_most_s = 8 }", "step.wait.text"),
    (IDLE, "Wait {about_s}", "Wait {about_min}", "step.wait.text"),
    (IDLE, "{window.transmission_warm_min}", "{window.gearbox_min}", "by_eye.transmission-warm.text"),
    (IDLE, 'id = "blower-off"', 'id = "lamps-off"', "by_eye"),
    (IDLE, 'around = ["idle.target_rpm",', 'around = ["warm.coolant_c",', "afterwards.idle-speed"),
    (IDLE, 'id = "idle-air-volume"', 'id = "idle-air"', "id"),
    (IDLE, 'standing = "CM"\ncautions', 'standing = "X"\ncautions', "standing"),
    (IDLE, 'standing = "CM"\ncautions', "cautions", "standing"),
    (PEDAL, 'shows = ["ignition-on"]', 'shows = ["ignition"]', "step.first-on.shows"),
    (PEDAL, 'keeps = ["engine-off",', 'keeps = ["ignition-on",', "step.first-on.keeps"),
    (IDLE, 'shows = ["pedal-presses"]', 'shows = ["pedal-held"]', "step.presses.shows"),
    (
        IDLE,
        'shows = ["pedal-released-after"]\nafter = "hold"',
        'shows = ["pedal-released-after"]',
        "step.release.after",
    ),
    (IDLE, 'after = "hold"', 'after = "start"', "step.release.after"),
    (IDLE, 'shows = ["engine-starts"]', 'shows = ["engine-starts", "engine-starts"]', "step.start.shows"),
    (IDLE, 'shows = ["engine-idles"]', 'shows = ["engine-starts"]', "step.idle.numbers.at_least_s"),
    (IDLE, 'shows = ["revved"]\n', "", "step.rev.keeps"),
    (IDLE, 'id = "still-off"', 'id = "supply"', "precondition"),
    (IDLE, 'limits = "supply.engine_off_v"', 'limits = "supply.off_v"', "during.supply-engine-off.limits"),
    ("programming.toml", 'after = "ignition-off"', 'after = "confirm"', "after_write.confirm.after"),
    ("programming.toml", 'events = ["module-replaced"]', 'events = ["replaced"]', "have_ready.vin.events"),
    ("programming.toml", "{supply.steady_s}", "{relearns}", "while_writing.steady.text"),
    ("programming.toml", "at_least_s = 60", "at_least_s = 6000", "after_write.ignition-off.numbers.at_least_s"),
    ("events.toml", "writes_module = true", 'writes_module = "maybe"', "event.0.writes_module"),
    ("events.toml", 'id = "module-replaced"', 'id = "reprogrammed"', "reprogrammed"),
    ("cautions.toml", "\ngeneral = true", "\ngenerally = true", "caution.0.generally"),
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DATA, tmp_path / "data"))


@pytest.mark.parametrize(("name", "old", "new", "key"), BROKEN, ids=[case[2].strip()[:40] for case in BROKEN])
def test_an_edit_that_breaks_it_is_named(folder: Path, name: str, old: str, new: str, key: str) -> None:
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ProcedureError) as refused:
        load(folder)
    assert Path(str(refused.value.path)) == path
    assert key in str(refused.value.key)
    assert "\n" not in str(refused.value)


def test_an_order_that_runs_in_a_circle_is_named(folder: Path) -> None:
    text = (folder / PEDAL).read_text(encoding="utf-8")
    (folder / PEDAL).write_text(text.replace('id = "vin-write"', 'id = "idle-air-volume"'), encoding="utf-8")
    with pytest.raises(ProcedureError, match=r"a circle: .* before .*"):
        load(folder)


def test_a_missing_file_and_a_file_that_is_not_toml(folder: Path) -> None:
    (folder / "events.toml").write_text("= what", encoding="utf-8")
    with pytest.raises(ProcedureError, match=r"events\.toml: this is not a readable TOML file"):
        load(folder)
    (folder / "events.toml").unlink()
    with pytest.raises(ProcedureError, match=r"events\.toml: this is not a readable TOML file"):
        load(folder)


def test_another_relearn_is_another_file(folder: Path) -> None:
    text = (folder / PEDAL).read_text(encoding="utf-8")
    text = text.replace('id = "accelerator-closed-position"', 'id = "another"', 1)
    (folder / "relearns" / "another.toml").write_text(text, encoding="utf-8")
    assert set(load(folder).procedures) == set(procedures()) | {"another"}


def test_the_packaged_order() -> None:
    assert list(procedures()) == [
        "vin-write",
        "immobilizer-registration",
        "accelerator-closed-position",
        "throttle-closed-position",
        "idle-air-volume",
    ]


def test_an_unknown_relearn_names_the_known_ones() -> None:
    with pytest.raises(ChoiceError) as refused:
        procedure("idle-air")
    assert "idle-air-volume" in str(refused.value)


FACT_ROWS = """
[sections]
idle = "the idle"
[[fact]]
key = "idle.target_rpm"
unit = "rpm"
kind = "number"
allowed = [300, 2000]
text = "target"
[[step_number]]
name = "at_least_s"
unit = "s"
allowed = [1, 10]
text = "at least"
"""


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[300, 2000]", "[2000, 300]", "upside down"),
        ("allowed = [300, 2000]\n", "", "needs an allowed window"),
        ('kind = "number"', 'kind = "text"', "needs an allowed window"),
        ('kind = "number"', 'kind = "count"', "Input should be"),
        ('key = "idle.target_rpm"', 'key = "air.target_rpm"', "not among the sections"),
        ("[1, 10]", '["1", 10]', "valid number"),
        ('name = "at_least_s"', 'name = "at_least_s"\nextra = 1', "Extra inputs"),
    ],
)
def test_broken_rows_of_facts(tmp_path: Path, old: str, new: str, words: str) -> None:
    path = tmp_path / "sheet-keys.toml"
    path.write_text(FACT_ROWS, encoding="utf-8")
    assert facts.load(path).fact[0].key == "idle.target_rpm"
    path.write_text(FACT_ROWS.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ProcedureError, match=words):
        facts.load(path)


def test_a_fact_twice(tmp_path: Path) -> None:
    path = tmp_path / "sheet-keys.toml"
    row = FACT_ROWS[FACT_ROWS.index("[[fact]]") : FACT_ROWS.index("[[step_number]]")]
    path.write_text(FACT_ROWS + row, encoding="utf-8")
    with pytest.raises(ProcedureError, match=r"'idle\.target_rpm': stands twice"):
        facts.load(path)
