"""Choosing the reader, and every kind of file that cannot be used: one sentence with the file and a way out."""

from __future__ import annotations

import gzip
import hashlib
import subprocess
import sys
from pathlib import Path

import can
import pytest

from relearn.capture import READERS, hashing, load, sha256
from relearn.errors import CaptureError
from tests.capture.build import answer, seen, write

LINE = "(1700000000.000000) can0 7E8#03410D0AAAAAAAAA\n"


def test_every_format_python_can_reads_has_a_reader() -> None:
    assert set(can.io.player.MESSAGE_READERS) <= set(READERS)


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("missing.log", None, "does not exist; check the name"),
        ("empty.log", b"", "is empty"),
        ("empty.blf", b"", "is empty"),
        ("empty.log.gz", b"", "is empty"),
        ("hollow.log.gz", gzip.compress(b"", mtime=0), "is empty"),
        ("broken.log.gz", b"\x1f\x8b\x08\x00 not gzip at all", "is not a whole gzip file"),
        ("plain.log.gz", LINE.encode(), "is not a gzip file, whatever its name says; give it the suffix of what it is"),
        ("cut.csv.gz", gzip.compress(b"time,rpm\n1,2\n" * 99, mtime=0)[:-20], "is not a whole gzip file"),
        ("notes.log", b"Dear customer,\nthe car was ready at noon.\n", "is no candump text"),
        ("notes.txt", b"Dear customer,\nthe car was ready at noon.\n", "is no candump text"),
        ("notes.csv", b"Dear customer,\nthe car was ready at noon.\n", "has no time column"),
        ("notes.asc", b"Dear customer,\nthe car was ready at noon.\n", "holds not a single frame"),
        ("notes.trc", b"Dear customer,\nthe car was ready at noon.\n", "holds not a single frame"),
        ("noise.log", bytes(range(256)) * 40, "is no candump text"),
        ("noise.csv", bytes(range(256)) * 40, "is no text"),
        ("untimed.log", b"  can0  7E8   [2]  01 00\n", "carry no times; record again with times"),
        ("photo.jpeg", b"x", r"suffix '.jpeg'.*use one of \.log"),
        ("bus", b"x", "suffix ''"),
        ("bus.db.gz", gzip.compress(b"x", mtime=0), "unpack it first"),
        ("frames.csv", b"timestamp,arbitration_id,extended,remote,error,dlc,data\n", "holds not a single frame"),
        ("headers.csv", b"time,rpm\n", "no row of values"),
    ],
)
def test_a_file_that_cannot_be_used(tmp_path: Path, name: str, content: bytes | None, message: str) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(CaptureError, match=message) as caught:
        load(path)
    assert str(caught.value).startswith(str(path))
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(CaptureError, match="is a folder"):
        load(tmp_path)


@pytest.mark.parametrize("name", ["bus.log", "bus.txt", "BUS.LOG", "two.dots.log"])
def test_candump_by_suffix(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text(LINE)
    assert len(seen(load(path).frames)) == 1


def test_a_csv_is_told_apart_by_its_header(tmp_path: Path) -> None:
    assert load(write(tmp_path / "frames.csv", [answer(0)])).frames is not None
    (tmp_path / "values.csv").write_text("timestamp,rpm\n0,800\n")
    assert load(tmp_path / "values.csv").table is not None


def test_sha256_is_of_the_file_itself(tmp_path: Path) -> None:
    path = tmp_path / "bus.log.gz"
    path.write_bytes(gzip.compress(LINE.encode(), mtime=0))
    assert sha256(path) == hashlib.sha256(path.read_bytes()).hexdigest()
    with pytest.raises(CaptureError, match="cannot be read"):
        sha256(tmp_path / "missing.log")


def test_candump_text_does_not_wait_for_python_can(tmp_path: Path) -> None:
    """python-can takes a second to import, and this format does without."""
    path = tmp_path / "bus.log"
    path.write_text(LINE)
    code = "import sys, pathlib, relearn.capture as c; c.load(pathlib.Path(sys.argv[1])); print('can' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_a_hash_found_meanwhile_is_the_same(tmp_path: Path) -> None:
    path = tmp_path / "bus.log"
    path.write_text(LINE)
    assert hashing(path)() == sha256(path)
    with pytest.raises(CaptureError, match="cannot be read"):
        hashing(tmp_path / "missing.log")()
