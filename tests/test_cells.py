"""No text runs as a formula in a spreadsheet (OWASP, CSV injection), and guarded text can be had back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from relearn.cells import guarded, one_line, unguarded

FORMULAS = ("=", "+", "-", "@", "\t", "\r")  # the characters that OWASP names


@pytest.mark.parametrize(
    ("typed", "safe"),
    [
        ('=HYPERLINK("http://x")', '\'=HYPERLINK("http://x")'),
        ("+1", "'+1"),
        ("-1", "'-1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'=1"),
        ("\r\n=1", "'=1"),
        ("  =1", "'=1"),
        ("\u200b=1", "'=1"),
        ("Ann-Marie", "Ann-Marie"),
        ("two\nlines", "two lines"),
    ],
)
def test_one_line(typed: str, safe: str) -> None:
    assert one_line(typed) == safe


@given(st.text(st.sampled_from("'=+-@ \t\r\n\ufeffa")) | st.text())
def test_guarded_text_is_no_formula_and_comes_back(text: str) -> None:
    safe = guarded(text)
    assert not safe.startswith(FORMULAS) and not safe.lstrip().startswith(FORMULAS)
    assert unguarded(safe) == text
