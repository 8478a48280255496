"""job.toml as it is written reads back the same, whatever text a person gives (against tomllib of the standard
library)."""

from __future__ import annotations

import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.analysis.job_file import JobFile, PeopleFile
from relearn.jobs.toml import to_toml

TEXT = st.text(st.characters(exclude_categories=["Cs"]), min_size=1).filter(str.strip)


@given(TEXT, st.lists(TEXT, min_size=1), st.none() | TEXT, st.text(st.characters(exclude_categories=["Cs"])))
@settings(max_examples=100, deadline=None)
def test_written_and_read_again(title: str, events: list[str], module: str | None, customer: str) -> None:
    file = JobFile(title=title, events=tuple(events), module=module, people=PeopleFile(customer=customer))
    assert JobFile.model_validate(tomllib.loads(to_toml(file))) == file
