"""The Python blocks of README.md run as they stand, in order and in one namespace, and print what their `# > ` lines
say."""

import contextlib
import io
import re

import pytest

from tests.readme import README

BLOCKS = re.findall(r"^```python\n(.*?)^```$", README.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)


def test_the_python_blocks_run_and_print_what_they_say(monkeypatch: pytest.MonkeyPatch) -> None:
    assert BLOCKS, "README.md has no block that begins with ```python: the example of relearn as a library is missing"
    monkeypatch.chdir(README.parent)
    namespace: dict[str, object] = {}
    for block in BLOCKS:
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(block, str(README), "exec"), namespace)
        said = [line.removeprefix("# > ") for line in block.splitlines() if line.startswith("# > ")]
        assert printed.getvalue().splitlines() == said
