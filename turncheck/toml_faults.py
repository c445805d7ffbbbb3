"""Turns what pydantic finds wrong in a TOML file into sentences that name the mend."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from turncheck.errors import FileFaults, did_you_mean

Tables = Mapping[tuple[str, ...], type[BaseModel]]


def note_faults(
    model: type[BaseModel], raw: dict[str, Any], tables: Tables, faults: FileFaults
) -> BaseModel | None:
    """Validate `raw` as `model`; note every fault, and return the parsed file if there is none.

    Parameters
    ----------
    tables
        Which model describes which table, by path; `*` stands for a name of the user's.
    """
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        for fault in error.errors(include_url=False):
            path = tuple(str(step) for step in fault["loc"])
            table, key = path[:-1], path[-1] if path else ""
            faults.add(_place(table), _sentence(key, fault, _known(table, tables)))
        return None


def _known(table: tuple[str, ...], tables: Tables) -> list[str]:
    for pattern, model in tables.items():
        if len(pattern) == len(table) and all(
            ours in ("*", theirs) for ours, theirs in zip(pattern, table, strict=True)
        ):
            return list(model.model_fields)
    return []


def _place(table: tuple[str, ...]) -> str:
    if not table:
        return ""
    if len(table) > 1 and table[1].isdigit():
        return f"[[{table[0]}]] number {int(table[1]) + 1}"
    return f"[{'.'.join(table)}]"


def _sentence(key: str, fault: Any, known: list[str]) -> str:
    kind, context, given = fault["type"], fault.get("ctx", {}), fault.get("input")
    if kind == "extra_forbidden":
        return f'"{key}" is not a key here; {did_you_mean(key, known)}'
    if kind == "missing":
        return f'"{key}" is missing; add it'
    if kind == "literal_error":
        return f'{key} = "{given}" is not one of {context["expected"]}; choose one'
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        message = str(fault["msg"]).removeprefix("Input should be ")
        return f"{key} = {given} must be {message}"
    if kind == "string_pattern_mismatch":
        return f'"{given}" is not a usable name; use letters, digits, spaces and _ . - only'
    if kind == "value_error":
        return f"{key}: {context['error']}"
    message = str(fault["msg"]).removeprefix("Input should be ")
    return f"{key} = {str(given)[:60]!r} must be {message}"
