"""What `guides.json` of an earlier run tells: which files are turncheck's, and what of."""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from turncheck.errors import FileFaults, TurncheckError
from turncheck.files.user_files import fingerprint, is_file, read_text

GUIDES_FILE = "guides.json"


@dataclass(frozen=True)
class Kept:
    """Guides that lie in a folder.

    Attributes
    ----------
    character
        Whose they are.
    sums
        Of what they were made of, as `Sums.as_json` has it.
    angles, turn
        Of each angle what `guides.json` tells, and of the picture of a whole turn.
    files
        SHA-256 by name, in hexadecimal.
    """

    character: str = ""
    sums: Mapping[str, Any] = field(default_factory=dict)
    angles: tuple[Mapping[str, Any], ...] = ()
    turn: Mapping[str, Any] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)

    def is_untouched(self, folder: Path, name: str) -> bool:
        """Whether a file is there as it was written; what can't be read can't be known."""
        try:
            file = folder / name
            return is_file(file) and fingerprint(file.read_bytes()) == self.files.get(name)
        except OSError:
            return False


def kept_in(folder: Path) -> Kept:
    """Return what is known of the guides in a folder; nothing where no run has told."""
    try:
        told = json.loads(read_text(folder / GUIDES_FILE, FileFaults("")))
        files = {str(name): str(one) for name, one in told["files"].items()}
        return Kept(
            character=str(told["character"]),
            sums=dict(told["made_of"]),
            angles=tuple({"yaw": float(one["yaw"]), **one} for one in told["guides"]),
            turn=dict(told.get("turn", {})),
            files={name: one for name, one in files.items() if Path(name).name == name},
        )
    except (TurncheckError, ValueError, KeyError, TypeError, AttributeError):
        return Kept()


def remove_stale(folder: Path, kept: Kept, now: Mapping[str, str]) -> tuple[list[str], list[str]]:
    """Remove what an earlier run wrote and this one does not; return what went and what stays.

    What somebody has changed since stays.
    """
    gone, stays = [], []
    for name in kept.files:
        if name in now or not is_file(folder / name):
            continue
        if kept.is_untouched(folder, name):
            with suppress(OSError):
                (folder / name).unlink()
                gone.append(name)
                continue
        stays.append(name)
    return gone, stays
