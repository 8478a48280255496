"""What a fresh interpreter has imported after a command: what the command does not need stays out.

Looks at `sys.modules`, never at the clock; tests/benchmarks/startup.py measures.
"""

import json
import subprocess
import sys

import pytest

from tests.cli.run import CAPTURES

COMMAND = """
import contextlib, io, json, sys
sys.argv = ["relearn", *sys.argv[1:]]
from relearn.cli import main
with contextlib.suppress(SystemExit), contextlib.redirect_stdout(io.StringIO()):
    main()
print(json.dumps(sorted(sys.modules)))
"""
PAGES = {"html", "jinja2", "matplotlib", "PIL", "typst"}
READERS = {"asammdf", "can", "cantools"}
READY = ("ready", str(CAPTURES / "demo-ready-idle.log"), "--for", "idle-air-volume", "--sheet", "demo-car")


def imported(code: str, *words: str) -> set[str]:
    """The modules of a fresh interpreter after the code: those of relearn, and of all others the package's name."""
    ran = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, check=True)
    names = json.loads(ran.stdout.splitlines()[-1])
    return {name if name.startswith("relearn") else name.partition(".")[0] for name in names}


def test_import_relearn_alone_imports_no_library() -> None:
    found = imported("import json, sys, relearn; print(json.dumps(sorted(sys.modules)))")
    assert {name for name in found if name.startswith("relearn")} == {"relearn"}
    assert found.isdisjoint({"click", "numpy", "pandas", "pydantic", "rich"})


@pytest.mark.parametrize("words", [("--help",), ("--version",), ("ready", "--help")], ids=" ".join)
def test_help_imports_click_and_little_else(words: tuple[str, ...]) -> None:
    found = imported(COMMAND, *words)
    assert "click" in found
    assert found.isdisjoint({"numpy", "pandas", "pydantic", "rich", "scipy", *PAGES, *READERS})
    assert {name for name in found if name.startswith("relearn.")} <= {
        "relearn.cli",
        "relearn.cli.ready",
        "relearn.cli.shared",
        "relearn.errors",
    }


@pytest.fixture(scope="module")
def after_ready() -> set[str]:
    return imported(COMMAND, *READY)


def test_ready_fits_no_curve_makes_no_table_and_writes_no_page(after_ready: set[str]) -> None:
    assert {"numpy", "pydantic", "rich", "relearn.analysis.ready"} <= after_ready
    assert after_ready.isdisjoint({"pandas", "scipy", *PAGES, *READERS})


def test_ready_knows_no_other_questions_documents_and_pages(after_ready: set[str]) -> None:
    """`answers` holds the judging questions together; `base` is what all documents are made of."""
    of = {
        room: {name for name in after_ready if name.startswith(f"relearn.{room}.")} for room in ("findings", "analysis")
    }
    assert of["findings"] == {"relearn.findings.answers", "relearn.findings.base"}
    assert of["analysis"] == {"relearn.analysis.common", "relearn.analysis.ready"}
    pages = {name for name in after_ready if name.startswith("relearn.report.text.")}
    assert pages == {"relearn.report.text.answers", "relearn.report.text.parts"}
    assert after_ready.isdisjoint({"relearn.library", "relearn.export", "relearn.report.html", "relearn.report.plots"})


def test_an_idle_is_judged_without_the_large_libraries() -> None:
    found = imported(COMMAND, "settle", str(CAPTURES / "hunting.log"), "--sheet", "demo-car")
    assert "relearn.checks.hunting" in found
    assert found.isdisjoint({"pandas", "scipy", *PAGES, *READERS})


def test_a_cold_engine_has_its_curve_fitted() -> None:
    """The other side of it: scipy is there where it is used."""
    assert "scipy" in imported(COMMAND, "ready", str(CAPTURES / "cold.log"), "--for", "idle-air-volume")
