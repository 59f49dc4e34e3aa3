"""Which files of the user's own folder are read, and which lie there under a name that nobody reads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from voice.errors import DataError

TABLES = ("defects", "cautions", "groups", "looks", "due", "places", "kinds")  # of the routes, one file each
_WORDING = ("dialogue", "driving", "pace", "commands", "units")

# By folder, what is read in it.
READ: Mapping[str, tuple[str, ...]] = {
    "limits": ("*.yaml",),
    "vehicles": ("*.yaml", "*.yml"),
    "prompts": ("items/*.yaml", "routes/*.yaml", *(f"{name}.yaml" for name in (*TABLES, *_WORDING))),
}


def unread(home: Path, folders: Sequence[str] = tuple(READ)) -> list[DataError]:
    """One sentence for each file or folder in these folders of the home that would be passed over in silence.

    Hidden files, an editor's copies (ending in "~") and texts about the files (.md) are meant for nobody here.
    """
    return [fault for name in folders for fault in _unread(home, home / name, READ[name])]


def _unread(home: Path, folder: Path, read: tuple[str, ...]) -> Iterator[DataError]:
    below = {pattern.partition("/")[0] for pattern in read if "/" in pattern}
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        if path.name.startswith(".") or path.name.endswith("~") or path.suffix == ".md":
            continue
        if path.name in below and path.is_dir():
            yield from _unread(home, path, tuple(each.partition("/")[2] for each in read if each.startswith(path.name)))
        elif path.is_dir() or not _fits(path.name, read):
            yield _fault(home, path, read)


def _fits(name: str, read: tuple[str, ...]) -> bool:
    return any(name.endswith(each[1:]) if each.startswith("*") else name == each for each in read)


def _fault(home: Path, path: Path, read: tuple[str, ...]) -> DataError:
    shown = path.relative_to(home)
    right = f"{path.name.split('.')[0]}.yaml"
    if not path.is_dir() and _fits(right, read):
        there = (path.parent / right).exists()
        return DataError(
            f"{shown} is not read: " + (f"{right} is. Make one of both." if there else f"name it {right}.")
        )
    kind = "folder" if path.is_dir() else "file"
    end = "/" if path.is_dir() else ""
    known = ", ".join(read)
    return DataError(
        f"{shown}{end} is no {kind} that Gladhand knows: in {shown.parent}/ it reads {known}.", "Move it, or rename it."
    )
