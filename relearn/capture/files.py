"""Opening a capture: what can be wrong with the file itself, before anyone looks at its format."""

from __future__ import annotations

import gzip
import hashlib
import zlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Thread
from typing import BinaryIO, cast

from relearn.errors import CaptureError

GZIP_DAMAGE = (EOFError, zlib.error, gzip.BadGzipFile)
"""What reading a broken or cut gzip file raises."""
NO_GZIP = "Not a gzipped file"  # gzip says so behind its first bytes, which nobody needs to see


def format_suffix(path: Path) -> str:
    """The suffix that names the format, lower case, looking behind a final .gz: 'drive.log.gz' gives '.log'."""
    name = path.with_suffix("") if is_gzipped(path) else path
    return name.suffix.lower()


def is_gzipped(path: Path) -> bool:
    """True for a name that ends in .gz."""
    return path.suffix.lower() == ".gz"


def check(path: Path) -> None:
    """CaptureError unless the path is a file that can be opened and is not empty (unpacked, if it is gzipped)."""
    if "\0" in str(path):
        raise CaptureError(
            "is no name of a file: it holds a NUL", path=path, remedy="give the name without that character"
        )
    if path.is_dir():
        raise CaptureError("is a folder, not a capture", path=path, remedy="name one file inside it")
    if path.exists() and not path.is_file():  # a pipe would be waited for, and waited for again
        raise CaptureError("is no regular file", path=path, remedy="name a file on the disk")
    try:
        with open_binary(path) as file:
            first = file.read(1)
    except FileNotFoundError:
        raise CaptureError("does not exist", path=path, remedy="check the name and the folder") from None
    except GZIP_DAMAGE as error:
        raise broken_gzip(path, error) from error
    except OSError as error:
        raise CaptureError(
            f"cannot be opened ({error.strerror})", path=path, remedy="check that it may be read"
        ) from error
    if not first:
        raise CaptureError("is empty", path=path, remedy="copy it again from where it was recorded, or record anew")


def open_binary(path: Path) -> BinaryIO:
    """The file's bytes, unpacked when its name ends in .gz."""
    return cast(BinaryIO, gzip.open(path, "rb")) if is_gzipped(path) else path.open("rb")


def broken_gzip(path: Path, error: BaseException) -> CaptureError:
    """The error for a gzip file out of which nothing could be read."""
    if isinstance(error, gzip.BadGzipFile) and str(error).startswith(NO_GZIP):
        return CaptureError(
            "is not a gzip file, whatever its name says", path=path, remedy="give it the suffix of what it is"
        )
    return CaptureError(
        f"is not a whole gzip file ({error})",
        path=path,
        remedy="copy it again, or unpack what can be unpacked and use that",
    )


def sha256(path: Path) -> str:
    """SHA-256 of the file's own bytes, not unpacked, in hex. CaptureError if it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except (OSError, ValueError) as error:  # ValueError: a name with a NUL in it
        why = error.strerror if isinstance(error, OSError) else error
        raise CaptureError(f"cannot be read ({why})", path=path, remedy="check the name and the folder") from error


def hashing(path: Path) -> Callable[[], str]:
    """sha256 of a file, found on another processor from now on; called, what this returns waits for it.

    A daemon: where reading the file fails meanwhile, nobody waits for its hash.
    """
    found: list[str] = []

    def work() -> None:
        with suppress(CaptureError):  # said below, to whoever asks
            found.append(sha256(path))

    def digest() -> str:
        worker.join()
        return found[0] if found else sha256(path)

    worker = Thread(target=work, daemon=True)
    worker.start()
    return digest


def first_line(path: Path) -> str:
    """The text's first line, lower case, without byte order mark; characters that are no text become '\\ufffd'."""
    try:
        with open_binary(path) as file:
            return file.readline(4096).decode("utf-8-sig", "replace").strip().lower()
    except GZIP_DAMAGE as error:
        raise broken_gzip(path, error) from error
