"""Draws how the losses of training runs fell.

python models/training/curves.py OUT.svg NAME.json...
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

PARTS = ("write", "spell", "choose", "choose by spelling", "near", "right")


def main() -> None:
    parser = argparse.ArgumentParser(description="Draws how the losses of training runs fell.")
    parser.add_argument("out", type=Path, help="the drawing, .svg")
    parser.add_argument("runs", type=Path, nargs="+", help="NAME.json of train.py")
    chosen = parser.parse_args()
    import matplotlib

    matplotlib.use("Agg")
    matplotlib.rcParams["svg.hashsalt"] = "ear"
    from matplotlib import pyplot

    figure, places = pyplot.subplots(2, 3, figsize=(11, 6), layout="constrained")
    for run in chosen.runs:
        rows = json.loads(run.read_text())["rows"]
        for part, place in zip(PARTS, places.flat, strict=True):
            place.plot([row["step"] for row in rows], [row[part] for row in rows], label=run.stem, linewidth=1)
            place.set_title(part, fontsize=10)
            place.set_xlabel("steps", fontsize=8)
            if part != "right":
                place.set_yscale("log")
    places.flat[0].legend()
    figure.savefig(chosen.out, metadata={"Date": None})


if __name__ == "__main__":
    main()
