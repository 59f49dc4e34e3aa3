"""Every page in Debian's Chromium, at a device and at a depot: labels, order and contrast, light and dark, on three
widths of screen, with the tab key, and without script."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from selenium.webdriver import Chrome

from tests.desk.browsing import DESK, PHONE, TABLET, Browser
from tests.desk.place import TRUCK
from tests.desk.test_browser import LAMP, REHEARSAL, TRACTOR, TRAILER, WORN, form
from tests.desk.test_instructor import PARTS, session
from tests.desk.yard import FAULTS, NAMES
from tests.logbook.data import certification, checked
from tests.record.walks import signed
from voice.desk.accounts import Role
from voice.desk.pages import table
from voice.judge import load_limits
from voice.logbook.database import open_local, reading, writing
from voice.logbook.history import gather
from voice.logbook.page import render_history
from voice.logbook.store import import_records, import_repairs
from voice.record.repairs import Repair
from voice.record.report import render_html
from voice.rehearse.progress.pages import progress_page
from voice.route.units import units_of

pytestmark = pytest.mark.slow

# Who looks at which page where; "found in": a link of that page leads to it.
VISITS: list[tuple[str, Role | None, str]] = [
    ("sign-in-form", None, "/sign-in"),
    ("today", "driver", "/today"),
    ("units", "driver", "/units?find=unit"),
    ("unit", "driver", TRAILER),
    ("routes", "driver", "/routes"),
    ("route", "driver", f"/routes/{TRUCK}?route=tractor-semitrailer&length=full"),
    ("account", "driver", "/account"),
    ("refused", "driver", "/office"),
    ("refused", "driver", "/nowhere"),
    ("unit", "mechanic", TRACTOR),
    ("unit", "mechanic", TRAILER),
    ("unit", "mechanic", "/units/unit-0001-tractor"),
    ("certify-form", "mechanic", form("certify", TRACTOR, WORN)),
    ("certify-form", "mechanic", form("certify", TRAILER, LAMP)),
    ("withdraw-form", "mechanic", 'found in /units/unit-0001-tractor: a[href*="/withdraw"]'),
    ("office", "office", "/office?since="),
    ("office", "office", "/office?since=x"),
    ("office", "office", "/office?since=2026-02-02&until=2026-02-01"),
    ("report", "office", 'found in /office?unit=twelve: a[href^="/office/reports/"]'),
    ("retention", "office", "/office/retention?older=1+year"),
    ("retention", "office", "/office/retention?older=3+months"),
    ("students", "instructor", "/students"),
    ("student", "instructor", "/students/una-hand"),
    ("rehearsal", "instructor", REHEARSAL),
    ("rehearsal", "instructor", f"{REHEARSAL}?part=alternator"),
    ("trail", "administrator", "/trail"),
]
# Not pages: files, what leads on, what the script asks.
OTHERS = {"style", "script", "icon", "first", "version", "recording", "photo", "report-read", "report-pdf",
          "report-mail", "reports", "export", "scores", "rehearsal-recording"}  # fmt: skip
LOOKS = ((False, DESK), (True, DESK), (False, TABLET), (False, PHONE), (True, PHONE))  # in the dark, width


def visit(browser: Browser, where: str) -> None:
    found, _, css = where.removeprefix("found in ").partition(": ")
    browser.go(found)
    if css:
        browser.press(css)


def test_every_page_is_looked_at() -> None:
    shown = {page.name for page in table() if page.method == "GET"}
    assert {name for name, _, _ in VISITS} - {"refused"} | OTHERS == shown


def test_labels_order_contrast_and_width_of_every_page(browser: Browser) -> None:
    faults: list[tuple[object, ...]] = []
    signed_in = None
    for _, role, where in VISITS:
        browser.look()
        if role is not None and role != signed_in:
            browser.sign_in(NAMES[role])
            signed_in = role
        visit(browser, where)
        faults += [(where, "keys", fault) for fault in browser.tabbing()]
        for dark, width in LOOKS:
            browser.look(dark=dark, width=width)
            faults += [(where, "dark" * dark, width, fault) for fault in browser.faults()]
    assert "\n".join(map(str, faults)) == ""
    assert [line for line in browser.complaints() if not re.search("40[34]", line)] == []


def test_every_page_is_whole_without_script(browser: Browser) -> None:
    """Only pages that load themselves anew have one; without it they show the same."""
    live = {page.name for page in table() if page.live}
    signed_in = None
    for name, role, where in VISITS:
        if role is not None and role != signed_in:
            browser.sign_in(NAMES[role])
            signed_in = role
        visit(browser, where)
        assert bool(browser.every("script")) == (name in live), where
        if name in live:
            text = browser.text
            browser.look(script=False)
            browser.go(where)
            assert browser.text == text
            browser.look()


def test_the_check_sees_what_it_is_to_see(browser: Browser) -> None:
    browser.go("/sign-in")
    assert browser.faults() == browser.tabbing() == []
    rule = "document.styleSheets[0].insertRule('{}')"
    for spoil, seen in (
        ("document.querySelector('label').remove()", "no name"),
        ("document.querySelector('h1').outerHTML = '<h3>Sign in</h3>'", "skips a level"),
        (rule.format(".soft { color: rgb(150, 150, 150) !important }"), "contrast 2"),
        (rule.format("input { border-color: rgb(200, 200, 200) !important }"), "border 1"),
        ("document.querySelector('main').append(document.createElementNS('http://www.w3.org/2000/svg', 'svg'))",
         "text for an image"),
        (rule.format("h1 { width: 3000px !important }"), "sticks out"),
        ("document.querySelector('button').id = 'name'", "an id twice"),
        ("document.querySelector('button').tabIndex = 1", "an order of its own"),
    ):  # fmt: skip
        browser.go("/sign-in")
        browser.run(spoil)
        assert any(seen in fault for fault in browser.faults()), (seen, browser.faults())
    for spoil, seen in (
        ("document.querySelector('button').tabIndex = 1", "not reached"),  # it comes before what there is
        ("document.querySelector('button').onfocus = e => document.querySelector('#name').focus()", "instead of"),
        (rule.format(":focus-visible { outline: none !important }"), "focus is not seen"),
    ):
        browser.go("/sign-in")
        browser.run(spoil)
        assert any(seen in fault for fault in browser.tabbing()), (seen, browser.tabbing())
    # On a phone a page that is too wide is widened to fit: that must be seen too.
    browser.look(width=PHONE)
    browser.go("/sign-in")
    browser.run("document.querySelector('h1').style.width = '500px'")
    assert any("sticks out" in fault for fault in browser.faults())


def test_report_history_and_progress_in_both_schemes_and_on_a_phone(driver: Chrome, tmp_path: Path) -> None:
    """The pages that are files: the same checks."""
    walked = signed(tmp_path / "home", FAULTS)
    engine = open_local(tmp_path / "home")
    with writing(engine) as opened:
        import_records(opened, [checked(walked)], ["local"])
        lamp = Repair(units_of(walked.vehicle)[0].id, walked.id, certification(LAMP, datetime.now(UTC)))
        import_repairs(opened, [lamp], ["local"])
    with reading(engine) as opened:
        history = gather(opened, units_of(walked.vehicle)[0].id, load_limits(), datetime.now(UTC))
    engine.dispose()
    pages = {
        "report": render_html(walked),
        "history": render_history(history, datetime.now(UTC)),
        "progress": progress_page({"Una Hand": [session(*PARTS)]}, [("engine", "Engine compartment")]),
    }
    assert "certified as repaired" in pages["history"]
    found = []
    browser = Browser(driver, "file://")
    for name, html in pages.items():
        (tmp_path / f"{name}.html").write_text(html)
        browser.go(f"{tmp_path}/{name}.html")
        for dark, width in ((False, DESK), (True, DESK), (False, PHONE), (True, PHONE)):
            browser.look(dark=dark, width=width)
            found += [(name, dark, width, fault) for fault in browser.faults()]
            color = browser.run("return getComputedStyle(document.querySelector('h1')).color")
            assert (int(re.findall(r"\d+", color)[0]) < 128) is not dark, (name, color)
    assert "\n".join(map(str, found)) == ""
