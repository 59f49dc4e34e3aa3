"""Numbers in English words: as the program tells them, and as people say them ("one hundred twenty", "one twenty").

Never a hyphen, so that a synthetic voice and a recognizer take the words as they are.
"""

from __future__ import annotations

from voice.measure.book import number_words

LARGEST = 9_999  # the largest number that a driver is expected to say


def cardinal(n: int) -> str:
    """A whole number in the plain American form without "and": 125 is "one hundred twenty five"."""
    words = number_words()
    if n < 0:
        return f"{words.minus} {cardinal(-n)}"
    if n < 20:
        return words.ones[n]
    if n < 100:
        return words.tens[n // 10 - 2] + (f" {words.ones[n % 10]}" if n % 10 else "")
    for size, name in ((1_000_000, words.million), (1_000, words.thousand), (100, words.hundred)):
        if n >= size:
            many, rest = divmod(n, size)
            return f"{cardinal(many)} {name}" + (f" {cardinal(rest)}" if rest else "")
    raise AssertionError(n)


def decimal(text: str) -> str:
    """Decimal text in words: "3.2" is "three point two"."""
    words = number_words()
    negative, text = text.startswith("-"), text.removeprefix("-")
    whole, _, places = text.partition(".")
    said = cardinal(int(whole))
    if places:
        said += f" {words.point} {digits(places)}"
    return f"{words.minus} {said}" if negative else said


def digits(text: int | str) -> str:
    """Digit by digit: "one two zero"."""
    ones = number_words().ones
    return " ".join(ones[int(digit)] for digit in str(text))


def ways(n: int) -> tuple[str, ...]:
    """All the usual ways of saying n, best first, without repetition. Raises ValueError outside 0 to LARGEST."""
    if not 0 <= n <= LARGEST:
        raise ValueError(f"{n} is not within 0 to {LARGEST}")
    plain = cardinal(n)
    if n < 100:
        return (plain,)
    words = number_words()
    one, hundred, thousand = words.ones[1], words.hundred, words.thousand
    forms = [plain]
    rest = n % 100
    if n < 1000 and rest:
        hundreds = words.ones[n // 100]
        forms += [f"{hundreds} {words.zeros[0]} {words.ones[rest]}"] if rest < 10 else [f"{hundreds} {cardinal(rest)}"]
    elif n >= 1100 and n // 100 % 10:
        forms.append(f"{cardinal(n // 100)} {hundred}" + (f" {cardinal(rest)}" if rest else ""))
    if rest:
        forms.append(f"{cardinal(n - rest)} {words.and_} {cardinal(rest)}")
    begins = (f"{one} {hundred}", f"{one} {thousand}")
    forms += ["a" + form.removeprefix(one) for form in forms if form.startswith(begins)]
    return tuple(dict.fromkeys(forms))
