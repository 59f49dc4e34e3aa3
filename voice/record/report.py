"""The printable report: one HTML file without scripts, and without anything to fetch.

The page is prompts/report/report.html.j2, its words are prompts/report/report.yaml. Everything that came from a driver
or a profile is escaped by Jinja2.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from functools import cache
from typing import Literal

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from voice.judge.wording import level_words
from voice.measure.telling import minutes
from voice.record.by_unit import in_print
from voice.record.cosign import CoSignature
from voice.record.diagram import HEIGHT, WIDTH, diagram
from voice.record.model import Certification, InspectionRecord
from voice.record.page import Page
from voice.record.readings import Readings
from voice.record.wording import report_dir, words

Paper = Literal["auto", "a4", "letter"]


def clock(moment: datetime) -> str:
    return f"{moment:%H:%M}"


def offset(moment: datetime) -> str:
    """The clock's distance from UTC: "UTC-06:00"."""
    text = f"{moment:%z}"
    return f"UTC{text[:3]}:{text[3:]}".replace("-", "−") if text else ""


def duration(seconds: float) -> str:
    """ "41 min", "2 min 5 s", "48 s", "1 h 3 min"."""
    full, rest = divmod(round(seconds), 60)
    if full < 10:
        return f"{full} min {rest} s" if full and rest else f"{full} min" if full else f"{rest} s"
    hours, left = divmod(minutes(seconds), 60)
    return f"{hours} h {left} min" if hours else f"{left} min"


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def grouped(digest: str) -> str:
    """A hash in groups of eight, so that two can be compared by eye."""
    return " ".join(digest[at : at + 8] for at in range(0, len(digest), 8))


def css(text: str) -> Markup:
    """Text for a quoted CSS string: everything but plain letters and digits as an escape, so nothing can end it."""
    return Markup("".join(c if c.isascii() and (c.isalnum() or c in " -.,") else f"\\{ord(c):x} " for c in text))  # noqa: S704


def paper_size(paper: Paper) -> str:
    """For a page's style."""
    return {"auto": "", "a4": "size: A4;", "letter": "size: letter;"}[paper]


@cache
def environment() -> Environment:
    """Templates of prompts/report/, and what they write with."""
    environment = Environment(
        loader=FileSystemLoader(report_dir()),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(capital=capital, css=css, clock=clock, offset=offset, duration=duration, grouped=grouped)
    return environment


def render_html(
    record: InspectionRecord,
    certifications: Iterable[Certification] = (),
    cosignatures: Iterable[CoSignature] = (),
    *,
    paper: Paper = "auto",
    annex: bool = True,
) -> str:
    """The report as one HTML page.

    certifications: of the record's defects, given since; they fill its block.
    cosignatures: of a second driver, given since.
    paper: "auto" leaves the size of the sheet to the printer.
    annex: also what follows the signatures (parts, measurements, every item, hashes); without it, only the sheet that
        is signed.
    """
    text, record = words("report"), in_print(record)
    readings = Readings(record, text)
    page = Page(record, {c.key: c for c in certifications}, text, readings)
    return (
        environment()
        .get_template("report.html.j2")
        .render(
            page=page,
            readings=readings,
            record=record,
            text=text,
            cosignatures=tuple(cosignatures),
            level_words=level_words,
            drawing=diagram(record, page.numbers),
            width=WIDTH,
            height=HEIGHT,
            annex=annex,
            size=paper_size(paper),
        )
    )
