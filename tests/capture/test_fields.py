"""Numbers read from text all at once, against Python's own float()."""

from __future__ import annotations

import re

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from relearn.capture.fields import DECIMAL_CHARACTERS, decimals
from relearn.capture.marks import MARGIN

NUMBER = st.from_regex(r"[0-9]{0,17}\.?[0-9]{0,9}", fullmatch=True)
WORD = st.one_of(NUMBER, st.text("0123456789. -+e_xA", max_size=DECIMAL_CHARACTERS + 2))


@given(st.lists(WORD, min_size=1), st.booleans())
def test_decimals_are_what_float_makes_of_them(words: list[str], whole: bool) -> None:
    """To the last bit; and nothing else that float() would take, such as 1e5, counts as a number of a time."""
    text = np.concatenate([np.frombuffer((",".join(words) + ",").encode(), np.uint8), MARGIN])
    width = np.array([len(word) for word in words])
    number, fits = decimals(text, np.cumsum(width + 1) - width - 1, width, least_dots=0 if whole else 1)
    form = re.compile(r"[0-9]+(\.[0-9]+)?" if whole else r"[0-9]+\.[0-9]+")
    due = [bool(form.fullmatch(word)) and len(word) <= DECIMAL_CHARACTERS for word in words]
    assert fits.tolist() == due
    assert [one for one, fit in zip(number.tolist(), due, strict=True) if fit] == [
        float(word) for word, fit in zip(words, due, strict=True) if fit
    ]
