"""What holds on one walk besides what holds always: layers of limits, units of measure, what is due on the road."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from voice.day.facts import rules_for
from voice.day.spans import Now
from voice.day.today import is_due_for
from voice.errors import GladhandError
from voice.judge import limits_of
from voice.judge.limit import LimitSet
from voice.judge.load import layer_files
from voice.record.entry import odometer_record
from voice.record.past import miles_of
from voice.route.kinds import DROP
from voice.route.model import Plan
from voice.route.vehicle import Vehicle
from voice.session.asking import Asker
from voice.session.resources import Resources


def limits_for(home: Path, vehicle: Vehicle | None, layers: Sequence[str], files: Sequence[Path]) -> LimitSet:
    """The limits of today: the home's, the unit's layers, the walk's, and its files, a later one over an earlier.

    vehicle: None while it is not known. Raises SetupError, and DataError with file and line.
    """
    named = (*(vehicle.layers if vehicle is not None else ()), *layers)
    return limits_of(home, datetime.now().astimezone().date(), (*layer_files(home, named), *files))


def measured(vehicle: Vehicle, metric: bool) -> Vehicle:
    """The vehicle as its gauges are read on this walk."""
    return vehicle.model_copy(update={"display_units": "si"}) if metric else vehicle


def now_at(odometer: str | None) -> Now:
    """The time, and the odometer if it was given."""
    read = odometer_record(odometer)
    return Now(datetime.now().astimezone(), None if read is None else miles_of(read))


def tell_due(resources: Resources, asker: Asker, plan: Plan, now: Now) -> None:
    """Says it if a look at the cargo is due, unless that is what this inspection is, or the trailer is left behind.
    Nothing that is wrong with the records stops the walk."""
    if plan.kind == DROP or rules_for(resources.home, resources.tell_once).role(plan.kind) == "looks":
        return
    try:
        sentences = is_due_for(resources.home, plan.vehicle, now, resources.tell_once)
    except GladhandError as error:
        resources.tell_once(error)
        return
    for sentence in sentences:
        asker.tell(sentence)
