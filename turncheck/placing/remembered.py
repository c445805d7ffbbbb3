"""What is remembered from one start of the page to the next: who places, and its address."""

from __future__ import annotations

import json
import os
import secrets
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import BaseModel, Field, ValidationError

#: Sheets whose addresses are kept; common practice, no source.
MOST_SHEETS = 50


class Address(BaseModel):
    """Where the page of a sheet is: a page that is still open finds it there again."""

    port: int = Field(ge=0, le=65535)
    secret: str = Field(pattern=r"^[\w-]{32,64}$")


class _Kept(BaseModel):
    by: str = Field("", max_length=60)
    sheets: dict[str, Address] = Field(default_factory=dict)


@dataclass
class Remembered:
    """A small file of the user's own, which nobody else may read; without one nothing is kept.

    What can't be read or written is done without: no placing depends on it.
    """

    file: Path | None = None
    _kept: _Kept = field(default_factory=_Kept)

    def __post_init__(self) -> None:
        if self.file is not None:
            with suppress(OSError, ValidationError, UnicodeError):
                self._kept = _Kept.model_validate_json(self.file.read_text("utf-8"))

    @property
    def by(self) -> str:
        """Who placed last."""
        return self._kept.by

    def placed_by(self, name: str) -> None:
        """Remember who places; a repeat's number is none of the name."""
        person = name.partition("#")[0]
        if person != self._kept.by:
            self._kept.by = person
            self._save()

    def address(self, sheet: Path) -> Address:
        """Return where the sheet's page was last; a new secret and any port where it never was."""
        known = self._kept.sheets.get(str(sheet))
        return known or Address(port=0, secret=secrets.token_urlsafe(24))

    def is_at(self, sheet: Path, address: Address) -> None:
        """Remember where the sheet's page is."""
        sheets = {name: at for name, at in self._kept.sheets.items() if name != str(sheet)}
        newest = dict([*sheets.items(), (str(sheet), address)][-MOST_SHEETS:])
        if newest != self._kept.sheets:
            self._kept.sheets = newest
            self._save()

    def _save(self) -> None:
        if self.file is None:
            return
        text = json.dumps(self._kept.model_dump(), indent=1)
        part = self.file.with_name(f".{self.file.name}.{os.getpid()}")
        with suppress(OSError):
            self.file.parent.mkdir(parents=True, exist_ok=True)
            with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
                file.write(text)
            os.replace(part, self.file)
