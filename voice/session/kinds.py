"""Which kind of inspection it is, what there is to look at after a repair, and what is odd about a drop."""

from __future__ import annotations

from voice.errors import GladhandError, SetupError
from voice.record.open_defects import certified_of
from voice.record.past import past_records
from voice.record.repairs import read_repairs, standing
from voice.route import make_plan
from voice.route.kinds import DROP, HOOK, PRE_TRIP, kinds_for
from voice.route.model import Plan, Step
from voice.route.units import on_vehicle, trailer_of, units_of
from voice.route.vehicle import Vehicle
from voice.session.asking import Asker, Pick
from voice.session.resources import Resources


def ask_kind(resources: Resources, asker: Asker, vehicle: Vehicle) -> str | None:
    """Whether it is the usual kind, or which other; None for what the route is, where nobody can be asked."""
    kinds = kinds_for(resources.library, vehicle)
    usual = next((kind for kind in kinds if kind.id == PRE_TRIP), None)
    if usual is None or not asker.can_ask("kind"):
        return None if usual is None else usual.id
    talk = resources.driving
    picks = [Pick(kind.id, kind.call) for kind in kinds]
    which = talk.kind_which.format(names=", ".join(kind.call[0] for kind in kinds))
    said = asker.pick_or("kind", talk.kind.format(title=usual.title), picks, which)
    if isinstance(said, bool):
        return usual.id if said else asker.pick("kind-which", which, picks, which)
    return said


def with_remarks(resources: Resources, asker: Asker, plan: Plan) -> Plan:
    """The plan with what is odd about it, which is said: the trailer was dropped before, and not hooked since."""
    trailer = trailer_of(plan.vehicle)
    if plan.kind != DROP or trailer is None:
        return plan
    try:
        pasts = list(past_records(resources.home, trailer.id))
    except GladhandError as error:
        resources.tell_once(error)
        return plan
    # A whole walk looks at the coupling, too; and a drop that was broken off is naturally followed by another.
    coupling = [past for past in pasts if past.kind in (HOOK, PRE_TRIP, "") or (past.kind == DROP and past.complete)]
    if not coupling or coupling[-1].kind != DROP:
        return plan
    remark = resources.driving.dropped_twice.format(name=trailer.name)
    asker.tell(remark)
    return plan.model_copy(update={"remarks": (remark,)})


def only_repaired(resources: Resources, asker: Asker, plan: Plan) -> Plan:
    """The plan with what was certified as repaired since the vehicle's last inspection.

    Raises SetupError if nothing was; RecordError if a record cannot be read, for what it reports cannot be told.
    """
    repaired = _repaired(resources, plan.vehicle)
    steps: dict[str, Step] = {}
    sections = {section.id: section for section in plan.sections}
    for each in (plan, *_others(resources, plan)):  # a defect may have been found on another walk
        for step in each.steps:
            if step.id in repaired and step.id not in steps:
                steps[step.id] = step
                sections |= {s.id: s for s in each.sections if s.id == step.section and s.id not in sections}
    if not steps:
        name = plan.vehicle.name
        asker.tell(resources.driving.nothing_repaired.format(name=name))
        raise SetupError(
            f"Nothing was certified as repaired since the last inspection of {name}.",
            "Certify a repair with 'gladhand repairs certify', or walk another kind of inspection.",
        )
    kept = {step.section for step in steps.values()}
    plan = plan.only(steps.values())
    return plan.model_copy(update={"sections": tuple(s for s in sections.values() if s.id in kept)})


def _repaired(resources: Resources, vehicle: Vehicle) -> set[str]:
    """Steps of the defects that were certified as repaired since the last signed inspection of their unit."""
    repairs = standing(read_repairs(resources.home))
    found = set()
    for unit in units_of(vehicle):
        pasts = list(past_records(resources.home, unit.id))
        last = pasts[-1].at if pasts else None
        for repair in certified_of(unit.id, repairs, pasts):
            given = repair.certification
            if given.verdict == "repaired" and (last is None or given.at > last):
                found.add(on_vehicle(vehicle, unit.id, given.key.partition("#")[0]))
    return found


def _others(resources: Resources, plan: Plan) -> list[Plan]:
    """The plans of the vehicle's other kinds of inspection."""
    library, vehicle = resources.library, plan.vehicle
    return [make_plan(library, vehicle, kind_id=kind.id) for kind in kinds_for(library, vehicle) if kind.routes]
