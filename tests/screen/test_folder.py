"""What may be chosen: captures and drills of the folder by name, and nothing outside of it."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import IO, Any

import pytest

from relearn.screen import folder
from relearn.screen.folder import choosable, is_drill

STOP = '[[stop]]\ncapture = "a.log"\n'


@pytest.fixture
def shown(tmp_path: Path) -> Path:
    made = tmp_path / "shown"
    (made / "deep").mkdir(parents=True)
    for name in ("b.log", "a.LOG", "deep/c.asc", "notes.pdf", "picture.png"):
        (made / name).write_text("", encoding="utf-8")
    (made / "drill.toml").write_text(f'title = "a"\n  {STOP}', encoding="utf-8")
    (made / "sheet.toml").write_text('title = "[[stop]]"\n', encoding="utf-8")
    (made / "torn.toml").write_bytes(b"\xff\xfe\x00[[stop]] ")
    return made


def names(path: Path) -> list[tuple[str, bool]]:
    return [(one.name, one.is_drill) for one in choosable(path)]


def test_captures_and_drills_by_name(shown: Path) -> None:
    assert names(shown) == [("a.LOG", False), ("b.log", False), ("deep/c.asc", False), ("drill.toml", True)]


def test_a_link_out_of_the_folder_is_not_there(shown: Path, tmp_path: Path) -> None:
    before = names(shown)
    (tmp_path / "outside").mkdir()
    for name in ("secret.log", "drill.toml"):
        (tmp_path / "outside" / name).write_text(STOP, encoding="utf-8")
    (shown / "secret.log").symlink_to(tmp_path / "outside" / "secret.log")
    (shown / "other.toml").symlink_to(tmp_path / "outside" / "drill.toml")
    (shown / "way-out").symlink_to(tmp_path / "outside", target_is_directory=True)
    (shown / "nowhere.log").symlink_to(tmp_path / "nothing.log")
    (shown / "round").symlink_to(shown, target_is_directory=True)
    assert names(shown) == before
    (shown / "z.log").symlink_to(shown / "b.log")
    assert names(shown) == [*before, ("z.log", False)]


def test_a_link_to_the_folder_is_the_folder(shown: Path, tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(shown, target_is_directory=True)
    assert names(tmp_path / "link") == names(shown)


def test_a_list_has_an_end(shown: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folder, "MOST", 2)
    assert len(choosable(shown)) == 2


@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        (b"[[stop]]", True),
        (b"  [[ stop ]] # the first\r\n", True),
        (b'[["stop"]]', True),
        (b"\xff\xfe\n[[stop]]", True),  # meant as one; what is wrong with it is said when it is chosen
        (b"# [[stop]]", False),
        (b"[[stops]]", False),
        (b'title = "[[stop]]"', False),
        (b"", False),
    ],
)
def test_what_is_meant_as_a_drill(tmp_path: Path, text: bytes, is_one: bool) -> None:
    (tmp_path / "x.toml").write_bytes(text)
    assert is_drill(tmp_path / "x.toml") is is_one


def test_what_may_not_be_read_is_no_drill_and_hides_nothing(shown: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = names(shown)
    (shown / "folder.toml").mkdir()
    (shown / "locked.toml").write_text(STOP, encoding="utf-8")
    (shown / "hidden.log").write_text("", encoding="utf-8")
    opened, looked = Path.open, Path.is_file

    def may_open(path: Path, mode: str = "r") -> IO[Any]:
        if path.name == "locked.toml":
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return opened(path, mode)

    def may_look(path: Path) -> bool:
        if path.name == "hidden.log":
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return looked(path)

    monkeypatch.setattr(Path, "open", may_open)
    monkeypatch.setattr(Path, "is_file", may_look)
    assert names(shown) == before
    assert not is_drill(shown / "folder.toml") and not is_drill(shown / "locked.toml")


def test_an_empty_folder_has_nothing_to_choose(tmp_path: Path) -> None:
    assert choosable(tmp_path) == ()
