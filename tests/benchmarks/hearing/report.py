"""Tables, JSON and a plot from collected rows."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Callable, Container, Iterable, Sequence
from pathlib import Path
from typing import Any

from tests.benchmarks.hearing.questions import shipped
from voice.hear.decoys import decoys
from voice.hear.fusion import Opinions, decide
from voice.hear.transformer import Judged, Spelled
from voice.understand.meaning import MEANING

Row = dict[str, Any]
KINDS = ("ok", "defect", "command", "number", "other")
ENGINES = ("decoder", "second head", "fusion")


def load_rows(files: Iterable[Path]) -> list[Row]:
    rows = (json.loads(line) for file in files for line in file.read_text().splitlines())
    return [redecided(row) for row in rows if _still_asked(row)]


def _still_asked(row: Row) -> bool:
    """Whether the shipped routes still ask this and its answer still means what it did when the row was made."""
    question = shipped().get(row["question"])
    if question is None:
        return False
    now = question.meanings.get(row["text"])
    return bool((now and MEANING.dump_python(now, mode="json")) == row["meaning"])


def redecided(row: Row) -> Row:
    """The row with what the fusion decides now from the scores that were kept (after a change of thresholds)."""
    if not row["ear"]:
        return row
    decision = decide(shipped()[row["question"]], evidence(row))
    phrase = decision.phrase if decision.outcome in ("heard", "unsure") else None
    heard = phrase and MEANING.dump_python(phrase.meaning, mode="json")
    words = phrase.text if phrase else row["ear"]["free"]
    return row | {"outcome": decision.outcome, "heard": heard, "words": words, "confidence": decision.confidence}


def evidence(row: Row) -> Opinions:
    """The model's opinions as they were, of what would be asked now."""
    phrases = shipped()[row["question"]].meanings
    return Opinions(judged(row["ear"], {*phrases, *decoys(phrases)}), row["snr_db"])


def judged(kept: dict[str, Any], asked: Container[str]) -> Judged:
    scores, spelled = ({t: v for t, v in kept[name].items() if t in asked} for name in ("scores", "spelled"))
    return Judged(
        scores, kept["nothing"], kept["free"], kept["free_score"], Spelled(spelled, kept["best"], kept["none"])
    )


def snr_name(row: Row) -> str:
    return "quiet" if row["snr"] is None else f"{row['snr']:g} dB"


def result(row: Row, engine: str = "fusion") -> str:
    """right, confirmed (right guess, asked back), asked (again), wrong (acted on), doubt (wrong guess, asked back).

    An engine alone always takes its favorite. For trials that answer nothing: asked is what is wanted, wrong a
    false accept.
    """
    if engine != "fusion":
        favorite = _favorite(row, engine)
        if favorite is None:
            return "asked"
        return "right" if favorite == row["meaning"] else "wrong"
    good = row["heard"] == row["meaning"] and row["meaning"] is not None
    match row["outcome"]:
        case "heard":
            return "right" if good else "wrong"
        case "unsure":
            return "confirmed" if good else "doubt"
        case _:
            return "asked"


def _favorite(row: Row, engine: str) -> Any:
    meanings = shipped()[row["question"]].meanings
    if not row["ear"]:
        return None
    heard = evidence(row).ear
    scores = heard.scores if engine == "decoder" else heard.spelled.scores
    text = max(scores, key=lambda text: scores[text], default=None)
    return None if text is None or text not in meanings else MEANING.dump_python(meanings[text], mode="json")


def is_ok(meaning: Any) -> bool:
    return bool(meaning) and meaning["kind"] == "ok"


def defect_as_ok(rows: Sequence[Row]) -> tuple[int, int, int]:
    """How many defects were tried, taken as OK, and asked back as "did you say okay"."""
    defects = [row for row in rows if row["kind"] == "defect"]
    taken = sum(row["outcome"] == "heard" and is_ok(row["heard"]) for row in defects)
    doubted = sum(row["outcome"] == "unsure" and is_ok(row["heard"]) for row in defects)
    return len(defects), taken, doubted


