"""How words are said, in ARPABET: of the dictionary that comes with pocketsphinx (CMU, BSD), else by us."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from voice.errors import SetupError

REPAIR = "Run: pip install --force-reinstall pocketsphinx"

# Words of the trade and spoken variants. From memory of how they are said, no source.
KNOWN: dict[str, tuple[str, ...]] = {
    "psi": ("P IY EH S AY",),
    "okay": ("OW K EY", "AH K EY", "M K EY"),
    "gladhand": ("G L AE D HH AE N D", "G L AE D HH AE N"),
    "gladhands": ("G L AE D HH AE N D Z", "G L AE D HH AE N Z"),
    "kingpin": ("K IH NG P IH N",),
    "mudflap": ("M AH D F L AE P",),
    "mudflaps": ("M AH D F L AE P S",),
    "pushrod": ("P UH SH R AA D",),
    "airline": ("EH R L AY N",),
    "headboard": ("HH EH D B AO R D",),
    "dipstick": ("D IH P S T IH K",),
    "sidewall": ("S AY D W AO L",),
    "lugnut": ("L AH G N AH T",),
    "unladen": ("AH N L EY D AH N",),
    "millimeters": ("M IH L AH M IY T ER Z",),
    "delaminated": ("D IY L AE M AH N EY T IH D",),
}

# Longest first; letters not matched are silent. A rough letter-to-sound rule set: good enough to be told apart
# among a few dozen phrases, and only used for words in no dictionary.
_RULES: tuple[tuple[str, str], ...] = (
    ("tion", "SH AH N"), ("sion", "ZH AH N"), ("ough", "AO"), ("augh", "AO"), ("eigh", "EY"), ("igh", "AY"),
    ("tch", "CH"), ("dge", "JH"), ("sch", "S K"), ("ch", "CH"), ("sh", "SH"), ("th", "TH"), ("ph", "F"),
    ("wh", "W"), ("ck", "K"), ("ng", "NG"), ("qu", "K W"), ("kn", "N"), ("wr", "R"), ("ee", "IY"), ("ea", "IY"),
    ("oo", "UW"), ("oa", "OW"), ("ou", "AW"), ("ow", "AW"), ("oi", "OY"), ("oy", "OY"), ("ai", "EY"),
    ("ay", "EY"), ("au", "AO"), ("aw", "AO"), ("ie", "IY"), ("ei", "IY"), ("ue", "UW"), ("ar", "AA R"),
    ("er", "ER"), ("ir", "ER"), ("or", "AO R"), ("ur", "ER"), ("bb", "B"), ("cc", "K"), ("dd", "D"), ("ff", "F"),
    ("gg", "G"), ("ll", "L"), ("mm", "M"), ("nn", "N"), ("pp", "P"), ("rr", "R"), ("ss", "S"), ("tt", "T"),
    ("zz", "Z"), ("ce", "S"), ("ci", "S IH"), ("cy", "S IY"), ("ge", "JH"), ("a", "AE"), ("b", "B"), ("c", "K"),
    ("d", "D"), ("e", "EH"), ("f", "F"), ("g", "G"), ("h", "HH"), ("i", "IH"), ("j", "JH"), ("k", "K"),
    ("l", "L"), ("m", "M"), ("n", "N"), ("o", "AA"), ("p", "P"), ("r", "R"), ("s", "S"), ("t", "T"), ("u", "AH"),
    ("v", "V"), ("w", "W"), ("x", "K S"), ("y", "IY"), ("z", "Z"),
)  # fmt: skip


def pronunciations(word: str) -> tuple[str, ...]:
    """At least one pronunciation of any word: ours if we have it, else by the rules."""
    if word in KNOWN:
        return KNOWN[word]
    phones: list[str] = []
    silent_end = len(word) > 3 and word.endswith("e") and word[-2] not in "aeiou"
    letters = word[:-1] if silent_end else word
    at = 0
    while at < len(letters):
        for spelling, sound in _RULES:
            if letters.startswith(spelling, at):
                phones += sound.split()
                at += len(spelling)
                break
        else:
            at += 1
    return (" ".join(phones) or "AH",)


class Dictionary:
    """CMU's pronouncing dictionary of US English. Words that it lacks are spelled out by rules."""

    def __init__(self, file: Path) -> None:
        """Raises SetupError if it cannot be read."""
        try:
            self._lines = b"\n" + file.read_bytes()
        except OSError as error:
            raise SetupError(f"The pronouncing dictionary cannot be read: {error}.", REPAIR) from error
        self._known = cache(self._looked_up)

    def phones(self, word: str) -> tuple[str, ...]:
        """Without stress, as one says it most often."""
        return self._known(word.lower())

    def _looked_up(self, word: str) -> tuple[str, ...]:
        if word in KNOWN:
            return tuple(KNOWN[word][0].split())
        for entry in (word, word + "."):  # "p." is the letter
            key = b"\n" + entry.encode() + b" "
            if (at := self._lines.find(key)) >= 0:
                at += len(key)
                return tuple(self._lines[at : self._lines.index(b"\n", at)].decode().split())
        return tuple(pronunciations(word)[0].split())
