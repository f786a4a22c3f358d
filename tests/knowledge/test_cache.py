"""What is kept between starts: the same base in less time, never a stale or a damaged one."""

import os
from pathlib import Path

import pytest

from knowledge.cache import KEPT, keep, key_of, recall
from knowledge.errors import KnowledgeError
from knowledge.load import load, prepared
from tests.knowledge.small import SOUND


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A small sound base."""
    (tmp_path / "base").mkdir()
    (tmp_path / "base" / "all.toml").write_text(SOUND, encoding="utf-8")
    return tmp_path / "base"


def test_what_is_kept_is_what_was_loaded(folder: Path, tmp_path: Path):
    """The first call keeps, the second finds; both give what a plain load gives."""
    assert prepared([folder], tmp_path / "cache") == load([folder])
    (kept,) = (tmp_path / "cache").iterdir()
    assert kept.stat().st_mode & 0o777 == 0o600
    assert prepared([folder], tmp_path / "cache") == load([folder])


def test_the_shipped_base_survives_the_cache(tmp_path: Path):
    """Every record comes back as it was, defaults and all."""
    from knowledge.load import BASE

    assert prepared([BASE], tmp_path) == prepared([BASE], tmp_path) == load([BASE])


def test_a_changed_file_is_read_again(folder: Path, tmp_path: Path):
    """A new word in a file is in the next base."""
    prepared([folder], tmp_path / "cache")
    file = folder / "all.toml"
    file.write_text(SOUND.replace('title = "', 'title = "new ', 1), encoding="utf-8")
    assert prepared([folder], tmp_path / "cache") == load([folder])


def test_a_folder_without_files_is_refused_however_often_the_rest_was_kept(folder: Path, tmp_path: Path):
    """The kept base of the other folder is not taken for theirs."""
    prepared([folder], tmp_path / "cache")
    with pytest.raises(KnowledgeError, match="nowhere"):
        prepared([folder, tmp_path / "nowhere"], tmp_path / "cache")


@pytest.mark.parametrize("damage", [b"", b"{}", b"not json", b'{"rules": 3}'])
def test_a_damaged_file_is_made_again(folder: Path, tmp_path: Path, damage: bytes):
    """Whatever stands in the cache, the base is that of the files."""
    prepared([folder], tmp_path / "cache")
    (kept,) = (tmp_path / "cache").iterdir()
    kept.write_bytes(damage)
    assert prepared([folder], tmp_path / "cache") == load([folder])


def test_a_base_with_faults_is_never_kept(folder: Path, tmp_path: Path):
    """The faults are told each time."""
    (folder / "bad.toml").write_text('[[cause]]\nid = "x"\n', encoding="utf-8")
    for _ in range(2):
        with pytest.raises(KnowledgeError, match=r"bad\.toml"):
            prepared([folder], tmp_path / "cache")
    assert not (tmp_path / "cache").exists()


def test_a_folder_that_cannot_be_written_does_no_harm(folder: Path, tmp_path: Path):
    """A file stands where the folder should be."""
    (tmp_path / "cache").write_bytes(b"in the way")
    assert prepared([folder], tmp_path / "cache") == load([folder])


def test_only_the_newest_are_kept(tmp_path: Path):
    """The folder does not grow, and other kinds are left alone."""
    keep("other", "key", b"1", tmp_path)
    for number in range(KEPT + 3):
        keep("base", str(number), b"2", tmp_path)
    assert len(list(tmp_path.glob("base-*"))) == KEPT
    assert recall("other", "key", tmp_path) == b"1"


def test_what_is_used_outlasts_what_is_newer(tmp_path: Path):
    """A shop tries many bases, and its own is not made anew each time."""
    keep("base", "own", b"1", tmp_path)
    os.utime(tmp_path / "base-own", (0, 0))
    for number in range(KEPT - 1):
        keep("base", str(number), b"2", tmp_path)
    assert recall("base", "own", tmp_path) == b"1"
    os.utime(tmp_path / "base-0", (1, 1))
    keep("base", "new", b"2", tmp_path)
    assert recall("base", "own", tmp_path) == b"1"
    assert recall("base", "0", tmp_path) is None


def test_pieces_of_content_do_not_run_together():
    """ab, c is not a, bc."""
    assert key_of([b"ab", b"c"]) != key_of([b"a", b"bc"])
