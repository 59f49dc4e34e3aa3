"""The disk of these tests itself: it must forget what was not synced, or it could show nothing."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.promises.disk import watched

pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="needs Linux's /proc")


def write(path: Path, data: bytes, *, sync: bool) -> None:
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        if sync:
            os.fsync(file.fileno())


def sync_folder(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    os.fsync(handle)
    os.close(handle)


def test_what_was_there_before_stays(tmp_path: Path) -> None:
    (tmp_path / "below").mkdir()
    (tmp_path / "below/old").write_bytes(b"old")
    with watched(tmp_path) as disk:
        (tmp_path / "below/old").write_bytes(b"new")
        assert disk.left(tmp_path / "below/old") == b"old"
        assert disk.log == []


def test_a_file_needs_its_own_sync_and_its_folders(tmp_path: Path) -> None:
    with watched(tmp_path) as disk:
        write(tmp_path / "a", b"1", sync=True)
        assert disk.left(tmp_path / "a") is None
        sync_folder(tmp_path)
        assert disk.left(tmp_path / "a") == b"1"
        write(tmp_path / "b", b"2", sync=False)
        sync_folder(tmp_path)
        assert disk.left(tmp_path / "b") == b""
        assert disk.log == ["sync a", "sync folder .", "sync folder ."]


def test_a_new_folder_must_be_made_durable_in_its_parent(tmp_path: Path) -> None:
    with watched(tmp_path) as disk:
        (tmp_path / "one").mkdir()
        write(tmp_path / "one/a", b"1", sync=True)
        sync_folder(tmp_path / "one")
        assert disk.left(tmp_path / "one/a") is None
        sync_folder(tmp_path)
        assert disk.left(tmp_path / "one/a") == b"1"


def test_a_rename_counts_once_its_folder_is_synced(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"old")
    with watched(tmp_path) as disk:
        write(tmp_path / "a.new", b"new", sync=True)
        (tmp_path / "a.new").replace(tmp_path / "a")
        assert disk.left(tmp_path / "a") == b"old"
        sync_folder(tmp_path)
        assert disk.left(tmp_path / "a") == b"new"
        assert disk.unready == []


def test_a_file_renamed_before_its_sync_is_told(tmp_path: Path) -> None:
    with watched(tmp_path) as disk:
        write(tmp_path / "a.new", b"new", sync=False)
        (tmp_path / "a.new").rename(tmp_path / "a")
        assert disk.unready == ["rename a.new to a"]


def test_the_folder_as_it_would_be_left(tmp_path: Path) -> None:
    (tmp_path / "home/below").mkdir(parents=True)
    (tmp_path / "home/below/kept").write_bytes(b"kept")
    with watched(tmp_path / "home") as disk:
        (tmp_path / "home/below/kept").write_bytes(b"changed")
        (tmp_path / "home/lost").write_bytes(b"lost")
        left = disk.restore(tmp_path / "after")
    assert (left / "below/kept").read_bytes() == b"kept"
    assert sorted(path.name for path in left.rglob("*")) == ["below", "kept"]
