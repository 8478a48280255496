"""README.md against the program itself."""

import re

import pytest

from relearn.cli import COMMANDS
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
