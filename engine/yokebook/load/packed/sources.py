"""The files that a pack was made of: what they were, and whether they still are that."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping

#: Every file that loading a rulebook reads, or complains of.
YAML = (".yaml", ".yml")
#: What a pack made in a checkout depends on besides: the engine that read the files.
CODE = (".py",)

#: Of each file by its path below the folder: how many bytes it has, and the SHA-256 of them in hex.
Recorded = Mapping[str, tuple[int, str]]


def record(folder: str, endings: tuple[str, ...]) -> dict[str, tuple[int, str]]:
    """The files of a folder and those below it with these endings, as they are now. Raises OSError."""
    found: dict[str, tuple[int, str]] = {}
    for name, _, _ in sorted(_files(folder, endings)):
        data = _read(folder, name)
        found[name] = (len(data), _digest(data))
    return found


def unchanged(folder: str, endings: tuple[str, ...], recorded: Recorded, made: int) -> bool:
    """Whether the files of a folder are those that were recorded. Raises OSError.

    A file of the same name and size that nobody touched since `made`, in nanoseconds as file systems count, is taken
    to be the same; of any other the bytes are compared.
    """
    left = dict(recorded)
    doubtful: list[str] = []
    for name, size, touched in _files(folder, endings):
        if left.pop(name, (-1, ""))[0] != size:
            return False
        if touched >= made:
            doubtful.append(name)
    return not left and all(_digest(_read(folder, name)) == recorded[name][1] for name in doubtful)


def touched_since(folder: str, endings: tuple[str, ...], when: int) -> bool:
    """Whether a file of the folder was written, moved or copied there at this time or later. Raises OSError."""
    return any(touched >= when for _, _, touched in _files(folder, endings))


def _files(folder: str, endings: tuple[str, ...], below: str = "") -> Iterator[tuple[str, int, int]]:
    """Name below the folder, size, and when it was last written, moved or copied there."""
    with os.scandir(os.path.join(folder, below)) as entries:
        for entry in entries:
            if entry.is_dir(follow_symlinks=False):
                yield from _files(folder, endings, f"{below}{entry.name}/")
            elif entry.name.endswith(endings) and entry.is_file():
                stat, link = entry.stat(), entry.stat(follow_symlinks=False)
                # the time of the inode shows a file that was put in the place of another with its old date
                touched = max(stat.st_mtime_ns, stat.st_ctime_ns, link.st_ctime_ns)
                yield f"{below}{entry.name}", stat.st_size, touched


def _read(folder: str, name: str) -> bytes:
    with open(os.path.join(folder, name), "rb") as file:
        return file.read()


def _digest(data: bytes) -> str:
    import hashlib  # only where bytes have to be compared: it is slow to import

    return hashlib.sha256(data).hexdigest()
