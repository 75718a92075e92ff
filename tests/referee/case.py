"""A study as texts, to be written into a folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from referee.reading import Reading


@dataclass(frozen=True)
class Case:
    """A study: its name, the text of study.toml, and its other files by name."""

    name: str
    text: str
    files: Mapping[str, str]

    @property
    def reading(self) -> Reading:
        """The study as the referee understands it."""
        return Reading.of(self.text, self.files)

    def written(self, folder: Path) -> Path:
        """The study in a folder, which is made."""
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "study.toml").write_text(self.text, encoding="utf-8")
        for name, text in self.files.items():
            (folder / name).write_text(text, encoding="utf-8")
        return folder
