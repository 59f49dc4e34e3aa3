"""Whole numbers in English words, as people say them: "one hundred twenty", "one twenty", "a hundred and twenty"."""

from __future__ import annotations

ONES = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
        "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen")  # fmt: skip
TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
LARGEST = 9_999


def short(n: int) -> str:
    """0..99: "forty two"."""
    if n < 20:
        return ONES[n]
    return TENS[n // 10] + (f" {ONES[n % 10]}" if n % 10 else "")


def cardinal(n: int) -> str:
    """0..9999, the plain American form without "and": "one thousand two hundred five"."""
    if not 0 <= n <= LARGEST:
        raise ValueError(f"{n} is not within 0 to {LARGEST}")
    parts = []
    if n >= 1000:
        parts.append(f"{ONES[n // 1000]} thousand")
    if n % 1000 >= 100:
        parts.append(f"{ONES[n % 1000 // 100]} hundred")
    if n % 100 or not parts:
        parts.append(short(n % 100))
    return " ".join(parts)


def ways(n: int) -> tuple[str, ...]:
    """All the usual ways of saying n (0..9999), best first, without repetition."""
    plain = cardinal(n)
    if n < 100:
        return (plain,)
    forms = [plain]
    rest = n % 100
    if n < 1000 and rest:
        hundreds = ONES[n // 100]
        forms += [f"{hundreds} oh {ONES[rest]}"] if rest < 10 else [f"{hundreds} {short(rest)}"]
    elif 1100 <= n < 10_000 and n // 100 % 10:
        forms.append(f"{short(n // 100)} hundred" + (f" {short(rest)}" if rest else ""))
    if rest:
        forms.append(f"{cardinal(n - rest)} and {short(rest)}")
    forms += ["a" + form.removeprefix("one") for form in forms if form.startswith(("one hundred", "one thousand"))]
    return tuple(dict.fromkeys(forms))


def digits(n: int) -> str:
    """Digit by digit: "one two zero"."""
    return " ".join(ONES[int(digit)] for digit in str(n))