def table(rows: Sequence[Row], key: Callable[[Row], str], engine: str = "fusion") -> list[list[str]]:
    """One line a key: trials, and percent right, confirmed, asked again, wrong, doubt."""
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for row in rows:
        counts[key(row)][result(row, engine)] += 1
    lines = []
    for name in sorted(counts, key=_order):
        total = sum(counts[name].values())
        share = [
            f"{100 * counts[name][what] / total:.1f}" for what in ("right", "confirmed", "asked", "wrong", "doubt")
        ]
        lines.append([name, str(total), *share])
    return lines


def _order(name: str) -> tuple[str, int, str]:
    head, _, tail = name.rpartition(" | ")
    levels = {"quiet": 0, "20 dB": 1, "10 dB": 2, "5 dB": 3, "0 dB": 4}
    return head, levels.get(tail, 9), name


def markdown(head: Sequence[str], lines: Sequence[Sequence[str]]) -> str:
    rule = ["---"] * len(head)
    return "\n".join("| " + " | ".join(cells) + " |" for cells in (head, rule, *lines))


def quantile(values: Sequence[float], share: float) -> float:
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else 0.0


def latency(rows: Sequence[Row]) -> dict[str, float]:
    """Seconds from the end of the answer to the decision. audio: by the audio alone (same on every machine).

    live: with the time the model takes on one core, which runs while the pause is still being waited for.
    compute: processor time of all the model's runs of an answer. share: of that over what was listened to.
    """
    heard = [row for row in rows if row["outcome"] == "heard" and row["meaning"]]
    audio = [row["decided"] - row["end"] for row in heard]
    live = []
    for row in heard:
        early = row["decided"] - row["ended"] < 0.45
        done = row["ended"] + 0.1 + row["calls"][-1] if early else row["decided"]
        live.append(max(row["decided"], done) - row["end"])
    spent = [row["compute"] for row in rows if row["ear"]]
    share = sum(spent) / max(1e-9, sum(row["decided"] for row in rows if row["ear"]))
    return {
        "audio median": quantile(audio, 0.5), "audio p95": quantile(audio, 0.95),
        "live median": quantile(live, 0.5), "live p95": quantile(live, 0.95),
        "compute median": quantile(spent, 0.5), "compute p95": quantile(spent, 0.95), "compute share": share,
    }  # fmt: skip


def confusions(rows: Sequence[Row]) -> list[list[str]]:
    """Everything acted on wrongly, and the guesses asked back that were wrong."""
    lines = []
    for row in rows:
        if (what := result(row)) in ("wrong", "doubt"):
            said = row["text"] or "(noise)"
            lines.append([what, said, row["words"], row["question"], row["speaker"], str(row["noise"]), snr_name(row)])
    return sorted(lines, reverse=True)


