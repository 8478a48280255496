"""One capture to one row. Every worker runs this function, in a process of this computer or of a cluster."""

from __future__ import annotations

import time
from contextlib import suppress
from pathlib import Path

from relearn import __version__
from relearn.capture import sha256
from relearn.errors import CaptureError, MapError, RelearnError
from relearn.findings.base import Judged
from relearn.recording import Recording, read
from relearn.survey.columns import UNREADABLE, Cell, Row, empty
from relearn.survey.decided import decided_by, without_numbers, worst_margin
from relearn.survey.find import Found
from relearn.survey.questions import QUESTIONS, Asked, Numbers

WITHOUT_MAP = " (read without the map, which names nothing of it)"


def judge(found: Found, asked: Asked) -> Row:
    """The row of one capture. A file that cannot be used is a row too: 'unreadable', with its sentence."""
    begun = time.perf_counter()
    path = Path(found.path)
    try:
        recording, besides = _read(path, asked)
        row = judged_row(found, asked, *QUESTIONS[asked.question](recording, asked))
        row = {**row, "reason": f"{row['reason']}{besides}"}
    except RelearnError as wrong:
        row = unreadable_row(found, asked, _sentence(wrong, path), wrong.what, _hash(path))
    except OSError as wrong:
        what = f"cannot be read ({(wrong.strerror or str(wrong)).lower()})"
        row = unreadable_row(found, asked, f"{what}; check the disk.", what)
    return {**row, "judged_in_s": round(time.perf_counter() - begun, 4)}


def _read(path: Path, asked: Asked) -> tuple[Recording, str]:
    """A recording, and what its reason must say besides. In a folder lie other captures too than those a map is for."""
    try:
        return read(path, asked.database, asked.mapping), ""
    except MapError:
        return read(path, asked.database), WITHOUT_MAP


def judged_row(found: Found, asked: Asked, document: Judged, numbers: Numbers) -> Row:
    """A document and its key numbers as a row."""
    worst = worst_margin(document)
    return {
        **_named(found, asked),
        **numbers,
        "sha256": document.source.sha256,
        "verdict": document.verdict,
        "reason": next(iter(document.reasons), ""),
        "decided_by": decided_by(document),
        "worst_margin": worst.value if worst is not None else None,
        "worst_margin_unit": worst.unit if worst is not None else "",
        "worst_margin_of": worst.part if worst is not None else "",
        "start": document.source.start or "",
        "duration_s": document.source.duration_s,
        "module": document.source.module or "",
        "faults": sum(one.count for one in document.faults),
    }


def unreadable_row(found: Found, asked: Asked, sentence: str, what: str, content: str = "") -> Row:
    """A capture out of which nothing could be judged.

    what: the same in fewer words, by which rows are counted together. content: the file's hash, where it has one.
    """
    return {
        **_named(found, asked),
        "sha256": content,
        "verdict": UNREADABLE,
        "reason": sentence,
        "decided_by": without_numbers(what),
    }


def _named(found: Found, asked: Asked) -> dict[str, Cell]:
    """What every row of this survey says of itself."""
    return {
        **empty(asked.question),
        "folder": found.folder,
        "file": found.file,
        "path": found.real,
        **asked.marks,
        "sheet": asked.sheet.title,
        "version": __version__,
    }


def _sentence(wrong: RelearnError, capture: Path) -> str:
    """Its sentence without the capture, which the row names already."""
    elsewhere = wrong.path if wrong.path != capture else None
    return str(RelearnError(wrong.what, path=elsewhere, line=wrong.line, key=wrong.key, remedy=wrong.remedy))


def _hash(path: Path) -> str:
    with suppress(CaptureError):  # it cannot be read at all, which is what the row says
        return sha256(path)
    return ""
