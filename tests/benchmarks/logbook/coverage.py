"""How often the interval of a wear trend, and of when a limit is reached, holds the truth.

    python -m tests.benchmarks.logbook.coverage

Nominal 95 %. Compared: scipy's interval as it is over all readings, and this program's (readings gathered, widened by
a part of the gauge's division). Tread wears 0.6 to 1.6 thirty-seconds in 10,000 miles, 450 miles a day, read to 1/32.
"""

from __future__ import annotations

import argparse

import numpy as np
from scipy.stats import theilslopes

from tests.logbook.wearing import simulate
from voice.logbook.wear import Reach, reach, trend

CASES = (
    (8, 20.0, 0.0, None), (12, 30.0, 0.0, None), (30, 7.0, 0.0, None), (60, 1.4, 0.0, None), (200, 1.4, 0.0, None),
    (30, 7.0, 0.05, None), (30, 7.0, 0.0, 15),
)  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=1000)
    draws = parser.parse_args().draws
    rng = np.random.default_rng(20)
    print(
        "| readings | every, days | odd readings | replaced at | gauge noise, 1/32 in | scipy over all | this program |"
        " wrong start | limit foretold | truth inside |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|")
    for readings, every, odd, replaced in CASES:
        for noise in (0.1, 0.25, 0.5):
            plain = ours = wrong = said = inside = 0
            for _ in range(draws):
                truth = simulate(rng, readings, every, noise, odd=odd, replaced=replaced)
                part = truth.points[replaced or 0 :]
                found = theilslopes([p.value for p in part], [p.odometer for p in part], alpha=0.95)
                plain += int(found.low_slope <= truth.rate <= found.high_slope)
                fit = trend(truth.points)
                if fit is None:
                    wrong += 1
                    continue
                wrong += fit.since != part[0].at
                ours += fit.low <= truth.rate <= fit.high
                ahead = reach(fit, 4 / 32, falling=True)
                if isinstance(ahead, Reach):
                    said += 1
                    inside += ahead.soonest <= truth.reaches(4 / 32) <= ahead.latest
            reached = f"{inside / said:.1%}" if said else "-"
            print(
                f"| {readings} | {every:g} | {odd:.0%} | {replaced or '-'} | {noise} | {plain / draws:.1%} |"
                f" {ours / draws:.1%} | {wrong / draws:.1%} | {said / draws:.0%} | {reached} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
