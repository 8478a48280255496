"""relearn as a library answers as the command line does, with the same frozen documents."""

import ast
import pkgutil
from collections.abc import Callable
from pathlib import Path
from typing import get_type_hints

import pandas as pd
import pydantic
import pytest

import relearn
from relearn import library
from relearn.findings.base import Document, to_json
from tests.cli.run import CAPTURES
from tests.cli.run import relearn as command

BEFORE, AFTER, IDLE = (CAPTURES / f"demo-{name}.log" for name in ("before", "after", "ready-idle"))
PEDAL, SUPPLY = CAPTURES / "steps-pedal-right.log", CAPTURES / "sagging-supply.csv"
SHEET = ("--sheet", "demo-car")
LEARNS_PEDAL = "accelerator-closed-position"

ASKED: dict[str, tuple[Callable[[], Document], tuple[object, ...]]] = {
    "plan": (lambda: relearn.plan(["reprogrammed"], "demo-car"), ("plan", "--after", "reprogrammed", *SHEET)),
    "show": (lambda: relearn.show(AFTER), ("show", AFTER)),
    "ready": (
        lambda: relearn.ready(IDLE, "idle-air-volume", "demo-car"),
        ("ready", IDLE, "--for", "idle-air-volume", *SHEET),
    ),
    "steps": (lambda: relearn.steps(PEDAL, LEARNS_PEDAL), ("steps", PEDAL, "--for", LEARNS_PEDAL)),
    "settle": (lambda: relearn.settle(AFTER, "demo-car"), ("settle", AFTER, *SHEET)),
    "supply": (lambda: relearn.supply(SUPPLY), ("supply", SUPPLY)),
    "identity": (
        lambda: relearn.identity(BEFORE, AFTER, "DEMO-ENG20A-0203"),
        ("identity", BEFORE, AFTER, "--expect", "DEMO-ENG20A-0203"),
    ),
    "air": (lambda: relearn.air(AFTER, "demo-car"), ("air", AFTER, *SHEET)),
    "compare": (lambda: relearn.compare(IDLE, AFTER, "demo-car"), ("compare", IDLE, AFTER, *SHEET)),
}


@pytest.mark.parametrize("question", ASKED)
def test_each_question_has_the_command_lines_answer(question: str) -> None:
    ask, words = ASKED[question]
    found = ask()
    assert to_json(found) == command(*words, "--json").out
    assert type(found) is get_type_hints(getattr(library, question))["return"]


def test_the_names_offered_are_those_of_the_library_and_no_room_hides_one() -> None:
    """A submodule of the same name would take a function's place as soon as it is imported."""
    assert set(relearn.__all__) == {*library.__all__, "__version__"}
    assert all(getattr(relearn, name) is getattr(library, name) for name in library.__all__)
    assert set(library.__all__) <= set(dir(relearn))
    assert set(library.__all__).isdisjoint(room.name for room in pkgutil.iter_modules(relearn.__path__))
    with pytest.raises(AttributeError, match="no attribute 'oil_change'"):
        relearn.oil_change  # noqa: B018


def test_findings_are_frozen() -> None:
    found = relearn.settle(AFTER, "demo-car")
    with pytest.raises(pydantic.ValidationError, match="frozen"):
        found.verdict = "no"


def test_a_capture_by_path_by_text_and_read_once_are_one_answer() -> None:
    loaded = relearn.load(AFTER)
    assert relearn.air(str(AFTER)) == relearn.air(AFTER) == relearn.air(loaded)


def test_a_sheet_by_name_by_path_and_as_an_object_are_one_answer() -> None:
    by_name = relearn.load_sheet("demo-car")
    packaged = Path(library.sheets.__file__).parent / "data" / "sheets" / "demo-car.toml"
    assert relearn.load_sheet(packaged) == relearn.load_sheet(str(packaged)) == relearn.load_sheet(by_name) == by_name
    assert relearn.load_sheet(None) != by_name


def test_a_target_given_by_the_caller_comes_before_the_sheets() -> None:
    loaded = relearn.load(AFTER)
    assert relearn.settle(loaded).verdict == "cannot tell"
    found = relearn.settle(loaded, "demo-car", target_rpm=800, tolerance_rpm=20)
    assert (found.verdict, found.target_rpm, found.tolerance_rpm) == ("no", 800, 20)
    assert "given by the caller" in found.target_standing


