"""What part was being spoken of when, and which of its points were said. Pure: transcript in, credits out.

The transcript is cut into turns. A turn begins where a part is named and lasts until another is; which of the many
names heard really began a turn is decided by the cut that explains most of what was said (dynamic programming over
the names). Points count only inside a turn of their own part, each once; so nothing counts before the part is named,
and nothing is won by saying it again or elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from voice.rehearse.listen.credited import Credit, Credited, PartCredit, PartTurn
from voice.rehearse.listen.figures import SaidFigure
from voice.rehearse.listen.match import Finder, Hit, MatchThresholds, Pattern, pattern
from voice.rehearse.listen.part import PartPoint, RecitedPart
from voice.rehearse.listen.weight import weights
from voice.rehearse.listen.words import Token, TokenReader

_SURE = 0.93  # just above what two words that sound alike get
_SHORT = 4  # letters
_CLEARER = 0.3  # how much more a name must be worth to silence one inside it
_LOOK_AHEAD = 60  # names of other parts passed over within one turn, at most


@dataclass(frozen=True, slots=True)
class _Name:
    part: int
    start: int
    end: int
    gain: float


class Examiner:
    """Judges transcripts of a recital of these parts, in this order."""

    def __init__(self, parts: Sequence[RecitedPart], reader: TokenReader, thresholds: MatchThresholds) -> None:
        self.parts = tuple(parts)
        self._reader = reader
        self._set = thresholds
        weight = weights(parts, reader)
        self._names = [
            [made for name in part.names if (made := pattern(name, reader, weight)) is not None] for part in parts
        ]
        self._points = [[_patterns(point, reader, weight) for point in part.points] for part in parts]
        self._telling = weight

    def read(self, utterances: Sequence[str]) -> Credited:
        """Judge everything said so far, oldest first."""
        return self.judge(self._reader.stream(utterances))

    def judge(self, tokens: Sequence[Token]) -> Credited:
        finder = Finder(tokens, self._set)
        points = [[_best(finder, patterns, self._set.point) for patterns in of_part] for of_part in self._points]
        names = self._find_names(finder, tokens)
        turns = self._cut(names, points, tokens)
        credits = [self._credit(index, turns, points, tokens) for index in range(len(self.parts))]
        return Credited(tuple(credits), tuple(turns))

    # --- names and the cut into turns

    def _find_names(self, finder: Finder, tokens: Sequence[Token]) -> list[_Name]:
        found: list[_Name] = []
        for index, patterns in enumerate(self._names):
            best: dict[int, _Name] = {}
            for name in patterns:
                worth = _worth(name, self._telling)
                for hit in finder.find(name, self._set.name, ordered=True):
                    starts = tokens[hit.start].starts
                    short = name.length == 1 and (not starts or len(name.letters) <= _SHORT)
                    if short and hit.score < _SURE:
                        continue  # one word, short or in mid-sentence, and misheard: it would be found in any talk
                    bonus = self._set.start_bonus if starts else 0.0
                    made = _Name(index, hit.start, hit.end, _sure(hit.score) * worth + bonus)
                    if made.gain > best.get(hit.start, _Name(index, 0, 0, 0.0)).gain:
                        best[hit.start] = made
            kept: list[_Name] = []
            for candidate in sorted(best.values(), key=lambda n: -n.gain):
                if not any(candidate.start < k.end and k.start < candidate.end for k in kept):
                    kept.append(candidate)
            found += kept
        # "power steering" is not taken for the power steering hoses where "power steering fluid" was said
        clear = [
            name
            for name in found
            if not any(
                other.gain > name.gain + _CLEARER and other.start <= name.start and name.end <= other.end
                for other in found
            )
        ]
        return sorted(clear, key=lambda n: (n.start, n.end, n.part))

    def _cut(self, names: Sequence[_Name], points: list[list[list[Hit]]], tokens: Sequence[Token]) -> list[PartTurn]:
        """The best sequence of names that begin turns. best[i]: worth of all from name i on, if it begins a turn."""
        count = len(names)
        best = [0.0] * count
        follow: list[int | None] = [None] * count
        for at in range(count - 1, -1, -1):
            name = names[at]
            choice: tuple[float, int | None] = (self._body(name, len(tokens), names[at + 1 :], points, tokens), None)
            for later in range(at + 1, min(count, at + _LOOK_AHEAD)):
                if names[later].start < name.end:
                    continue
                here = self._body(name, names[later].start, names[at + 1 : later], points, tokens)
                same = names[later].part == name.part  # its name again brings nothing new
                step = -names[later].gain if same else self._step(name.part, names[later].part)
                if here + step + best[later] > choice[0]:
                    choice = (here + step + best[later], later)
            best[at] = name.gain + choice[0]
            follow[at] = choice[1]
        # What comes before the first turn is passed over, at a cost for the names in it.
        start, top, passed = None, 0.0, 0.0
        for at in range(count):
            if best[at] - passed > top:
                start, top = at, best[at] - passed
            passed += self._set.ignore * names[at].gain * 0.5
        turns: list[PartTurn] = []
        while start is not None:
            following = follow[start]
            end = len(tokens) if following is None else names[following].start
            key = self.parts[names[start].part].key
            if turns and turns[-1].key == key:  # its name said again within its turn
                turns[-1] = replace(turns[-1], end=end)
            else:
                turns.append(PartTurn(key, names[start].start, names[start].end, end))
            start = following
        return turns

    def _step(self, previous: int, following: int) -> float:
        bonus = self._set.next_bonus if following == previous + 1 else 0.0
        return bonus - self._set.switch - 0.01 * min(abs(following - previous - 1), 10)

    def _body(
        self,
        name: _Name,
        end: int,
        passed: Sequence[_Name],
        points: list[list[list[Hit]]],
        tokens: Sequence[Token],
    ) -> float:
        """What a turn from this name to end explains, less the names of other parts it passes over."""
        own = [
            max(
                (hit for hit in hits if hit.start >= name.start and hit.end <= end), key=lambda h: h.score, default=None
            )
            for hits in points[name.part]
        ]
        gain = sum(hit.score for hit in own if hit is not None)
        for point in self.parts[name.part].points:
            if point.numeric and any(_right(point, token) for token in tokens[name.end : end]):
                gain += 0.5
        covered = [(name.start, name.end), *((hit.start, hit.end) for hit in own if hit is not None)]
        for other in passed:
            if other.part != name.part and not any(other.start < e and s < other.end for s, e in covered):
                gain -= self._set.ignore * other.gain
        return gain

    # --- credits

    def _credit(
        self, index: int, turns: Sequence[PartTurn], points: list[list[list[Hit]]], tokens: Sequence[Token]
    ) -> PartCredit:
        part = self.parts[index]
        own = [turn for turn in turns if turn.key == part.key]
        if not own:
            return PartCredit(part.key, None, tuple(Credit(point.id, "missed") for point in part.points))
        credits = tuple(
            _number(point, own, tokens, part) if point.numeric else _words(point, hits, own, tokens)
            for point, hits in zip(part.points, points[index], strict=True)
        )
        return PartCredit(part.key, own[0].start, credits, self._strays(index, own, points, credits))

    def _strays(
        self, index: int, own: Sequence[PartTurn], points: list[list[list[Hit]]], credits: Sequence[Credit]
    ) -> int:
        """Different checks heard in this part's turns that are only other parts' (by place, so that no check counts
        for several parts that share it)."""
        mine = [(hit.start, hit.end) for hits in points[index] for hit in hits]
        places: list[tuple[int, int]] = []
        texts: set[str] = set()
        for other, of_part in enumerate(points):
            if other == index:
                continue
            for point, hits in zip(self.parts[other].points, of_part, strict=True):
                for hit in hits:
                    inside = any(turn.body <= hit.start and hit.end <= turn.end for turn in own)
                    clear = not any(hit.start < e and s < hit.end for s, e in mine + places)
                    if inside and clear and point.say[0] not in texts:
                        places.append((hit.start, hit.end))
                        texts.add(point.say[0])
        return len(places)


def _patterns(point: PartPoint, reader: TokenReader, weight: dict[str, float]) -> list[Pattern]:
    if point.numeric:
        return []
    return [made for phrase in point.say if (made := pattern(phrase, reader, weight)) is not None]


def _worth(name: Pattern, weight: dict[str, float]) -> float:
    """A name of two or three telling words is worth more than one common word."""
    return min(sum(weight.get(stem, 1.0) for stem in name.stems), 2.5)


def _sure(score: float) -> float:
    """A name just above the threshold is weak evidence: 0 at 0.6, 1 at a perfect match."""
    return max(0.0, (score - 0.6) / 0.4)


def _best(finder: Finder, patterns: Sequence[Pattern], least: float) -> list[Hit]:
    return [hit for wanted in patterns for hit in finder.find(wanted, least)]


def _words(point: PartPoint, hits: Sequence[Hit], own: Sequence[PartTurn], tokens: Sequence[Token]) -> Credit:
    # it may reach back into the name ("heater works"), but the name alone says nothing of what was checked
    inside = [
        hit
        for hit in hits
        if any(t.start <= hit.start and hit.end <= t.end and _beyond(hit, t.body, tokens) for t in own)
    ]
    if not inside:
        return Credit(point.id, "missed")
    hit = max(inside, key=lambda h: h.score)
    return Credit(point.id, "said", _text(tokens[hit.start : hit.end]), hit.score)


def _stated(point: PartPoint, token: Token) -> list[Fraction]:
    """What the number can mean in the unit of this point's limit; empty if it is of another unit."""
    units = {wanted.unit for wanted in point.wanted}
    return [base.value for figure in token.figures if (base := _base(figure)).unit in units]


