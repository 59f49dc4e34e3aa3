"""Canonical JSON (RFC 8785) written plainly, value by value: voice.record.canonical is held against it."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

_NAMES = {None: "null", True: "true", False: "false"}
_string = json.encoder.encode_basestring


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


def canonical(value: Any) -> str:
    """The one text of a JSON value: no blanks, keys in order of their UTF-16 code units, shortest numbers."""
    if isinstance(value, str):
        return _string(value)
    if value is None or isinstance(value, bool):
        return _NAMES[value]
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, Mapping):
        keys = sorted(value, key=_code_units)
        return "{" + ",".join([f"{_string(key)}:{canonical(value[key])}" for key in keys]) + "}"
    return "[" + ",".join([canonical(item) for item in value]) + "]"


def _code_units(key: str) -> bytes:
    return key.encode("utf-16-be")
