"""README.md's examples are real output: each indented block that begins with `$ relearn` holds what the command prints.

`python -m tests.readme` writes them again; tests/test_readme.py fails when they have drifted.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

from tests.cli.run import CAPTURES, relearn

README = CAPTURES.parent / "README.md"
INDENT = "    "
BLOCK = re.compile(rf"^{INDENT}\$ relearn (?P<words>.*)\n(?:{INDENT}.*\n|\n(?={INDENT}))*", re.MULTILINE)
HEAD = re.compile(r" \| head -n (\d+)$")


def refreshed(text: str) -> str:
    """The text with every example's output as it is now; commands run from the project folder."""
    return BLOCK.sub(lambda block: example(block["words"]), text)


def example(words: str) -> str:
    """One example: the command line and what it prints, shortened where it says `| head -n N`."""
    cut = HEAD.search(words)
    printed = relearn(*HEAD.sub("", words).split()).out.splitlines()
    shown = printed[: int(cut[1])] if cut else printed
    body = "".join(f"{INDENT}{line}".rstrip() + "\n" for line in shown)
    return f"{INDENT}$ relearn {words}\n{body}"


if __name__ == "__main__":
    os.chdir(README.parent)
    Path(README).write_text(refreshed(README.read_text(encoding="utf-8")), encoding="utf-8")
