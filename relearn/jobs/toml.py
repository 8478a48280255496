"""job.toml as `job start` writes it: for a person to read and edit. Reading it is analysis.job_file's."""

from __future__ import annotations

import json

from relearn.analysis.job_file import JobFile, PeopleFile

HEADING = """\
# A job that keeps a record (record.jsonl beside this file). What is here may be edited: the next command finds the edit
# and writes it down. Captures and what was confirmed are added with relearn job add and relearn job confirm.
"""


def to_toml(file: JobFile) -> str:
    """The whole file, without captures and confirmations, which the record holds. Keys that are not set are left out,
    those of the people stand there empty."""
    keys = ("title", "events", "sheet", "vin", "expected_calibration", "module")
    values = {key: getattr(file, key) for key in keys}
    lines = [f"{key} = {_value(value)}" for key, value in values.items() if value is not None]
    people = [f"{key} = {_value(getattr(file.people, key))}" for key in PeopleFile.model_fields]
    return "\n".join((HEADING + lines[0], *lines[1:], "", "[people]", *people)) + "\n"


def _value(value: str | tuple[str, ...]) -> str:
    return _string(value) if isinstance(value, str) else f"[{', '.join(map(_string, value))}]"


def _string(text: str) -> str:
    """A basic string of TOML: the escapes of JSON, and the one control character that JSON lets pass."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
