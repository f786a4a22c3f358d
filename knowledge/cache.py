"""A folder of what can be made again: it saves time at the next start, and never changes a result.

The name of each file holds the hash of everything it was made from, so that a stale one is never found. A folder that
cannot be read or written costs time and nothing else.
"""

import hashlib
import os
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from platformdirs import user_cache_path

KEPT = 4  # files of one kind: a base of a shop or two beside ours


def key_of(contents: Iterable[bytes]) -> str:
    """Give the hash of pieces of content, each told from the next by its length."""
    digest = hashlib.sha256()
    for content in contents:
        digest.update(len(content).to_bytes(8, "big"))
        digest.update(content)
    return digest.hexdigest()[:32]


def source_of(package: Path) -> Iterable[bytes]:
    """Give the code of a package, since what is made hangs on it as well."""
    return (path.read_bytes() for path in sorted(package.glob("*.py")))


def recall(kind: str, key: str, folder: Path | None = None) -> bytes | None:
    """Give what was kept, or None where there is nothing, or not all of it; what is used is not cleared away soon."""
    path = _path(kind, key, folder or cache_folder())
    try:
        digest, _, content = path.read_bytes().partition(b"\n")
    except OSError:
        return None
    if digest != _digest(content):
        return None
    with suppress(OSError):
        os.utime(path)
    return content


def keep(kind: str, key: str, content: bytes, folder: Path | None = None) -> None:
    """Keep something, readable by this user alone; another process sees the whole file or none."""
    where = folder or cache_folder()
    with suppress(OSError):
        where.mkdir(mode=0o700, parents=True, exist_ok=True)
        number, name = tempfile.mkstemp(dir=where, prefix=".new-")  # opened for this user alone
        with os.fdopen(number, "wb") as stream:
            stream.write(_digest(content) + b"\n" + content)
        Path(name).replace(_path(kind, key, where))
        _clear(kind, where)


def cache_folder() -> Path:
    """Give the folder: the user's cache folder for this program."""
    return user_cache_path("ohmbudsman", appauthor=False)


def _digest(content: bytes) -> bytes:
    return hashlib.sha256(content).hexdigest().encode()


def _path(kind: str, key: str, folder: Path) -> Path:
    return folder / f"{kind}-{key}"


def _clear(kind: str, folder: Path) -> None:
    last_used_first = sorted(folder.glob(f"{kind}-*"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in last_used_first[KEPT:]:
        path.unlink(missing_ok=True)
