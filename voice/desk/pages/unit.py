"""One unit: what is open and where, the driver's words, readings against limits, lives of defects, inspections."""

from __future__ import annotations

from datetime import UTC, datetime

from starlette.responses import Response

from voice.desk import plots
from voice.desk.accounts import Role
from voice.desk.data.fresh import refresh, version
from voice.desk.data.photos import photo
from voice.desk.data.recordings import recording
from voice.desk.data.unit import LAST, unit_page
from voice.desk.page import Page, Visit
from voice.desk.pages.today import YARD
from voice.logbook.database import reading
from voice.logbook.history import date, moment, odometer_words, state_words
from voice.logbook.wording import level_words, words
from voice.record.diagram import HEIGHT, WIDTH


def unit(visit: Visit) -> Response:
    refresh(visit.desk)
    now = version(visit.desk)
    with reading(visit.desk.engine) as session:
        page = unit_page(visit.desk, session, visit.parts["unit"], words=visit.may("recording"))
    lives = [defect.life for defect in (*page.open, *page.closed)]
    bars, groups = plots.bars(lives, datetime.now(UTC)), plots.groups(page.history)
    return visit.render(
        "unit", version=now, page=page, history=page.history, bars=bars, groups=groups, last=LAST, date=date,
        level=level_words, state=state_words, table=words().table, caution=words().page.caution, width=WIDTH,
        odometer=lambda miles: odometer_words(miles, page.history.system), height=HEIGHT,
        plot=(plots.WIDTH, plots.HEIGHT), moment=moment, done=visit.query.get("done", ""),
    )  # fmt: skip


def clip(visit: Visit) -> Response:
    """A recording; a browser that wants it piecewise gets the whole, which is a few seconds."""
    with reading(visit.desk.engine) as session:
        data = recording(visit.desk, session, visit.parts["record"], visit.parts["clip"])
    return Response(data, media_type="audio/flac", headers={"Content-Disposition": "inline"})


def picture(visit: Visit) -> Response:
    """A photo of a defect."""
    with reading(visit.desk.engine) as session:
        data = photo(visit.desk, session, visit.parts["record"], visit.parts["photo"])
    return Response(data, media_type="image/jpeg", headers={"Content-Disposition": "inline"})


RECORDED: frozenset[Role] = frozenset({"mechanic", "office"})  # who hears the driver's words and sees photos
PAGES = [
    Page("/units/{unit}", "unit", YARD, unit, live=True),
    Page("/recordings/{record}/{clip}", "recording", RECORDED, clip),
    Page("/photos/{record}/{photo}", "photo", RECORDED, picture),
]
