"""The catalogue of speech models: which there are, where, how large, under which license. Nothing is downloaded."""

from __future__ import annotations

import re
from importlib.util import find_spec
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from voice.data.folders import catalogue_dir
from voice.data.reader import parse, read_yaml
from voice.models.disk import hash_of, size_text

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
SHA256 = r"^[0-9a-f]{64}$"


class Package(BaseModel):
    """A model inside a Python package, or one of ours that lies beside the catalogue.

    name: of the package, as pip knows it.
    version, module: of the package, and what it is imported as; None of ours.
    files: path inside the module's folder, or the catalogue's -> SHA-256.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    name: str
    version: str | None = None
    module: str | None = None
    files: dict[str, str] = Field(min_length=1)

    @property
    def repair(self) -> str:
        """What puts the files back."""
        if self.version is None:
            return f"Install {self.name} again."
        return f"Run: pip install --force-reinstall {self.name}=={self.version}"

    def folder(self, catalogue: Path | None = None) -> Path | None:
        """Where the files are; None if the package is not installed.

        catalogue: the folder of the catalogue, if not the shipped one.
        """
        if self.module is None:
            return catalogue or catalogue_dir()
        spec = find_spec(self.module)
        return Path(spec.origin).parent if spec is not None and spec.origin else None

    def fault(self, catalogue: Path | None = None) -> str | None:
        """What is wrong with the installed files, None if nothing is."""
        folder = self.folder(catalogue)
        if folder is None:
            return f"{self.name} is not installed"
        for name, sha256 in self.files.items():
            if not (folder / name).is_file():
                return f"{self.name} has no {name}; perhaps it is another version"
            if hash_of(folder / name) != sha256:
                return f"{self.name}: {name} is not the file this project was tried with"
        return None


class SpeechModel(BaseModel):
    """One model of the catalogue.

    bytes: of its file, exact.
    about: where the exact size is not known.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    id: str = Field(pattern=f"^{NAME.pattern}$")
    engine: Literal["vosk", "moonshine", "whisper", "pocketsphinx"]
    language: str
    license: str
    note: str
    tried: bool
    graph: Literal["dynamic", "static"] | None = None
    bytes: int | None = Field(None, gt=0)
    about: str | None = None
    sha256: str | None = Field(None, pattern=SHA256)
    md5: str | None = Field(None, pattern=r"^[0-9a-f]{32}$")
    address: str | None = Field(None, pattern=r"^https://")
    package: Package | None = None

    @model_validator(mode="after")
    def _whole(self) -> SpeechModel:
        if (self.address is None) == (self.package is None):
            raise ValueError("give either an address or a package")
        if self.bytes is None and self.about is None:
            raise ValueError("give bytes or about")
        return self

    @property
    def size(self) -> str:
        return size_text(self.bytes) if self.bytes is not None else f"about {self.about}"


class Catalogue(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)
    models: tuple[SpeechModel, ...]

    @model_validator(mode="after")
    def _unique(self) -> Catalogue:
        ids = [entry.id for entry in self.models]
        if len(set(ids)) != len(ids):
            raise ValueError("an id is given twice")
        return self

    def get(self, id: str) -> SpeechModel | None:
        return next((entry for entry in self.models if entry.id == id), None)


def load_catalogue(file: Path | None = None) -> Catalogue:
    """The shipped catalogue. Raises DataError with file and line."""
    path = file or catalogue_dir() / "catalogue.yaml"
    return parse(Catalogue, read_yaml(path), path)
