"""The scheme, and order by longest increasing subsequence against brute force."""

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.rehearse.parts import PARTS, part
from voice.rehearse.listen.credited import Credit, Credited, PartCredit
from voice.rehearse.listen.score import Scheme, Whole, _longest_rise, score
from voice.rehearse.progress.report import spoken
from voice.rehearse.wording import rehearse_file

SCHEME = Scheme(source="x", caveat="x", needed_share=0.75, strays_let_pass=1)


def reading(said: dict[str, tuple[str, ...]], *, wrong: tuple[str, ...] = (), strays: int = 0) -> Credited:
    order = {key: at for at, key in enumerate(said)}
    return Credited(
        tuple(
            PartCredit(
                p.key,
                order.get(p.key),
                tuple(
                    Credit(
                        q.id,
                        "wrong" if f"{p.key}.{q.id}" in wrong else "said" if q.id in said.get(p.key, ()) else "missed",
                    )
                    for q in p.points
                ),
                strays,
            )
            for p in PARTS
        ),
        (),
    )


def full(keys: list[str]) -> dict[str, tuple[str, ...]]:
    return {p: tuple(q.id for q in next(x for x in PARTS if x.key == p).points) for p in keys}


def test_a_share_of_the_checks_is_needed() -> None:
    (result,) = [p for p in score(PARTS, reading({"alternator": ("mounted", "cracks", "wires")}), SCHEME).parts
                 if p.key == "alternator"]  # fmt: skip
    assert result.right  # three of four are 0.75
    pump = score(PARTS, reading({"water-pump": ("mounted", "leak")}), SCHEME)
    assert pump.points == 0  # two of three are not


def test_a_wrong_number_loses_the_part() -> None:
    said: dict[str, tuple[str, ...]] = {"alternator": ("mounted", "cracks", "wires")}
    assert score(PARTS, reading(said, wrong=("alternator.play",)), SCHEME).points == 0


def test_too_many_checks_of_other_parts_lose_the_part() -> None:
    assert score(PARTS, reading(full(["water-pump"]), strays=4), SCHEME).points == 1
    assert score(PARTS, reading(full(["water-pump"]), strays=5), SCHEME).points == 0


def test_the_air_brake_check_must_be_right_as_a_whole() -> None:
    """Model manual Sections 11.1.2 and 11M.1.2: all steps right, else the test is failed."""
    air = (
        part("cut-out", ("governor",), {"a": ("x",), "b": ("y",), "c": ("z",), "d": ("w",)}, section="air-brakes"),
        part("leak", ("leak test",), {"a": ("x",)}, section="air-brakes"),
    )
    scheme = SCHEME.model_copy(
        update={"whole": (Whole(id="air", title="Air brake check", section="air-brakes", source="x"),)}
    )

    def of(first: tuple[str, ...], second: tuple[str, ...]) -> tuple[str, ...]:
        credits = tuple(
            PartCredit(p.key, at, tuple(Credit(q.id, "said" if q.id in said else "missed") for q in p.points))
            for at, (p, said) in enumerate(zip(air, (first, second), strict=True))
        )
        return score(air, Credited(credits, ()), scheme).failed

    assert of(("a", "b", "c", "d"), ("a",)) == ()
    assert of(("a", "b", "c"), ("a",)) == ("Air brake check",)  # 3 of 4 earns the part, not the whole
    assert of(("a", "b", "c", "d"), ()) == ("Air brake check",)


def test_each_slip_costs_what_the_scheme_says() -> None:
    keys = [p.key for p in PARTS]
    keys[0], keys[1] = keys[1], keys[0]
    dear = SCHEME.model_copy(update={"order_slip_points": 0.5})
    assert score(PARTS, reading(full(keys)), SCHEME).points == len(PARTS)
    assert score(PARTS, reading(full(keys)), dear).points == len(PARTS) - 0.5


@given(st.permutations(list(range(7))))
@settings(max_examples=60, deadline=None)
def test_longest_rise_is_as_long_as_the_best_found_by_trying_all(order: list[int]) -> None:
    best = max(
        length for length in range(1, 8) for chosen in combinations(order, length) if list(chosen) == sorted(chosen)
    )
    kept = _longest_rise(order)
    assert len(kept) == best
    assert [n for n in order if n in kept] == sorted(kept)


def test_shipped_scheme_names_its_source_and_caveat() -> None:
    shipped = Scheme.shipped()
    assert "Section" in shipped.source
    assert "examiner" in shipped.caveat
    assert any(whole.id == "air-brake-check" for whole in shipped.whole)


def test_what_is_said_at_the_end_counts_and_never_passes_anyone() -> None:
    talk = rehearse_file().result
    keys = [p.key for p in PARTS]
    keys[0], keys[1] = keys[1], keys[0]
    lines = spoken(score(PARTS, reading(full(keys[:-1])), SCHEME, seconds=125.2), talk)
    assert lines[0] == f"{len(PARTS) - 1} of {len(PARTS)} parts right."
    assert lines[1:4] == ["1 not named.", "1 out of order.", "Time 2 minutes 5 seconds."]
    assert lines[-1] == talk.caveat
    assert not any("pass" in line.lower() for line in lines)
