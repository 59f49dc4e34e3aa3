"""How a recognizer trained on written text may write a phrase: "four thirty seconds", "4/32nds", "Four 32nds" ...

Scoring a phrase means summing the likelihood of all its written forms, so a form left out is likelihood lost, and
a form too many costs only a little time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import product

from voice.measure.book import number_words, unit_book
from voice.measure.grammar import below_hundred, wholes

_ORDINAL_END = {2: "nd", 3: "rd", 32: "nd"}  # of the numbers of parts; "th" for all others
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
    said = number_words()
    for word in words:
        if out and out[-1] in said.ten and (0 < said.small.get(word, 0) < 10 or word in ("second", "seconds")):
            out[-1] += "-" + word
        else:
            out.append(word)
    return " ".join(out)


@cache
def _digits(words: tuple[str, ...]) -> tuple[str, ...]:
    """Ways to write these words with digits; none if they are not one number."""
    forms = [*_whole_forms(words), *_decimal_forms(words), *_fraction_forms(words), *_over_forms(words)]
    minus = number_words().minus
    if words and words[0] == minus:
        forms += [f"-{form}" for form in _digits(words[1:])] + [f"{minus} {form}" for form in _digits(words[1:])]
    return tuple(dict.fromkeys(forms))


def _whole_forms(words: tuple[str, ...]) -> list[str]:
    value = _whole(words)
    if value is None:
        return []
    forms = [str(value)]
    if value >= 1000:
        forms.append(f"{value:,}")
    said = number_words()
    if len(words) == 3 and words[1] == said.zeros[0] and words[2] in said.digit:
        forms.append(f"{said.small[words[0]]} 0{said.digit[words[2]]}")
    return forms


def _whole(words: Sequence[str]) -> int | None:
    """Value of a whole number as people say it ("one twenty", "a hundred and five", "one oh five"), or None.

    Digit by digit is no number here: each digit is written by itself.
    """
    if not _vocabulary().issuperset(words) or (len(words) > 1 and all(w in number_words().ones[:10] for w in words)):
        return None
    whole = (m for m in wholes(tuple(words), 0) if m.end == len(words) and m.kind != "digits")
    return next((int(match.value) for match in whole), None)


@cache
def _vocabulary() -> frozenset[str]:
    """All words of whole numbers: most runs of words hold another one."""
    said = number_words()
    return frozenset({*said.small, *said.ten, *said.zeros, said.hundred, said.thousand, said.and_, "a"})


def _below_hundred(words: Sequence[str]) -> int | None:
    return next((value for value, end in below_hundred(tuple(words), 0) if end == len(words)), None)


def _decimal_forms(words: tuple[str, ...]) -> list[str]:
    said = number_words()
    if said.point not in words:
        return []
    cut = words.index(said.point)
    tail = words[cut + 1 :]
    if tail and all(word in said.digit for word in tail):
        decimals = "".join(str(said.digit[word]) for word in tail)
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
        if len(words) >= size and (bottom := unit_book().denominators.get(" ".join(words[-size:]))):
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
    end = _ORDINAL_END.get(bottom, "th") + ("s" if plural else "")
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
