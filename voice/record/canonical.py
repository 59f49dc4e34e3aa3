"""JSON in its one canonical text (RFC 8785), and JSON read such that it has one meaning."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import orjson

_MAX_DIGITS = 30
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")


def _number(value: float) -> str:
    """A finite double as ECMAScript prints it, which is what RFC 8785 section 3.2.2.3 asks for."""
    if not math.isfinite(value):
        raise ValueError(f"{value} has no place in JSON")
    if value == 0:
        return "0"
    sign, digit_tuple, exponent = Decimal(repr(value)).normalize().as_tuple()
    digits = "".join(map(str, digit_tuple))
    point = len(digits) + int(exponent)  # position of the decimal point, counted from the first digit
    if 0 < point <= 21:
        text = digits.ljust(point, "0") if len(digits) <= point else f"{digits[:point]}.{digits[point:]}"
    elif -6 < point <= 0:
        text = "0." + "0" * -point + digits
    else:
        mantissa = digits if len(digits) == 1 else f"{digits[0]}.{digits[1:]}"
        text = f"{mantissa}e{point - 1:+d}"
    return ("-" if sign else "") + text


def canonical(value: Any) -> bytes:
    """The one text of a JSON value, in UTF-8: no blanks, keys in order of their UTF-16 code units, shortest numbers.

    Raises ValueError for what JSON has no text for (UnicodeEncodeError for half of a surrogate pair), and for what is
    nested deeper than 250 levels.
    """
    try:
        return orjson.dumps(_ready(value), option=orjson.OPT_SORT_KEYS)
    except orjson.JSONEncodeError as error:
        json.dumps(value, ensure_ascii=False).encode()
        raise ValueError(str(error)) from error


def _ready(value: Any) -> Any:
    """The same value such that orjson writes it canonically: it differs in numbers, and in keys beyond U+FFFF."""
    kind = type(value)
    if kind is dict:
        if "".join(value).isascii():
            return {key: inner if type(inner) is str else _ready(inner) for key, inner in value.items()}
        keys = sorted(value, key=_code_units)  # orjson goes by code points
        return orjson.Fragment(
            b"{%s}" % b",".join([b"%s:%s" % (canonical(key), canonical(value[key])) for key in keys])
        )
    if kind is list or kind is tuple:
        return [_ready(item) for item in value]
    if value is None or kind is bool or isinstance(value, str):
        return value
    if isinstance(value, int):
        return value if -(2**63) <= value < 2**64 else orjson.Fragment(str(value))
    if isinstance(value, float):
        if value.is_integer() and abs(value) < 2**53:
            return int(value)
        # Within these bounds neither writes an exponent. NaN is not within them.
        return value if 1e-4 <= abs(value) < 1e15 else orjson.Fragment(_number(value))
    return _ready(dict(value) if isinstance(value, Mapping) else list(value))


def _code_units(key: str) -> bytes:
    return key.encode("utf-16-be")


def _no_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    # Of a key given twice one reader takes the first, another the last: two readings of one signed text.
    content = dict(pairs)
    if len(content) != len(pairs):
        raise ValueError("a field is given twice")
    return content


def _not_json(constant: str) -> float:
    raise ValueError(f"{constant} is not JSON")


def _finite(digits: str) -> float:
    value = float(digits)
    if not math.isfinite(value):
        raise ValueError("a number in it is too large")
    return value


def _whole(digits: str) -> int:
    if len(digits) > _MAX_DIGITS:
        raise ValueError("a number in it has too many digits")
    return int(digits)


def parse_json(text: str) -> Any:
    """JSON that has one meaning everywhere. Raises ValueError, and RecursionError for what is nested too deep.

    Refused: repeated keys, NaN, infinity, numbers beyond a double's range or of more than 30 digits, and half of a
    surrogate pair.
    """
    value = json.loads(
        text, object_pairs_hook=_no_repeats, parse_constant=_not_json, parse_float=_finite, parse_int=_whole
    )
    if _SURROGATE.search(text):
        try:
            json.dumps(value, ensure_ascii=False).encode()
        except UnicodeEncodeError as error:
            raise ValueError("a text in it has half of a character") from error
    return value
