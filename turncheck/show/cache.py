"""Keeps what was found of a sheet for as long as nothing that it rests on changes.

An entry has a line of JSON for the sheet's record, one for its drifts and for the files of its
report, and its findings as CSV.
It is known by a hash of all that goes into it, so that one that is there is right; it is written
whole or not at all, as each sheet ends, and may be deleted at any time.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import tomllib
from collections.abc import Collection, Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

from turncheck.files.atomic import put_in_place
from turncheck.files.version import VERSION
from turncheck.handover.guides_kept import Kept, remove_stale
from turncheck.show.record import Record, from_json

FOLDER, PICTURES = ".cache", "pictures"
#: The page of a sample, whose pictures stay as long as it does.
SAMPLE_PAGE = "sample.html"
_KEY = re.compile("[0-9a-f]{64}")
_PICTURE = re.compile(r"([0-9a-f]{64})(?:_\d)?\.webp")
#: Counts up when an entry holds other things than before.
_FORMAT = 2
#: What tells programs that make backups that a folder can be left out (Cache Directory Tagging
#: Specification, B. Ford; its signature from memory).
_TAG = {"CACHEDIR.TAG": "Signature: 8a477f597d28d172789f06886806bc55\n"}


def open_cache(out: Path) -> Path:
    """Make the cache of a survey; return its folder.

    Raises
    ------
    OSError
        If it can't be written.
    """
    folder = out / FOLDER
    put_in_place({folder / name: text for name, text in _TAG.items()})
    return folder


def key_of(file: Path, path: str, out: Path, *, magnified: bool) -> str:
    """Return the hash of all that a sheet's check and report rest on.

    That is this turncheck, the sheet's file, its points, drawings, masks, vocabulary and approval,
    what it goes by and where it lies seen from the survey, and whether its worst points are
    magnified.
    """
    whole = hashlib.sha256()
    way = os.fsencode(os.path.relpath(file, out))
    for part in (VERSION.encode(), b"%d %d" % (_FORMAT, magnified), path.encode(), way):
        whole.update(hashlib.sha256(part).digest())
    settings = contents(file)
    whole.update(hashlib.sha256(settings).digest())
    for name in ("landmarks.csv", "approval.json", *_named_in(settings)):
        whole.update(_sum(file.parent / name))
    return whole.hexdigest()


def contents(file: Path) -> bytes:
    """Return what a sheet's file holds, nothing where it can't be read."""
    try:
        return file.read_bytes() if file.is_file() else b""
    except OSError:  # the check says why
        return b""


def _sum(file: Path) -> bytes:
    """Return a file's SHA-256 (FIPS 180-4), that of nothing where it can't be read."""
    with suppress(OSError, ValueError):  # a name that no file can have
        if file.is_file():
            with file.open("rb") as opened:
                return hashlib.file_digest(opened, "sha256").digest()
    return bytes(hashlib.sha256().digest_size)


def _named_in(settings: bytes) -> Iterator[str]:
    """Yield the files that a sheet names, as far as it can be read."""
    held = named(settings)
    names, views = [held.get("vocabulary")], held.get("views")
    for view in views.values() if isinstance(views, dict) else ():
        if isinstance(view, dict):
            names += view.get("image"), view.get("figure")
    yield from (name for name in names if isinstance(name, str))


def named(settings: bytes) -> dict[str, Any]:
    """Return what a sheet's file says, nothing where it is no TOML."""
    try:
        return tomllib.loads(settings.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        return {}


def keep(
    folder: Path,
    key: str,
    record: Record,
    drifts: Mapping[str, Mapping[str, float]],
    files: Mapping[str, str],
    findings: str,
) -> None:
    """Write what was found of a sheet.

    Parameters
    ----------
    drifts, files, findings
        Its drifts, % by view and landmark; SHA-256 of its report's files, by their paths seen from
        the survey's folder; and its rows of the table of all findings with their heading.

    Raises
    ------
    OSError
        If it can't be written.
    """
    parts = asdict(record), {"drifts": drifts, "files": files}
    lines = (json.dumps(part, ensure_ascii=False) for part in parts)
    put_in_place({_place(folder, key): "\n".join([*lines, findings])})


def kept_record(folder: Path, key: str) -> Record | None:
    """Return the record of an entry, None where there is none of use."""
    try:
        with _place(folder, key).open("rb") as file:
            return from_json(json.loads(file.readline()))
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return None


def kept_rest(folder: Path, key: str) -> tuple[dict[str, dict[str, float]], bytes]:
    """Return the drifts and the findings of an entry that there is."""
    _, more, findings = _place(folder, key).read_bytes().split(b"\n", 2)
    return json.loads(more)["drifts"], findings


def picture_of(key: str, name: str = "") -> str:
    """Return where a picture of a sheet lies, seen from the survey's folder."""
    return f"{PICTURES}/{key[:2]}/{key}{name}.webp"


def forget_others(out: Path, keys: Collection[str], sheets: Mapping[str, bool]) -> list[str]:
    """Delete what is known of sheets that are gone or have changed; also the reports of those gone.

    Parameters
    ----------
    keys
        Of the entries that stay.
    sheets
        By path of those that there are, whether they can be used: what is known of one that can't
        stays.

    Returns
    -------
    list of str
        Files of reports that stay, seen from the survey's folder, since somebody has changed them.
    """
    entries, keys = (out / FOLDER).glob("??/*"), {*keys}
    old = [file for file in entries if _KEY.fullmatch(file.name) and file.name not in keys]
    files: dict[str, str] = {}
    for file in sorted(old, key=lambda file: file.stat().st_mtime):
        path, own = _report_of(file)
        if sheets.get(path, True):
            files |= {} if path in sheets else own
            with suppress(OSError):
                file.unlink()
        else:
            keys.add(file.name)
    with suppress(OSError):
        keys |= {*_KEY.findall((out / SAMPLE_PAGE).read_text("utf-8"))}
    for file in (out / PICTURES).glob("??/*"):
        known = _PICTURE.fullmatch(file.name)
        if known and known[1] not in keys:
            with suppress(OSError):
                file.unlink()
    gone, stay = remove_stale(out, Kept(files=files), {})
    for name in gone:
        with suppress(OSError):  # a folder that something else lies in
            for folder in (out / name).relative_to(out).parents[:-1]:
                (out / folder).rmdir()
    return stay


def _report_of(entry: Path) -> tuple[str, dict[str, str]]:
    """Return the path of an entry's sheet and the SHA-256 of the files of its report, by name."""
    try:
        with entry.open("rb") as file:
            return json.loads(file.readline())["path"], dict(json.loads(file.readline())["files"])
    except (OSError, ValueError, TypeError, KeyError):
        return "", {}


def _place(folder: Path, key: str) -> Path:
    """Return where an entry lies: few in each folder, for a long one takes time to look through."""
    return folder / key[:2] / key
