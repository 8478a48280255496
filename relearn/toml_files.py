"""TOML files that a user writes, read in one way: what cannot be read is one sentence with its line."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from relearn.errors import SheetError


def read_toml(path: Path, what: str) -> dict[str, Any]:
    """The file's tables. Unreadable, no UTF-8 text (a byte order mark is passed over) or not TOML: SheetError.

    what: how the file is called in the sentence, such as 'job file'.
    """
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as wrong:
        raise SheetError(
            f"the {what} cannot be read ({(wrong.strerror or '').lower()})", path=path, remedy="check the name"
        ) from None
    except UnicodeDecodeError:
        raise SheetError("this is no text in UTF-8", path=path, remedy=f"save the {what} as UTF-8 text") from None
    except (ValueError, RecursionError) as wrong:  # tomllib.TOMLDecodeError is a ValueError
        at = re.search(r"at line (\d+)", str(wrong))
        said = str(wrong) if len(str(wrong)) < 100 else "too deep or too long"
        raise SheetError(
            f"this is not TOML ({said})", path=path, line=int(at[1]) if at else None, remedy="correct that line"
        ) from None
