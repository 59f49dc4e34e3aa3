"""How telling a word is among the words of these parts: "alternator" tells more than "loose"."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from voice.rehearse.listen.part import RecitedPart
from voice.rehearse.listen.words import TokenReader


def weights(parts: Sequence[RecitedPart], reader: TokenReader) -> dict[str, float]:
    """Inverse document frequency (Spärck Jones 1972) of each stem over the parts, scaled to 0.4..1."""
    seen: Counter[str] = Counter()
    for part in parts:
        phrases = [*part.names, *(phrase for point in part.points for phrase in point.say)]
        seen.update({token.stem for phrase in phrases for token in reader.tokens(phrase) if token.role == "word"})
    top = math.log(len(parts) + 1)
    if top == 0:
        return dict.fromkeys(seen, 1.0)
    return {word: 0.4 + 0.6 * math.log((len(parts) + 1) / count) / top for word, count in seen.items()}
