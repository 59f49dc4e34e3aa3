"""The limits as a Markdown table: `python -m voice.author.table` prints it for prompts/generated/LIMITS.md."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from fractions import Fraction

from voice.author.calendar import calendar, holds
from voice.judge.limit import Criterion, Limit, LimitSet, Rule, Table
from voice.judge.load import load_limits
from voice.judge.model import UNSURE, Known
from voice.judge.wording import verdicts
from voice.measure import Measure
from voice.measure.level import Level, level_of
from voice.measure.telling import printed, quantity_name

STATUS: dict[Known, str] = {
    "read": "read",
    "second-hand": "second-hand",
    "memory": "from memory, to be checked",
    "practice": "common practice",
}
BRAKE_COUNT = {
    "whole": "one defective brake in the share of the whole vehicle",
    "stroke": "half a defective brake in the share of the whole vehicle, or a whole one: see overstroke-whole",
    "spring": "one spring brake that does not work in the share of the whole vehicle",
}
INTRO = """# Limits

Made from the limits files by `python -m voice.author.table`; do not edit by hand. "Read" means that the text of the
rule, or of one that adopts it, was seen, in the copy named beside it; "second-hand" that a reprint, a maker's manual, a
training text or the press says so; "from memory" that nothing was seen. Where a halt rests on nothing better than
memory, the driver hears "check locally". Figures are never a substitute for the current text of the rule, local codes,
the maker's figures or a qualified mechanic.

