"""Standings in words, and numbers put into sentences."""

from __future__ import annotations

import pytest

from relearn.procedures.standing import is_standing, joined, standing_text
from relearn.procedures.wording import fill, places, quantity


@pytest.mark.parametrize(
    ("letters", "words"),
    [
        ("C", "common practice, no source"),
        ("M", "from memory, confirm in the vehicle's service information"),
        ("CM", "common practice, no source; from memory, confirm in the vehicle's service information"),
        ("P: SAE J1979", "published: SAE J1979"),
        ("read off the label", "read off the label"),
    ],
)
def test_standing_in_words(letters: str, words: str) -> None:
    assert is_standing(letters)
    assert standing_text(letters) == words


@pytest.mark.parametrize("nothing", ["", " ", "P", "P:", "X", "MC", "CMP"])
def test_no_standing(nothing: str) -> None:
    assert not is_standing(nothing)


def test_joined_says_each_once() -> None:
    assert joined(["C", "CM", "C"]) == standing_text("CM")


def test_places_and_filling() -> None:
    text = "off {at_least_s}, {supply.engine_off_v}"
    assert places(text) == ("at_least_s", "supply.engine_off_v")
    shown = {"at_least_s": "10 s", "supply.engine_off_v": "12 V or more"}
    assert fill(text, shown.__getitem__) == "off 10 s, 12 V or more"


@pytest.mark.parametrize(("value", "unit", "words"), [(20.0, "s", "20 s"), (0.5, "s", "0.5 s"), (5.0, "", "5")])
def test_quantity(value: float, unit: str, words: str) -> None:
    assert quantity(value, unit) == words
