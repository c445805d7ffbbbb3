"""Reads a TOML file as a model and says what is wrong in it in sentences that name the mend."""

from __future__ import annotations

import json
import re
import tomllib
from typing import Annotated, Any, TypeVar, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from turncheck.errors import UNSHOWN, FileFaults, quoted, unknown

Steps = tuple[str | int, ...]
Model = TypeVar("Model", bound=BaseModel)


def _plain(text: str) -> str:
    if UNSHOWN.search(text):
        raise ValueError(
            "holds a line break or a character that can't be shown; take it out, "
            "and write a path with / between its folders"
        )
    if text and not text.strip():
        raise ValueError("holds nothing but spaces; write something or delete it")
    return text


def _colour(code: str) -> str:
    if not re.fullmatch("#[0-9a-fA-F]{6}", code):
        raise ValueError('is no colour; write it as "#ff8800"')
    return code.lower()


Text = Annotated[str, AfterValidator(_plain)]
#: sRGB, as CSS Color Module Level 4 writes it (section 5.2).
Colour = Annotated[
    str, AfterValidator(_colour), Field(json_schema_extra={"pattern": "^#[0-9a-fA-F]{6}$"})
]
Flag = Annotated[bool, Field(strict=True)]
Number = Annotated[float, Field(strict=True)]
#: In the check's unit; nothing on a drawing is measured more finely than the lower bound, and
#: the upper one lets everything pass. Common practice, no source.
Tolerance = Annotated[float, Field(strict=True, ge=0.001, le=1000)]


class Entry(BaseModel):
    """A table of a TOML file: no unknown keys, no infinite numbers."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True)


def read_toml(text: str, model: type[Model], faults: FileFaults) -> Model:
    """Return a file's text as a model. Unknown keys are noted as faults and left out.

    Raises
    ------
    TurncheckError
        If the file can't be used even without its unknown keys; every fault is named.
    """
    raw = _loaded(text, faults)
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        found = error.errors(include_url=False)
    for fault in found:
        _note(fault, model, faults)
    if any(fault["type"] != "extra_forbidden" for fault in found):
        faults.raise_any()
    for fault in found:
        _delete(raw, fault["loc"])
    return model.model_validate(raw)


def _loaded(text: str, faults: FileFaults) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError:
        faults.add("", "not readable as TOML: brackets within brackets without end; take them out")
    except ValueError as error:  # a TOMLDecodeError, or a whole number of thousands of digits
        faults.add("", f"not readable as TOML: {error}; {_mend(str(error), text)}")
    faults.raise_any()
    raise AssertionError


def _mend(said: str, text: str) -> str:
    """Return what to do about a line that the TOML reader refuses with these words."""
    if said.startswith(("Unescaped", "Invalid hex")):
        return "write / in place of \\, between folders too"
    place = re.search(r"\(at line (\d+)", said)
    line = text.split("\n")[int(place[1]) - 1] if place else ""
    bare = re.fullmatch(r"\s*([\w.-]+)\s*=\s*([^\W\d]\w*)\s*(?:#.*)?", line)
    if re.fullmatch(r"\s*[\w.-]+\s*=\s*[+-]?\d*,\d+\s*(?:#.*)?", line):
        return "write the number with a decimal point, as in 1.5"
    if bare and bare[2].lower() in _SAYS_TRUE | _SAYS_FALSE:
        flag = "true" if bare[2].lower() in _SAYS_TRUE else "false"
        return f"TOML wants true or false: write {bare[1]} = {flag}"
    if bare:
        return f'text needs quotes: write {_shortened(bare[1])} = "{_shortened(bare[2])}"'
    return "mend that line"


_SAYS_TRUE = {"yes", "on", "true", "y"}
_SAYS_FALSE = {"no", "off", "false", "n"}


def _delete(raw: Any, path: Steps) -> None:
    for step in path[:-1]:
        raw = raw[step]
    del raw[path[-1]]


def _note(fault: Any, model: type[BaseModel], faults: FileFaults) -> None:
    path: Steps = fault["loc"]
    entry = ""
    if path and isinstance(path[-1], int):
        entry, path = f" number {path[-1] + 1}", path[:-1]
    table, key = path[:-1], str(path[-1]) if path else ""
    faults.add(_place(table), _sentence(key, entry, fault, _keys(model, table)))


def _keys(model: type[BaseModel], table: Steps) -> list[str]:
    """Return the keys that a table of the file may have, none where they are the user's names."""
    steps = iter(table)
    for step in steps:
        inside = get_args(model.model_fields[str(step)].annotation)
        models = [one for one in inside if isinstance(one, type) and issubclass(one, BaseModel)]
        if not models:
            return []
        is_alone = type(None) in inside
        if not is_alone and next(steps, None) is None:  # the user's name or the entry's number
            return []
        model = models[0]
    return list(model.model_fields)


def _place(table: Steps) -> str:
    if not table:
        return ""
    if isinstance(table[-1], int):
        return f"[[{table[0]}]] number {table[-1] + 1}"
    return f"[{'.'.join(map(str, table))}]"


_WANTED = {
    "string_type": 'text in quotes, as in "front"',
    "string_unicode": "text in letters that can be shown",
    "float_type": "a number without quotes, as in 1.5",
    "finite_number": "a number, as in 1.5",
    "bool_type": "true or false, without quotes",
    "tuple_type": "a list in [ ]; tables are listed under double brackets, as in [[waivers]]",
    "dict_type": "a table, with its keys on lines of their own",
    "model_type": "a table, with its keys on lines of their own",
}


def _sentence(key: str, entry: str, fault: Any, known: list[str]) -> str:
    kind, context, given = fault["type"], fault.get("ctx", {}), fault.get("input")
    name = f"{_shortened(key)}{entry}"
    if kind == "extra_forbidden":
        return unknown(key, known, "a key here")
    if kind == "missing":
        return f'"{name}" is missing; add it'
    if kind in ("too_short", "string_too_short"):
        return f"{name} is empty; fill it in"
    if kind == "string_too_long":
        return f"{name} is longer than {context['max_length']} characters; shorten it"
    if kind == "too_long":
        return f"{name} has more than {context['max_length']} entries; delete what is too much"
    if kind == "value_error":
        return f"{name} {context['error']}"
    shown = _shortened(json.dumps(given, ensure_ascii=False, default=str))
    if kind == "literal_error":
        return f"{name} = {shown} is not one of {context['expected']}; choose one"
    if kind == "string_pattern_mismatch":
        return f"{name} = {shown} is not a usable name; use letters, digits, spaces and _ . - only"
    wanted = _WANTED.get(kind, str(fault["msg"]).removeprefix("Input should be "))
    return f"{name} = {shown} must be {wanted}"


def _shortened(text: str) -> str:
    return quoted(text)[1:-1]