"At least" and "at most" are met exactly at the figure; "more than" and "less than" are not. An entry with dates is in
force only then; the day an inspection begins decides.
"""


def _levels() -> Iterable[str]:
    words = verdicts()
    for level, name in words.levels.items():
        yield f"- **{level}** ({name}): {words.levels_mean[level]}"


def _row(*cells: str) -> str:
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def _head(*titles: str) -> Iterable[str]:
    yield _row(*titles)
    yield _row(*("---" for _ in titles))


def limit_words(limit: Limit) -> str:
    """The limit in print without a vehicle: its figure, or what it is made from."""
    words = verdicts().limit.printed[limit.must]

    def told(value: Fraction | None) -> str:
        return "" if value is None else printed(Measure(value, limit.unit), quantity=limit.quantity)

    text = words.format(value=told(limit.value), low=told(limit.low), high=told(limit.high))
    stated = limit.value is not None or limit.low is not None
    made = []
    if limit.table is not None:
        made.append(f"table `{limit.table}`")
    if limit.figure is not None:
        made.append(_figure_words(limit))
    if limit.leeway is not None:
        text = f"{text}, up to {printed(Measure(limit.leeway, limit.unit), quantity=limit.quantity)} beyond: watch"
    if not made:
        return text
    if not stated:
        bare = words.format(value="", low="", high="").strip() if limit.must != "between" else "about"
        return f"{bare} {', else '.join(made)}"
    joint = "or, if less," if limit.figure is not None and limit.figure.pick == "lesser" else "or, if known,"
    return f"{text}; {joint} {', '.join(made)}"


def watched(limits: LimitSet, limit: Limit) -> str:
    """How near to the figure a reading that meets it is watched all the same; empty for never."""
    near = limits.near_of(limit)
    if near is None or level_of(limit.level) < Level.REPAIR:
        return ""
    if near:
        return f"when it is met by {printed(Measure(near, limit.unit), quantity=limit.quantity)} or less"
    return "" if limit.must in ("more-than", "less-than") else "exactly at the figure"


def table_figures(limits: LimitSet, limit: Limit) -> Iterator[str]:
    """Each line of the table that the limit takes its figure from, with how it is known; none that is not for it."""
    if limit.table is None:
        return
    table = limits.tables[limit.table]
    pinned = {name: [str(value).lower() for value in values] for name, values in limit.applies.items()}
    for row in table.rows:
        named = dict(zip(table.keys, row.of, strict=True))
        if all(value in pinned.get(name, [value]) for name, value in named.items()):
            words = " ".join(value for name, value in named.items() if name not in pinned)
            figure = printed(Measure(row.value, table.unit), quantity=limit.quantity)
            yield f"{words}: {figure} ({row.known or limit.source.known})"


def _figure_words(limit: Limit) -> str:
    assert limit.figure is not None  # noqa: S101 - the caller has looked
    figure = limit.figure
    name = f"`{figure.name}`"
    if figure.degrees is not None:
        text = f"{figure.degrees}° at `{figure.name}`"
    elif figure.share != 1:
        text = f"{figure.share} of {name}"
    else:
        text = name
    text = f"{text} ± {figure.tolerance} {limit.unit}" if figure.tolerance else text
    return f"{text} (then cited: {figure.source}, {STATUS[figure.known]})" if figure.source else text


def _applies(rule: Rule) -> str:
    facts = [f"{name} {' or '.join(str(v).lower() for v in values)}" for name, values in rule.applies.items()]
    return "; ".join(part for part in (", ".join(facts) or "everywhere", holds(rule)) if part)


def _source(rule: Rule) -> tuple[str, str]:
    source = rule.source
    status = STATUS[source.known] + (f": {source.where}" if source.where else "")
    return source.section, f"{status}. {source.note}" if source.note else status


def _consequence(rule: Rule) -> str:
    local = ", check locally" if rule.level == "halt" and rule.source.known in UNSURE else ""
    return f"**{rule.level}**{local}" + (f" ({rule.condition})" if rule.condition else "")


def limit_rows(limits: LimitSet) -> Iterable[str]:
    yield from _head("Limit", "Quantity", "Must be", "Where", "If not", "Source", "Status")
    for limit in limits.limits:
        name = f"{limit.title} (`{limit.id}`)"
        quantity = quantity_name(limit.quantity)
        yield _row(name, quantity, limit_words(limit), _applies(limit), _consequence(limit), *_source(limit))


def criterion_rows(limits: LimitSet) -> Iterable[str]:
    yield from _head("Defect", "Items", "Named", "Where", "Then", "Source", "Status")
    for rule in limits.criteria:
        yield _row(f"{rule.title} (`{rule.id}`)", *_of(rule), _applies(rule), _consequence(rule), *_source(rule))


def _of(rule: Criterion) -> tuple[str, str]:
    items = ", ".join(rule.items or rule.parts) or "any"
    details = "".join(f"; {name}: {' or '.join(values)}" for name, values in rule.details.items())
    return items, (", ".join(rule.defects) or "any") + details


def table_rows(name: str, table: Table, default: Known) -> Iterable[str]:
    yield f"### {name} ({table.unit})"
    yield ""
    yield from _head(*(key.replace("_", " ") for key in table.keys), "figure", "mm", "status")
    for row in table.rows:
        measure = Measure(row.value, table.unit)
        metric = str(round(float(measure.to("mm").value), 1))
        known = STATUS[row.known or default]
        yield _row(*row.of, printed(measure, quantity="pushrod-stroke-applied"), metric, known)
    if table.where:
        yield ""
        yield f"Where rows were seen: {table.where.strip()}."


def markdown(limits: LimitSet) -> str:
    """The whole document."""
    defaults = {limit.table: limit.source.known for limit in limits.limits if limit.table}
    lines = [INTRO, *_levels(), "", "## Readings", "", *limit_rows(limits), "", "## Tables", ""]
    for name, table in limits.tables.items():
        lines += [*table_rows(name, table, defaults.get(name, "memory")), ""]
    lines += ["## Defects", "", "The most specific entry that fits decides; of equals the worst.", ""]
    lines += [*criterion_rows(limits), "", "## Calendar", ""]
    lines += [f"- {each.day}, `{each.id}` ({each.kind}): {each.what}." for each in calendar(limits, date.min)]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(markdown(load_limits()), end="")
