"""One reading against the published limits: which limit, from which source, and how it stands to it.

python demo/examples/judge_reading.py             # 3/32 in on the left steer tire
python demo/examples/judge_reading.py 5/32 2      # another reading, and another axle, counted from the front
"""

from __future__ import annotations

import sys

from voice.data.folders import prompts_dir
from voice.judge import Subject, judge_reading, load_limits, sentence
from voice.measure import Measure, exact
from voice.route import load_vehicle
from voice.route.model import Place


def main(value: str = "3/32", axle: str = "1") -> None:
    vehicle = load_vehicle(prompts_dir() / "vehicles" / "tractor-trailer-five-axle.yaml")
    subject = Subject(vehicle, "tire-tread", Place(axle=int(axle), side="left"))
    for finding in judge_reading(load_limits(), subject, "tread-depth", Measure(exact(value), "in")):  # worst first
        print(f"{finding.level.name.lower()}: {finding.limit_text}")
        print(f"  {finding.source} ({finding.known}), from {finding.layer}, the limit {finding.limit}")
        print(f"  {sentence(finding)}")


if __name__ == "__main__":
    main(*sys.argv[1:])
