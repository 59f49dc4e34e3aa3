"""Fits the numbers of voice/hear/thresholds.py to collected trials of the tuning group and prints them.

    python -m tests.benchmarks.hearing.tune ROWS.jsonl ...

A logistic regression on the clues (voice.hear.fusion.clues) gives the probability that the best guess is right;
the bars are then the lowest at which the tuning trials have no more wrong answers than asked for.
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize

from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.report import evidence
from voice.hear.fusion import CLUES, clues, kind
from voice.hear.thresholds import DEFAULT, Thresholds
from voice.understand.meaning import MEANING


def features(row: dict[str, Any], thresholds: Thresholds) -> tuple[np.ndarray[Any, Any], Any] | None:
    """Clues of the best guess, and the guess."""
    if not row["first"]:
        return None
    found = clues(shipped()[row["question"]], evidence(row), thresholds)
    return None if found is None else (np.array(found.values), found.meaning)


def fit(x: np.ndarray[Any, Any], y: np.ndarray[Any, Any], ridge: float = 0.02) -> np.ndarray[Any, Any]:
    """Weights of a logistic regression, the constant last."""
    full = np.hstack([x, np.ones((len(x), 1))])

    def loss(w: np.ndarray[Any, Any]) -> tuple[float, np.ndarray[Any, Any]]:
        z = full @ w
        value = np.logaddexp(0, -z * (2 * y - 1)).mean() + ridge / len(x) * 50 * (w[:-1] ** 2).sum()
        grad = full.T @ (1 / (1 + np.exp(-z)) - y) / len(x)
        grad[:-1] += 2 * ridge / len(x) * 50 * w[:-1]
        return float(value), grad

    found = minimize(loss, np.zeros(full.shape[1]), jac=True, method="L-BFGS-B")
    return np.asarray(found.x)


def main(files: list[str]) -> None:
    rows = [json.loads(line) for file in files for line in Path(file).read_text().splitlines()]
    print(len(rows), "rows")
    for weight in (0.4, 0.5, 0.6):
        cases = [(row, found) for row in rows if (found := features(row, replace(DEFAULT, second_weight=weight)))]
        x = np.array([found[0] for _, found in cases])
        y = np.array([MEANING.dump_python(found[1], mode="json") == row["meaning"] for row, found in cases], float)
        meant = np.array([row["meaning"] is not None for row, _ in cases])
        kinds = np.array([kind(found[1]) for _, found in cases])
        numeric = kinds == "number"
        print(f"\nweight {weight}: best guess right {y[meant].mean():.3f} of {meant.sum()}; ", end="")
        print({k: f"{y[meant & (kinds == k)].mean():.3f}/{(meant & (kinds == k)).sum()}" for k in sorted(set(kinds))})
        for name, part in (("words", ~numeric), ("numbers", numeric)):
            if part.sum() < 50:
                continue
            w = fit(x[part], y[part])
            chance = 1 / (1 + np.exp(-(x[part] @ w[:-1] + w[-1])))
            print(name, dict(zip((*CLUES, "constant"), w.round(3).tolist(), strict=True)))
            order = np.argsort(-chance)
            right, count = np.cumsum(y[part][order]), np.arange(1, part.sum() + 1)
            for bar in (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 0.99):
                n = int((chance >= bar).sum())
                if n:
                    total = (meant & part).sum()
                    good, bad = right[n - 1], count[n - 1] - right[n - 1]
                    print(f"  p>={bar}: taken {n}, right {good:.0f} ({good / total:.3f}), wrong {bad:.0f}")


if __name__ == "__main__":
    main(sys.argv[1:])
