"""README.md against the program itself."""

import re
import shlex
from pathlib import Path

import pytest

from relearn.cli import COMMANDS
from tests.cli.run import relearn
from tests.readme import BLOCK, README, refreshed

TEXT = README.read_text(encoding="utf-8")


def test_the_examples_are_real_output(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(README.parent)
    assert len(BLOCK.findall(TEXT)) >= 5
    assert refreshed(TEXT) == TEXT


def test_every_command_is_named() -> None:
    assert {name for name in COMMANDS if not re.search(rf"`?relearn {name}\b", TEXT)} == set()


def test_every_file_it_shows_is_there() -> None:
    links = re.findall(r"\]\(([^)]+)\)", TEXT)
    assert links
    assert all((README.parent / link).is_file() for link in links)


WALK = re.compile(r"^    (relearn (?:plan|jobs?) .*)$", re.MULTILINE)


def test_the_walk_through_a_whole_job_ends_in_a_yes(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Every command of the walk, as it stands there, in a folder of its own."""
    (tmp_path / "captures").symlink_to(README.parent / "captures")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RELEARN_BOOK", str(tmp_path / "book.sqlite"))
    commands = WALK.findall(TEXT)
    ran = {line: relearn(*shlex.split(line)[1:]) for line in commands}
    assert len(commands) >= 15
    assert {line: one.err for line, one in ran.items() if one.code != 0 and " job next" not in line} == {}
    assert all((tmp_path / f"demo-job.{kind}").stat().st_size > 10_000 for kind in ("html", "pdf"))
    assert "YES" in ran[commands[-1]].out
