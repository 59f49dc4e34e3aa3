"""Fits the numbers of voice/hear/thresholds.py to collected trials of the tuning group and prints them.

    python -m tests.benchmarks.hearing.tune ROWS.jsonl ...

A logistic regression on the clues (voice.hear.fusion.clues) gives the probability that the best guess is right;
what is printed of each kind of answer tells how high its bar has to be for nothing wrong above it.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize

from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.report import evidence
from voice.hear.fusion import CLUES, clues, kind
from voice.hear.thresholds import DEFAULT, Thresholds
from voice.understand.meaning import MEANING

# What may speak for a guess (1) and what against it (-1), in the order of CLUES: of few wrong guesses a fit would learn
# the contrary of some.
SIGNS = (1, 1, -1, -1, 1, 1, 1, -1, -1)
NEAR = 0.3  # how much a word near an okay counts: there are many more of them in the rows than a driver says


def features(row: dict[str, Any], thresholds: Thresholds) -> tuple[np.ndarray[Any, Any], Any] | None:
    """Clues of the best guess, and the guess."""
    if not row["ear"]:
        return None
    found = clues(shipped()[row["question"]], evidence(row), thresholds)
    return None if found is None else (np.array(found.values), found.meaning)


def fit(
    x: np.ndarray[Any, Any], y: np.ndarray[Any, Any], counts: np.ndarray[Any, Any], ridge: float = 1.0
) -> np.ndarray[Any, Any]:
    """Weights of a logistic regression, none against its sign, the constant last. counts: how much each case counts."""
    full, shares = np.hstack([x, np.ones((len(x), 1))]), counts / counts.mean()

    def loss(w: np.ndarray[Any, Any]) -> tuple[float, np.ndarray[Any, Any]]:
        z = full @ w
        value = (shares * np.logaddexp(0, -z * (2 * y - 1))).mean() + ridge / len(x) * 50 * (w[:-1] ** 2).sum()
        grad = full.T @ (shares * (1 / (1 + np.exp(-z)) - y)) / len(x)
        grad[:-1] += 2 * ridge / len(x) * 50 * w[:-1]
        return float(value), grad

    bounds = [(0, None) if sign > 0 else (None, 0) for sign in SIGNS] + [(None, None)]
    found = minimize(loss, np.zeros(full.shape[1]), jac=True, method="L-BFGS-B", bounds=bounds)
    return np.asarray(found.x)


def main(files: list[str]) -> None:
    rows = [json.loads(line) for file in files for line in Path(file).read_text().splitlines()]
    print(len(rows), "rows")
    cases = [(row, found) for row in rows if (found := features(row, DEFAULT))]
    x = np.array([found[0] for _, found in cases])
    y = np.array([MEANING.dump_python(found[1], mode="json") == row["meaning"] for row, found in cases], float)
    meant = np.array([row["meaning"] is not None for row, _ in cases])
    kinds = np.array([kind(found[1]) for _, found in cases])
    counts = np.array([NEAR if row["kind"] == "near" else 1.0 for row, _ in cases])
    print(f"best guess right {y[meant].mean():.3f} of {meant.sum()}; ", end="")
    print({k: f"{y[meant & (kinds == k)].mean():.3f}/{(meant & (kinds == k)).sum()}" for k in sorted(set(kinds))})
    for name, part in (("words", kinds != "number"), ("numbers", kinds == "number")):
        if part.sum() < 50:
            continue
        w = fit(x[part], y[part], counts[part])
        chance = 1 / (1 + np.exp(-(x[part] @ w[:-1] + w[-1])))
        print(name, dict(zip((*CLUES, "constant"), w.round(3).tolist(), strict=True)))
        for sort in sorted(set(kinds[part])):
            some = kinds[part] == sort
            wrong = sorted((chance[some & (y[part] == 0)]).round(3).tolist(), reverse=True)[:6]
            right = {
                bar: int((chance[some & (y[part] == 1)] >= bar).sum()) for bar in (0.5, 0.8, 0.9, 0.95, 0.97, 0.98)
            }
            print(f"  {sort}: right {int(y[part][some].sum())}, at least {right}; the surest wrong {wrong}")


if __name__ == "__main__":
    main(sys.argv[1:])
