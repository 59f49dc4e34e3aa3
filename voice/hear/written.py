"""How a recogniser trained on written text may write a phrase: "four thirty seconds", "4/32nds", "Four 32nds" ...

Scoring a phrase means summing the likelihood of all its written forms, so a form left out is likelihood lost, and
a form too many costs only a little time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import product

_UNITS = {
    "zero": 0, "oh": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
    "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
_TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
}  # fmt: skip
_DENOMINATORS = {
    ("half",): 2,
    ("halves",): 2,
    ("third",): 3,
    ("thirds",): 3,
    ("quarter",): 4,
    ("quarters",): 4,
    ("fourth",): 4,
    ("fourths",): 4,
    ("eighth",): 8,
    ("eighths",): 8,
    ("sixteenth",): 16,
    ("sixteenths",): 16,
    ("thirty", "second"): 32,
    ("thirty", "seconds"): 32,
    ("sixty", "fourth"): 64,
    ("sixty", "fourths"): 64,
}
_ORDINAL_END = {2: "nd", 3: "rd", 4: "th", 8: "th", 16: "th", 32: "nd", 64: "th"}
_SPELLINGS = {
    "okay": ("okay", "ok", "OK"),
    "ok": ("okay", "ok", "OK"),
    "psi": ("psi", "PSI"),
    "percent": ("percent", "%"),
    "pounds": ("pounds", "lbs"),
    "millimeters": ("millimeters", "millimetres", "mm"),
    "millimetres": ("millimeters", "millimetres", "mm"),
    "inches": ("inches", '"'),
    "license": ("license", "licence"),
    "gauge": ("gauge", "gage"),
    "tire": ("tire", "tyre"),
}
_LIMIT = 48  # forms a phrase: more than any shipped phrase makes


@cache
def written(phrase: str) -> tuple[str, ...]:
    """All ways `phrase` (lower-case spoken words) may be written, without the closing full stop; no doubles."""
    words = tuple(phrase.replace("-", " ").split())
    forms: dict[str, None] = {}
    for body in (*_bodies(words), *_bodies(_without_article(words))):
        for form in (body, body[:1].upper() + body[1:]):
            forms.setdefault(form)
    return tuple(forms)[:_LIMIT]


def _without_article(words: tuple[str, ...]) -> tuple[str, ...]:
    """ "half an inch" is also written "1/2 inch"; nothing if there is no article after a fraction."""
    for at, word in enumerate(words):
        if word == "an" and 0 < at < len(words) - 1 and _digits(words[:at]):
            return (*words[:at], *words[at + 1 :])
    return ()


def _bodies(words: Sequence[str]) -> Iterator[str]:
    """Every combination of the ways of writing each number and each word."""
    if not words:
        return
    parts = [_number_forms(run) if number else _word_forms(run[0]) for number, run in _runs(words)]
    for chosen in product(*parts):
        yield " ".join(chosen).replace(" %", "%").replace(' "', '"')


def _word_forms(word: str) -> tuple[str, ...]:
    return _SPELLINGS.get(word, (word,))


def _runs(words: Sequence[str]) -> list[tuple[bool, tuple[str, ...]]]:
    """Cut into numbers (longest run of words that reads as one) and single other words."""
    runs: list[tuple[bool, tuple[str, ...]]] = []
    at = 0
    while at < len(words):
        for end in range(min(len(words), at + 9), at, -1):
            piece = tuple(words[at:end])
            if _digits(piece):
                runs.append((True, piece))
                at = end
                break
        else:
            runs.append((False, (words[at],)))
            at += 1
    return runs


def _number_forms(words: tuple[str, ...]) -> tuple[str, ...]:
    spelled = " ".join(words)
    hyphened = _hyphened(words)
    return tuple(dict.fromkeys((*_digits(words), spelled, hyphened)))


def _hyphened(words: Sequence[str]) -> str:
    out: list[str] = []
    for word in words:
        if out and out[-1] in _TENS and (0 < _UNITS.get(word, 0) < 10 or word in ("second", "seconds")):
            out[-1] += "-" + word
        else:
            out.append(word)
    return " ".join(out)


@cache
def _digits(words: tuple[str, ...]) -> tuple[str, ...]:
    """Ways to write these words with digits; none if they are not one number."""
    forms = [*_whole_forms(words), *_decimal_forms(words), *_fraction_forms(words), *_over_forms(words)]
    if words and words[0] == "minus":
        forms += [f"-{form}" for form in _digits(words[1:])] + [f"minus {form}" for form in _digits(words[1:])]
    return tuple(dict.fromkeys(forms))


def _whole_forms(words: tuple[str, ...]) -> list[str]:
    value = _whole(words)
    if value is None:
        return []
    forms = [str(value)]
    if value >= 1000:
        forms.append(f"{value:,}")
    if len(words) == 3 and words[1] == "oh" and words[2] in _UNITS:
        forms.append(f"{_UNITS[words[0]]} 0{_UNITS[words[2]]}")
    return forms


def _whole(words: Sequence[str]) -> int | None:
    """Value of a whole number as people say it ("one twenty", "a hundred and five", "one oh five"), or None."""
    words = [word for word in words if word != "and"] if len(words) > 2 else list(words)
    if not words or "and" in words:
        return None
    if "thousand" in words:
        cut = words.index("thousand")
        high, low = _whole(words[:cut]), 0 if cut + 1 == len(words) else _whole(words[cut + 1 :])
        return None if high is None or low is None or high >= 1000 or low >= 1000 else high * 1000 + low
    if "hundred" in words:
        cut = words.index("hundred")
        high = 1 if words[:cut] == ["a"] else _below_hundred(words[:cut])
        low = 0 if cut + 1 == len(words) else _below_hundred(words[cut + 1 :])
        return None if not high or high > 99 or low is None else high * 100 + low
    small = _below_hundred(words)
    if small is not None:
        return small
    if len(words) >= 2 and words[0] in _UNITS and 0 < _UNITS[words[0]] < 10:
        rest = words[1:]
        if len(rest) == 2 and rest[0] == "oh" and 0 < _UNITS.get(rest[1], 0) < 10:
            return _UNITS[words[0]] * 100 + _UNITS[rest[1]]
        low = _below_hundred(rest)
        if low is not None and low >= 10:
            return _UNITS[words[0]] * 100 + low
    return None


def _below_hundred(words: Sequence[str]) -> int | None:
    if len(words) == 1:
        return _UNITS.get(words[0], _TENS.get(words[0]))
    if len(words) == 2 and words[0] in _TENS and 0 < _UNITS.get(words[1], 0) < 10:
        return _TENS[words[0]] + _UNITS[words[1]]
    return None


def _decimal_forms(words: tuple[str, ...]) -> list[str]:
    if "point" not in words:
        return []
    cut = words.index("point")
    tail = words[cut + 1 :]
    if tail and all(_UNITS.get(word, 10) < 10 for word in tail):
        decimals = "".join(str(_UNITS[word]) for word in tail)
    elif (small := _below_hundred(tail)) is not None:
        decimals = str(small)
    else:
        return []
    if cut == 0:
        return [f"0.{decimals}", f".{decimals}", f"point {decimals}"]
    head = _whole(words[:cut])
    return [] if head is None else [f"{head}.{decimals}", f"{head} point {decimals}"]


def _fraction(words: tuple[str, ...]) -> tuple[int, int, bool] | None:
    """Numerator, denominator and whether the denominator was said in the plural, of "three quarters", "a half"."""
    for size in (2, 1):
        if len(words) >= size and (bottom := _DENOMINATORS.get(words[-size:])):
            top = words[:-size]
            if (not top and words[-size:] == ("half",)) or top in (("a",), ("an",)):
                return 1, bottom, False
            value = _below_hundred(top)
            if value is not None:
                return value, bottom, words[-1].endswith("s")
    return None


def _fraction_forms(words: tuple[str, ...]) -> list[str]:
    if "and" in words:
        cut = words.index("and")
        head, part = _whole(words[:cut]), _fraction(words[cut + 1 :])
        if head is None or part is None or part[0] >= part[1]:
            return []
        top, bottom, _ = part
        spoken = " ".join(words[cut + 1 :])
        forms = [
            f"{head} {top}/{bottom}",
            f"{head} and {top}/{bottom}",
            f"{head} and {spoken}",
            f"{head}-{top}/{bottom}",
        ]
        if 1000 * top % bottom == 0:
            forms.append(f"{head + top / bottom:g}")
        return forms
    part = _fraction(words)
    if part is None:
        return []
    top, bottom, plural = part
    forms = [f"{top}/{bottom}"]
    if bottom == 2:
        return [*forms, f"{top} half"] if len(words) > 1 else forms
    end = _ORDINAL_END[bottom] + ("s" if plural else "")
    forms += [f"{top}/{bottom}{end}", f"{top} {bottom}{end}", f"{' '.join(words[:-1])} {bottom}{end}"]
    if bottom in (32, 64):
        tens, last = str(bottom // 10 * 10), words[-1]
        forms[-1] = f"{' '.join(words[:-2])} {bottom}{end}"
        forms += [f"{top}{bottom}{end}", f"{top} {tens} {last}", f"{top}-{bottom}{end}", f"{top} {words[-2]}-{last}"]
        if bottom == 32 and top < 10:
            forms += [f"{top}:{tens} {last}", f"{top}{tens} {last}", f"{top}:32", f"{top}:30 {last[:3]}"]
    else:
        forms.append(f"{top} {words[-1]}")
    return forms


def _over_forms(words: tuple[str, ...]) -> list[str]:
    if "over" not in words:
        return []
    cut = words.index("over")
    top, bottom = _whole(words[:cut]), _whole(words[cut + 1 :])
    return [] if top is None or bottom is None else [f"{top}/{bottom}", f"{top} over {bottom}"]