def report(rows: Sequence[Row]) -> str:
    """The whole report as Markdown."""
    answers = [row for row in rows if row["meaning"]]
    head = ["", "trials", "right %", "confirmed %", "asked again %", "wrong %", "wrong guess asked back %"]
    parts = [
        f"{len(rows)} trials, {len({row['speaker'] for row in rows})} speakers (recorded corpora count as one each)."
    ]
    for engine in ENGINES:
        parts += [f"## {engine}, by noise", markdown(head, table(answers, snr_name, engine))]
    parts += ["## fusion, by kind and noise"]
    parts += [markdown(head, table(answers, lambda row: f"{row['kind']} | {snr_name(row)}"))]
    human = [row for row in answers if row["speaker"].startswith(("real", "neural"))]
    parts += ["## fusion, recorded people and the neural voice alone, by noise", markdown(head, table(human, snr_name))]
    parts += ["## fusion, by speaker", markdown(head, table(answers, lambda row: row["speaker"]))]
    parts += ["## fusion, by noise source", markdown(head, table(answers, lambda row: str(row["noise"])))]
    tried, taken, doubted = defect_as_ok(rows)
    upper = 3 / tried if tried and not taken else 0
    limit = f" (none seen: below {upper:.2%} with 95 % confidence, rule of three)" if upper else ""
    loud = [row for row in answers if row["snr"] is None or row["snr"] >= 10]
    wrong = sum(result(row) == "wrong" for row in loud)
    parts += [
        "## safety",
        f"- A defect taken as OK: {taken} of {tried}{limit}; asked back as OK: {doubted}.",
        f"- Accepted but wrong, quiet to 10 dB: {wrong} of {len(loud)} ({wrong / max(1, len(loud)):.2%}).",
    ]
    for kind, name in (("strange", "Speech that answers nothing"), ("noise", "Noise alone")):
        some = [row for row in rows if row["kind"] == kind]
        accepted = [row for row in some if row["outcome"] == "heard"]
        oks = sum(is_ok(row["heard"]) for row in accepted)
        hours = sum(row["decided"] for row in some) / 3600
        parts.append(f"- {name}: {len(accepted)} of {len(some)} taken for an answer, {oks} for OK ({hours:.2f} h).")
    figures = latency(rows)
    parts += ["## latency", "\n".join(f"- {name}: {value:.3f}" for name, value in figures.items())]
    columns = ["", "said", "heard", "question", "speaker", "noise", "level"]
    parts += ["## what was mistaken", markdown(columns, confusions(rows))]
    return "\n\n".join(parts) + "\n"


def summary(rows: Sequence[Row]) -> dict[str, Any]:
    """The same figures for machines."""
    answers = [row for row in rows if row["meaning"]]
    tried, taken, doubted = defect_as_ok(rows)
    by = {
        engine: {
            f"{kind} {level}": dict(
                Counter(result(row, engine) for row in answers if row["kind"] == kind and snr_name(row) == level)
            )
            for kind in KINDS
            for level in ("quiet", "20 dB", "10 dB", "5 dB", "0 dB")
        }
        for engine in ENGINES
    }
    return {
        "trials": len(rows), "engines": by, "defects": tried, "defects as ok": taken, "defects doubted ok": doubted,
        "latency": latency(rows), "strange": dict(Counter(result(r) for r in rows if r["kind"] == "strange")),
        "noise": dict(Counter(result(r) for r in rows if r["kind"] == "noise")),
    }  # fmt: skip


def plot(rows: Sequence[Row], path: Path) -> None:
    """Accuracy against noise: each engine's right answers, and the fusion's right or confirmed and wrong."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    levels = ("quiet", "20 dB", "10 dB", "5 dB", "0 dB")
    answers = [row for row in rows if row["meaning"]]
    figure, (left, right) = pyplot.subplots(1, 2, figsize=(11, 4.2), layout="constrained")
    for engine, mark in zip(ENGINES, ("o--", "^--", "D-"), strict=True):
        share = []
        for level in levels:
            some = [result(row, engine) for row in answers if snr_name(row) == level]
            share.append(100 * sum(what in ("right", "confirmed") for what in some) / max(1, len(some)))
        left.plot(levels, share, mark, label=engine if engine != "fusion" else "fusion (right or asked back)")
    left.set(ylabel="best guess right, %", xlabel="speech over noise", ylim=(0, 101), title="Right answers")
    left.legend()
    left.grid(alpha=0.3)
    bottom = [0.0] * len(levels)
    colors = {"right": "#2a7f4f", "confirmed": "#8fc9a3", "asked": "#d9d9d9", "doubt": "#f2b366", "wrong": "#c0392b"}
    for what, color in colors.items():
        share = []
        for level in levels:
            some = [result(row) for row in answers if snr_name(row) == level]
            share.append(100 * some.count(what) / max(1, len(some)))
        right.bar(levels, share, bottom=bottom, color=color, label=what)
        bottom = [a + b for a, b in zip(bottom, share, strict=True)]
    right.set(ylabel="% of answers", xlabel="speech over noise", title="What the ear does")
    right.legend(loc="lower left")
    figure.savefig(path, dpi=110)
    pyplot.close(figure)
