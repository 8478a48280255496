"""Every question asked of every demo capture answers what its making says (captures/expected.toml)."""

import json
import tomllib

import pytest

from tests.cli.run import CAPTURES, relearn

CASES = tomllib.loads((CAPTURES / "expected.toml").read_text(encoding="utf-8"))["expected"]


def name(case: dict[str, object]) -> str:
    return " ".join([str(case["command"]), *case["files"], *case["options"]])  # type: ignore[misc]


@pytest.mark.parametrize("case", CASES, ids=name)
def test_expected(case: dict[str, object], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(CAPTURES.parent)  # options name files from the project folder
    files = [CAPTURES / file for file in case["files"]]  # type: ignore[attr-defined]
    ran = relearn(case["command"], *files, *case["options"], "--json")  # type: ignore[misc]
    assert ran.verdict == case["verdict"], ran.out[:2000] + ran.err
    assert json.loads(ran.out)["verdict"] == case["verdict"]


def test_every_demo_capture_has_an_expectation() -> None:
    named = {file for case in CASES for file in case["files"]}
    present = {path.name for path in CAPTURES.iterdir() if path.suffix in (".log", ".csv", ".gz")}
    assert present - named == set()
