"""What pydantic complains of, in the words of someone who writes a route or a vehicle profile."""

from __future__ import annotations

import types
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import TYPE_CHECKING, Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

_NAME = r"^[a-z"  # how the pattern of every id begins
_SHOWN = 40  # characters of a wrong value that are repeated


def plain(entry: ErrorDetails, keys: Sequence[str] = ()) -> tuple[str, str]:
    """(what is wrong, what to do).

    keys: those that are known where the mistake is.
    """
    kind, context, given = entry["type"], entry.get("ctx", {}), _shown(entry.get("input"))
    last = entry["loc"][-1] if entry["loc"] else ""
    match kind:
        case "extra_forbidden":
            return f'there is no key "{last!s:.40}" here.', _suggestion(str(last), keys)
        case "missing":
            return f'the key "{last}" is missing.', ""
        case "value_error":
            return f"{entry['msg'].removeprefix('Value error, ').removesuffix('.'):.300}.", ""
        case "string_pattern_mismatch" if str(context.get("pattern", "")).startswith(_NAME):
            return f"{given} cannot be an id.", 'Use small letters, digits and hyphens, as in "truck-7".'
        case "string_pattern_mismatch":
            return f"{given} has not the form that is wanted here.", ""
        case "string_too_long":
            return f"{given} is too long.", f"It may have {context.get('max_length')} characters."
        case "invalid_key":
            return f"the key {given} is not text.", "Write it in quotation marks."
        case "literal_error" | "enum":
            wanted = str(context.get("expected", "")).replace("'", "")
            return f"{given} is not known here.", _one_of(str(entry.get("input")), wanted)
        case "union_tag_invalid":
            wanted = str(context.get("expected_tags", "")).replace("'", "")
            return f'the kind "{context.get("tag")!s:.40}" is not known here.', _one_of(str(context.get("tag")), wanted)
        case "union_tag_not_found":
            return "it does not say its kind.", 'Give the key "kind".'
        case "too_short":
            least, there = context.get("min_length"), context.get("actual_length")
            return f"this list has {there} entries and needs at least {least}.", ""
        case "greater_than" | "greater_than_equal" | "less_than" | "less_than_equal":
            words = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}
            name = next((name for name in words if name in context), "")
            return f"{given} cannot be right here.", f"It must be {words.get(name, '')} {context.get(name)}."
        case "model_type" | "model_attributes_type" | "dict_type":
            return f"{given} is not a mapping of keys.", 'Write it as "key: value" lines, indented.'
        case "tuple_type" | "list_type":
            return f"{given} is not a list.", 'Write it in brackets, or each entry on a line that begins with "-".'
    return _scalar(kind, given) or (entry["msg"] + ".", "")


def _scalar(kind: str, given: str) -> tuple[str, str] | None:
    """For values of the wrong type; pydantic has several complaints for each."""
    if kind.startswith("bool"):
        return f"{given} is neither yes nor no.", "Write true or false."
    if kind.startswith("int"):
        return f"{given} is not a whole number.", "Write digits only."
    if kind.startswith(("fraction", "float", "decimal", "is_instance", "finite")):
        return f"{given} is not a number.", "Write 100, 16.5 or 1/2, without a unit."
    if kind == "string_type":
        return f"{given} is not text.", "Write it in quotation marks."
    return None


def keys_at(model: Any, loc: Sequence[str | int]) -> tuple[str, ...]:
    """The keys that are known at a place of the model; empty where that cannot be told."""
    if model is None:
        return ()
    here = {model}
    for part in loc:
        here = {below for kind in here for below in _below(kind, part)}
    return tuple(name for kind in sorted(here, key=lambda kind: kind.__name__) for name in kind.model_fields)


def _below(kind: type[BaseModel], part: str | int) -> set[type[BaseModel]]:
    """Models one step below; a part that is no field is an index or the tag of a union, and leads nowhere new."""
    if isinstance(part, str) and part in kind.model_fields:
        return set(_models(kind.model_fields[part].annotation))
    tag = kind.model_fields.get("kind")
    if isinstance(part, str) and tag is not None and part not in get_args(tag.annotation):
        return set()  # another one of the union was meant
    return {kind}


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and not get_args(annotation):
        return [annotation] if issubclass(annotation, BaseModel) else []
    if get_origin(annotation) in (tuple, list, dict, Mapping, Union, types.UnionType, Annotated):
        return [found for each in get_args(annotation) for found in _models(each)]
    return []


def _suggestion(name: str, keys: Sequence[str]) -> str:
    near = get_close_matches(name, keys, 1, 0.6)
    if near:
        return f'Did you mean "{near[0]}"?'
    return f"Keys: {', '.join(sorted(set(keys)))}." if keys else ""


def _one_of(given: str, wanted: str) -> str:
    names = wanted.replace(" or ", ", ").split(", ")
    near = get_close_matches(given, names, 1, 0.6)
    return (f'Did you mean "{near[0]}"? ' if near else "") + f"It must be {wanted}."


def _shown(given: Any) -> str:
    text = str(given) if isinstance(given, int | float) and not isinstance(given, bool) else f'"{given}"'
    if given is None:
        return "an empty value"
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, dict):
        return "a mapping of keys"
    if isinstance(given, list | tuple):
        return "a list"
    return text if len(text) <= _SHOWN else f'{text[:_SHOWN]}..."'
