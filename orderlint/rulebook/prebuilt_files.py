"""Where a prebuilt rulebook lies: with the code in a wheel, else in the user's own cache.

What is not exactly what was written for these very rule files is not there, and neither is what
somebody else could have written. Never what a rulebook says.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import json
import os
from typing import TYPE_CHECKING

from orderlint import _BEGAN, __version__
from orderlint.fields import schema_path
from orderlint.own_files import PRIVATE, fault_of_file, fault_of_folder, replace

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from orderlint.rulebook.plain_data import Plain
    from orderlint.rulebook.prebuilt_parts import Parts

PACKAGE = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
SHIPPED = os.path.join(PACKAGE, "rulebook", "prebuilt")
"""The folder that a wheel has, and a checkout has not."""
NAME = "rulebook.json"
CODE = ("", "language", "mentions", "reading", "rulebook", "rulebook/policy")
"""The folders of the package with the code that makes a rulebook of the rule files."""
_JUST_BEFORE = 2 * 10**9  # in nanoseconds, as coarse as the clock of a file system may be
_LARGEST = 16 * 1024 * 1024


def is_wheel() -> bool:
    """Whether the rulebook was built with the code, so that nobody changes the rule files."""
    return os.path.isdir(SHIPPED)


def found() -> tuple[Plain, Callable[[], Plain]] | None:
    """The conditions that are kept for these very files, and what reads their words; None if none.

    Of what was built with a wheel, where this is one; then of what the user's cache has.
    """
    for digest, data in _kept():
        seal, _, body = data.partition(b"\n")
        if seal == _seal(digest, body):
            conditions, _, words = body.partition(b"\n")
            return json.loads(conditions), functools.partial(json.loads, words)
    return None


def _kept() -> Iterator[tuple[str, bytes]]:
    """What is kept anywhere, with the digest of the files that it must be kept for."""
    if is_wheel():
        yield _digest(), _bytes_beside()
    if _is_settled():
        yield _digest(code=True), _bytes_in_cache()


def write_rulebook(parts: Parts, folder: Path) -> None:
    """Write a rulebook into a folder of a wheel that is being built. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / NAME).write_bytes(_sealed(parts, _digest()))


def keep(make: Callable[[], Parts]) -> Parts | None:
    """Make a rulebook and keep it in the user's cache; None, and not made, if that cannot be."""
    digest = _digest(code=True)
    if not (_is_settled() and _has_cache()):
        return None
    parts = make()
    with contextlib.suppress(OSError), _cache() as folder:
        if _is_settled() and digest == _digest(code=True):
            replace(_own_name(), _sealed(parts, digest), PRIVATE, folder).close()
    return parts


def _has_cache() -> bool:
    """Whether there is a cache of the user's own to write to; it is made if need be."""
    with contextlib.suppress(OSError, ValueError):
        os.makedirs(_cache_home(), 0o700, exist_ok=True)
        with contextlib.suppress(FileExistsError):
            os.mkdir(_cache_path(), 0o700)
        with _cache() as folder:
            return os.access(".", os.W_OK | os.X_OK, dir_fd=folder)
    return False


def _sealed(parts: Parts, digest: str) -> bytes:
    """What is written: a seal, then each part in a line of its own."""
    lines = (json.dumps(part, ensure_ascii=False, separators=(",", ":")) for part in parts)
    body = "\n".join(lines).encode()
    return _seal(digest, body) + b"\n" + body


def _seal(digest: str, body: bytes) -> bytes:
    """The SHA-256 of the parts and of what they are kept for, as hex."""
    return hashlib.sha256(f"{digest}\n".encode() + body).hexdigest().encode()


def _digest(*, code: bool = False) -> str:
    """The SHA-256 of the version, the schema of orders and the rule files, as hex.

    With `code`, also of the code, which a checkout changes under one version.
    """
    total = hashlib.sha256(__version__.encode())
    for path in (*_sources(), *(_code() if code else ())):
        with open(path, "rb") as file:
            data = file.read()
        total.update(f" {os.path.basename(path)} {len(data)}\n".encode() + data)
    return total.hexdigest()


def _is_settled() -> bool:
    """Whether no file has changed since this program began, or just before.

    Else nobody knows whether what runs, or what was read before, is what the files have.
    """
    latest = _BEGAN - _JUST_BEFORE
    return all(os.stat(path).st_ctime_ns < latest for path in (*_sources(), *_code()))


def _sources() -> Iterator[str]:
    yield schema_path("order")
    yield from _files_in("rules", ".yaml")


def _code() -> Iterator[str]:
    for folder in CODE:
        yield from _files_in(folder, ".py")


def _files_in(folder: str, suffix: str) -> Iterator[str]:
    path = os.path.join(PACKAGE, folder)
    names = (name for name in sorted(os.listdir(path)) if name.endswith(suffix))
    return (os.path.join(path, name) for name in names)


def _bytes_beside() -> bytes:
    """The file of the wheel; nothing where it has none."""
    with contextlib.suppress(OSError), open(os.path.join(SHIPPED, NAME), "rb") as file:
        return file.read()
    return b""


def _bytes_in_cache() -> bytes:
    """The file of the cache, if it is plain, the user's own and open to nobody else."""
    with contextlib.suppress(OSError, ValueError), _cache() as folder:
        # A pipe must not wait for somebody to write.
        flags = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK
        opened = os.open(_own_name(), flags, dir_fd=folder)
        with open(opened, "rb") as file:
            if fault_of_file(os.fstat(opened)) is None:
                return file.read(_LARGEST)
    return b""


@contextlib.contextmanager
def _cache() -> Iterator[int]:
    """The user's cache, opened. Raises OSError where there is none that is the user's alone."""
    folder = os.open(_cache_path(), os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    try:
        fault = fault_of_folder(os.fstat(folder))
        if fault is not None:
            raise PermissionError(fault)
        yield folder
    finally:
        os.close(folder)


def _cache_path() -> str:
    return os.path.join(_cache_home(), "orderlint")


def _cache_home() -> str:
    """The folder of a user's caches, by the XDG Base Directory standard. Raises OSError."""
    given = os.environ.get("XDG_CACHE_HOME", "")
    home = given if os.path.isabs(given) else os.path.expanduser("~/.cache")
    if not os.path.isabs(home):
        raise FileNotFoundError("there is no home folder")
    return home


def _own_name() -> str:
    """The name in the cache, which several checkouts may share."""
    return f"{hashlib.sha256(PACKAGE.encode()).hexdigest()[:16]}-{NAME}"
