"""A vehicle's history as one HTML file with its pictures inside: no script, nothing to fetch."""

from __future__ import annotations

from datetime import datetime

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from voice.data.folders import prompts_dir
from voice.logbook import history as cells
from voice.logbook import plots
from voice.logbook.history import History
from voice.logbook.trends import last_words, limit_words, place_words, source_words
from voice.logbook.wording import level_words, words
from voice.measure.telling import quantity_name


def render_history(history: History, made: datetime) -> str:
    """The page.

    made: when it is drawn up, shown on it.
    """
    environment = Environment(
        loader=FileSystemLoader(prompts_dir()),
        undefined=StrictUndefined,
        autoescape=select_autoescape(default_for_string=True, default=True),
        trim_blocks=True,
        lstrip_blocks=True,
    )
    hidden = sum(len(wear.series.points) < 2 for wear in history.wears)
    # The SVGs are matplotlib's, which escapes the names in them; everything else is escaped here.
    return environment.get_template("logbook.html.j2").render(
        history=history,
        made=made,
        hidden=hidden,
        text=words(),
        date=cells.date,
        moment=cells.moment,
        titles={life.defect: life.title for life in history.lives},
        level=level_words,
        state=cells.state_words,
        change=lambda wear: cells.change_words(wear, history.system),
        forecast=cells.forecast_words,
        rushed=cells.rushed_words,
        minutes=cells.minutes_words,
        now=lambda wear: cells.now_words(wear, history.system),
        last=lambda wear: last_words(wear, history.system),
        limit=limit_words,
        source=source_words,
        odometer=lambda miles: cells.odometer_words(miles, history.system),
        place=place_words,
        quantity=quantity_name,
        readings=[(name, Markup(svg)) for name, svg in plots.readings(history)],  # noqa: S704
        defects=Markup(plots.defects(history)),  # noqa: S704
        durations=Markup(plots.durations(history.visits)),  # noqa: S704
    )