def _right(point: PartPoint, token: Token) -> bool:
    """The number is one that is right; a unit that was left out is taken to be the right one."""
    return any(
        (base := _base(figure)).unit in (wanted.unit, None) and wanted.holds(base.value)
        for figure in token.figures
        for wanted in point.wanted
    )


def _base(figure: SaidFigure) -> SaidFigure:
    return SaidFigure(figure.value * 60, "s") if figure.unit == "min" else figure


def _number(point: PartPoint, own: Sequence[PartTurn], tokens: Sequence[Token], part: RecitedPart) -> Credit:
    """Said: a right number, and no wrong one after it. One wrong number before it is forgiven, as a slip that was
    corrected; more are not, so that counting through the numbers wins nothing."""
    spoken = [token for turn in own for token in tokens[turn.body : turn.end] if token.role == "figure"]
    others = [other for other in part.points if other is not point and other.numeric]
    right = [at for at, token in enumerate(spoken) if _right(point, token)]
    wrong = [
        at
        for at, token in enumerate(spoken)
        if at not in right and _stated(point, token) and not any(_right(other, token) for other in others)
    ]
    heard = ", ".join(token.text for token in spoken)
    different = {tuple(_stated(point, spoken[at])) for at in wrong}
    if right and len(different) <= 1 and not (wrong and wrong[-1] > right[-1]):
        return Credit(point.id, "said", heard, 1.0)
    return Credit(point.id, "wrong" if wrong else "missed", heard)


def _beyond(hit: Hit, body: int, tokens: Sequence[Token]) -> bool:
    """Something telling was said after the name."""
    return any(token.role in ("word", "figure") for token in tokens[max(body, hit.start) : hit.end])


def _text(tokens: Sequence[Token]) -> str:
    return " ".join(token.text for token in tokens)
