"""The office, the instructor and the routes in Debian's Chromium: the work without script and on a phone; labels, order
and contrast of every page in both schemes."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.by import By

from tests.desk.browsing import CHROMIUM, DRIVER, Browser, chromium, served
from tests.desk.test_instructor import ID, PARTS, session
from tests.desk.yard import FAULTS, NAMES
from tests.logbook.data import certification, checked, record
from tests.record.walks import signed
from voice.desk.accounts import Role
from voice.desk.page import Desk
from voice.judge import load_limits
from voice.logbook.database import open_local, reading, writing
from voice.logbook.history import gather
from voice.logbook.page import render_history
from voice.logbook.store import import_records, import_repairs
from voice.record.repairs import Repair
from voice.record.report import render_html
from voice.rehearse.progress.pages import progress_page
from voice.rehearse.progress.students import Students
from voice.route.units import units_of

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="no Chromium with its driver on this machine"),
]
HERE = f"/students/una-hand/{ID}"


@pytest.fixture
def browser(desk: Desk) -> Iterator[Browser]:
    """A school beside the yard, and an inspection that is old."""
    students = Students(desk.home)
    student = students.enroll("Una Hand")
    students.keep(student, session(*PARTS))
    students.keep(student, session(*PARTS, id="later", days=3))
    students.keep_clip(student, ID, 0, np.zeros(1600, np.float32))
    with writing(desk.engine) as opened:
        old = record("20260102-old", datetime.now(UTC) - timedelta(days=200))
        import_records(opened, [checked(old)], ["local"])
    with served(desk) as base, chromium() as driver:
        yield Browser(driver, base)


def test_the_office_and_the_instructor_at_work(browser: Browser, desk: Desk, tmp_path: Path) -> None:
    # Without script, on a phone: the instructor overrules a credit.
    browser.look(phone=True, script=False)
    _sign_in(browser, "instructor")
    browser.press('a[href="/students/una-hand"]')
    browser.press(f'a[href="{HERE}"]')
    _shows(browser, "1 of 3 parts right")
    browser.press(f'a[href="{HERE}?part=alternator#overruled"]')
    browser.press('input[name="said:check-2"]')
    browser.type("reason", "She pointed at it.")
    browser.press("form.fields button")
    _shows(browser, "2 of 3 parts right")
    _shows(browser, "counts as said by Nora Field")
    # The office finds an inspection, and removes what is old, in two steps.
    _sign_in(browser, "office")
    browser.go("/office")
    browser.type("unit", "twelve")
    browser.press("form.row button")
    _shows(browser, "tractor twelve")
    assert "trailer forty" in browser.text
    assert "unit 1" not in browser.text
    browser.press("table.cards a")
    assert "- Glad hands: leaking" in str(browser.driver.find_element(By.ID, "body").get_property("value"))
    browser.go("/office/retention")
    browser.press("form.fields button")
    _shows(browser, "20260102-old")
    browser.press('input[name="sure"]')
    browser.press("button.grave")
    _shows(browser, "files were removed: 1")
    _labels_order_and_contrast(browser)


def _sign_in(browser: Browser, role: Role) -> None:
    """Waits until the desk knows who it is."""
    browser.sign_in(NAMES[role])
    for _ in range(100):
        if browser.driver.find_elements(By.CSS_SELECTOR, ".top .out"):
            return
        time.sleep(0.05)
    raise AssertionError("not signed in")


def _shows(browser: Browser, text: str) -> None:
    """Waits for the page that a press leads to; the one before goes while it is looked at."""
    shown = ""
    for _ in range(100):
        try:
            shown = browser.text
        except WebDriverException:
            shown = ""
        if text in shown:
            return
        time.sleep(0.05)
    raise AssertionError(f"{text!r} is not on the page: {shown[:500]}")


def _labels_order_and_contrast(browser: Browser) -> None:
    """Of all these pages, light, dark and on a phone; nothing is blocked by the content security policy."""
    pages: dict[Role, list[str]] = {
        "office": ["/office?since=", "/office?since=x", "/office/retention?older=1+year", "/routes",
                   "/routes/school-bus?length=full", "/office?since=2026-02-02&until=2026-02-01", "/account"],
        "instructor": ["/students", "/students/una-hand", HERE, f"{HERE}?part=alternator"],
    }  # fmt: skip
    found = []
    for dark, phone in ((False, False), (True, False), (False, True)):
        browser.look(dark=dark, phone=phone)
        for role, paths in pages.items():
            _sign_in(browser, role)
            for path in paths:
                browser.go(path)
                found += [(path, dark, phone, fault) for fault in browser.faults()]
    assert found == []
    assert browser.complaints() == []


def test_report_history_and_progress_in_both_schemes_and_on_a_phone(tmp_path: Path) -> None:
    """The pages that are files: the same checks."""
    walked = signed(tmp_path / "home", FAULTS)
    engine = open_local(tmp_path / "home")
    with writing(engine) as opened:
        import_records(opened, [checked(walked)], ["local"])
        lamp = certification("brake-lights#lamp-out", datetime.now(UTC))
        import_repairs(opened, [Repair(units_of(walked.vehicle)[0].id, walked.id, lamp)], ["local"])
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
    with chromium() as driver:
        browser = Browser(driver, "file://")
        for name, html in pages.items():
            (tmp_path / f"{name}.html").write_text(html)
        for dark, phone in ((False, False), (True, False), (False, True), (True, True)):
            browser.look(dark=dark, phone=phone)
            for name in pages:
                browser.go(f"{tmp_path}/{name}.html")
                found += [(name, dark, phone, fault) for fault in browser.faults()]
                color = driver.execute_script("return getComputedStyle(document.querySelector('h1')).color")
                assert (int(re.findall(r"\d+", color)[0]) < 128) is not dark, (name, color)
    assert found == []
