"""The ways people say a measured value. The recognizer is given these; reading.py reads every one of them back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from voice.errors import DataError
from voice.measure.book import HeardUnit, number_words, unit_book
from voice.measure.cardinal import LARGEST, cardinal, digits, ways


def spoken_forms(
    value: Fraction, unit: str, step: Fraction = Fraction(1), units: Mapping[str, HeardUnit] | None = None
) -> tuple[str, ...]:
    """All the ways of saying value, best first: lower-case words, with and without the unit.

    unit: its name in the data ("in", "psi", ...).
    step: finest division; it decides how fractions are said.
    Raises DataError when the unit has no words or the value cannot be said.
    """
    words = unit_words(unit, units)
    if value < 0:
        positive = spoken_forms(-value, unit, step, units)
        return tuple(f"{number_words().minus} {form}" for form in positive)
    if value > LARGEST or value.denominator not in _SAYABLE:
        raise DataError(f"{value} {unit} cannot be said.", "Use a coarser step or a smaller range.")
    whole, part = divmod(value, 1)
    forms = _whole(whole, step, words) if not part else _decimal(value, step, words) if _is_decimal(step) else []
    if part and not (_is_decimal(step) and value.denominator > 4):
        fractions = _fraction(whole, part, step, words)
        forms = [*forms, *fractions] if _is_decimal(step) and step.denominator > 2 else [*fractions, *forms]
    if not whole and part and step.denominator in words.bare_divisions:
        count = int(part * step.denominator)
        if Fraction(count, step.denominator) == part:
            forms.append(cardinal(count))
    if words.clock and not part:
        forms += _clock(whole)
    return tuple(dict.fromkeys(forms))


_SAYABLE = frozenset({1, 2, 4, 5, 8, 10, 16, 20, 25, 32, 50, 64, 100, 3})


def unit_words(unit: str, units: Mapping[str, HeardUnit] | None = None) -> HeardUnit:
    try:
        return (unit_book().heard if units is None else units)[unit]
    except KeyError:
        raise DataError(f'No words for the unit "{unit}".', "Add how it is heard to units.yaml.") from None


def _is_decimal(step: Fraction) -> bool:
    """Whether a gauge of such step is read in decimals (tenths, halves) rather than in halves of halves."""
    return step.denominator in (1, 2, 5, 10, 20, 25, 50, 100)


def _join(forms: Iterable[str], names: Iterable[str]) -> list[str]:
    names = tuple(names)
    return [f"{form} {name}" for form in forms for name in names]


def _whole(n: int, step: Fraction, words: HeardUnit) -> list[str]:
    forms = list(ways(n))
    if n == 1:
        return [*forms, *_join(forms[:1], words.one), *_join(_article(words.one), words.one)]
    with_unit = _join(forms[:2], words.many) + (list(words.zero) if n == 0 else [])
    spelled = [digits(n)] if n >= 100 else []
    return [*forms, *with_unit, *spelled]


def _article(names: tuple[str, ...]) -> list[str]:
    return ["an" if names[0][0] in "aei" else "a"] if names else []


def _decimal(value: Fraction, step: Fraction, words: HeardUnit) -> list[str]:
    whole, part = divmod(value, 1)
    places = next(n for n in (1, 2) if 10**n % part.denominator == 0)
    tail = str(int(part * 10**places)).zfill(places)
    after = digits(tail)
    heads = [*ways(whole)[:2]] if whole else ["", cardinal(0)]
    forms = [f"{head} {number_words().point} {after}".strip() for head in heads]
    if step.denominator == 10 and (10 <= whole < 20 or (whole < 100 and whole % 10)):
        forms.append(f"{cardinal(whole)} {after}")  # "twelve six" volts
    return [*forms, *_join(forms[:1], words.many)]


def _fraction(whole: int, part: Fraction, step: Fraction, words: HeardUnit) -> list[str]:
    """ "three quarters", "one and three quarter inches", "four thirty seconds", "four over thirty two" ..."""
    raw = (int(part * step.denominator), step.denominator)
    lowest = (part.numerator, part.denominator)
    pairs = [lowest]
    if Fraction(*raw) == part and raw != lowest and step.denominator in unit_book().parts:
        # Tread is said in thirty-seconds whatever the fraction reduces to; other gauges in lowest terms.
        pairs = [raw, lowest] if step.denominator in words.bare_divisions else [lowest, raw]
    said = [(count, of, name) for count, of in pairs for name in unit_book().parts[of]]
    forms = _part(*said[0], whole, words)
    for count, of, names in said[1:]:
        forms += _bare(count, of, names, whole)
    count, of = pairs[0]
    over = f"{cardinal(count)} over {cardinal(of)}"
    return [*forms, f"{ways(whole)[0]} and {over}" if whole else over]


def _bare(count: int, of: int, names: tuple[str, str], whole: int) -> list[str]:
    """Without the unit: "three quarters", "a half", "one and three quarters"."""
    one, many = names
    if count > 1:
        forms = [f"{cardinal(count)} {many}"]
    elif of == 2 and not whole:
        forms = ["half", "a half", "one half"]
    else:
        forms = [f"{'an' if one[0] == 'e' else 'a'} {one}", f"one {one}"]
    return [f"{ways(whole)[0]} and {form}" for form in forms] if whole else forms


def _part(count: int, of: int, names: tuple[str, str], whole: int, words: HeardUnit) -> list[str]:
    """The usual name of the parts, in all its forms, with and without the unit."""
    one, many = names
    bare = _bare(count, of, names, whole)
    adjective = one if of < 32 else many  # "three quarter inches", but "five thirty seconds"
    if whole:
        head = ways(whole)[0]
        forms = bare + _join([f"{head} and {cardinal(count)} {adjective}"] if count > 1 else [], words.many)
        forms += _join(bare[:1], words.many)
        named = (words.one if whole == 1 else words.many)[:1]
        forms += [f"{head} {unit} and {bare[0].removeprefix(f'{head} and ')}" for unit in named]
        return forms + ([f"{head} {cardinal(count)} {many}"] if count > 1 else [])
    article = _article(words.one)
    if of == 2:
        return bare + [f"half {said} {unit}" for said in article for unit in words.one] + _join(["half"], words.one)
    forms = bare + [f"{bare[0]} of {said} {unit}" for said in article for unit in words.one]
    if of == 4 and count == 1:
        forms += [f"quarter of {said} {unit}" for said in article for unit in words.one] + _join(["quarter"], words.one)
    return forms + _join([f"{cardinal(count)} {one}"] if of < 32 else [], words.one)


def _clock(seconds: int) -> list[str]:
    """60 "one minute", 80 "one twenty", "one minute twenty", "one minute twenty seconds"."""
    minutes, rest = divmod(seconds, 60)
    if not minutes or minutes > 59:
        return []
    named = [f"{cardinal(minutes)} {'minute' if minutes == 1 else 'minutes'}"]
    named += ["a minute"] if minutes == 1 else []
    if not rest:
        return named
    link = "" if rest >= 10 else f"{number_words().zeros[0]} "
    pair = [f"{cardinal(minutes)} {link}{cardinal(rest)}"]
    return [
        *[f"{name}{link}{cardinal(rest)}" for name in named for link in (" ", f" {number_words().and_} ")],
        *[f"{name} {cardinal(rest)} {'second' if rest == 1 else 'seconds'}" for name in named],
        *([] if seconds < 60 else pair),
    ]