def test_database_and_map_are_given_to_load() -> None:
    examples = CAPTURES.parent / "dbc_examples"
    loaded = relearn.load(
        CAPTURES / "passive-broadcast.log",
        database=examples / "broadcast.dbc",
        mapping=str(examples / "broadcast-map.toml"),
    )
    assert relearn.settle(loaded, "demo-car").verdict == "yes"


def test_channels_are_pandas_series_over_time_with_their_unit() -> None:
    loaded = relearn.load(CAPTURES / "two-modules.log")
    speed = relearn.series(loaded)["engine_speed"]
    rows = loaded.samples.query("module == '7E8' and channel == 'engine_speed'")
    assert (speed.name, speed.index.name, speed.attrs) == ("engine_speed", "time_s", {"unit": "rpm", "module": "7E8"})
    assert speed.index.tolist() == rows["time_s"].tolist()
    assert speed.tolist() == rows["value"].tolist()
    other = relearn.series(loaded, module="7E9")
    assert "engine_speed" not in other
    assert other["coolant_temperature"].attrs == {"unit": "°C", "module": "7E9"}


def test_what_cannot_be_used_is_one_error() -> None:
    for deed in (lambda: relearn.load("nowhere.log"), lambda: relearn.load_sheet("nowhere.toml")):
        with pytest.raises(relearn.RelearnError, match="nowhere"):
            deed()
    with pytest.raises(relearn.RelearnError, match="oil-change"):
        relearn.ready(IDLE, "oil-change")


@pytest.mark.parametrize(
    "deed",
    [
        lambda: relearn.load(None),
        lambda: relearn.load(AFTER, database=5),
        lambda: relearn.settle(AFTER, sheet=5),
        lambda: relearn.plan("reprogrammed"),
        lambda: relearn.plan(5),
        lambda: relearn.steps(PEDAL, [LEARNS_PEDAL]),
        lambda: relearn.air(AFTER, module=7),
        lambda: relearn.identity(BEFORE, AFTER, 203),
        lambda: relearn.write_samples(AFTER, None),
        lambda: relearn.supply(SUPPLY, low_v="12"),
    ],
)
def test_what_no_question_takes_is_a_plain_sentence(deed: Callable[[], object]) -> None:
    with pytest.raises(relearn.RelearnError, match=r"not as .*; |must be a number"):
        deed()


def test_a_window_given_by_the_caller_comes_before_the_sheets() -> None:
    found, own = relearn.supply(SUPPLY, low_v=10.0), relearn.supply(SUPPLY)
    assert found.limits == (10.0, own.limits[1])
    assert "given by the caller" in found.standing and own.standing in found.standing
    assert len(own.sags) > 0 == len(relearn.supply(SUPPLY, low_v=10.0, high_v=16.0).sags)


def test_a_type_checker_sees_the_names_of_the_library_and_no_others() -> None:
    """What stands below TYPE_CHECKING, and only that, is seen by a type checker; py.typed tells it to look. A
    __getattr__ that it saw would make every misspelt name one of ours."""
    package = Path(relearn.__file__)
    tree = ast.parse(package.read_text(encoding="utf-8"))
    (choice,) = (node for node in tree.body if isinstance(node, ast.If))
    assert ast.unparse(choice.test) == "TYPE_CHECKING"
    assert [ast.unparse(node) for node in choice.body] == ["from relearn.library import *"]
    assert not [node for node in tree.body if isinstance(node, ast.FunctionDef)]
    assert package.with_name("py.typed").is_file()


def test_all_names_at_once() -> None:
    names: dict[str, object] = {}
    exec("from relearn import *", names)
    assert names.keys() >= set(relearn.__all__)


def test_equal_findings_are_one_key() -> None:
    """show has mappings inside, whose order is none of their meaning."""
    found = relearn.show(AFTER)
    turned = found.model_copy(update={"monitors": dict(reversed(found.monitors.items()))})
    assert found.monitors and {found, relearn.show(AFTER), turned} == {found}
    assert len({ask() for ask, _ in ASKED.values()}) == len(ASKED)


def test_series_and_files_are_those_of_the_capture_whatever_is_done_to_samples(tmp_path: Path) -> None:
    loaded = relearn.load(SUPPLY)
    table = loaded.samples
    table["value"] = 0.0
    assert relearn.series(loaded)["battery_voltage"].max() > 12
    relearn.write_samples(loaded, tmp_path / "out.csv")
    assert pd.read_csv(tmp_path / "out.csv")["value"].max() > 12
