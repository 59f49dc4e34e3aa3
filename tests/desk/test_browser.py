"""The mechanic's work in Debian's Chromium: with and without script, on a phone, in the dark; and what it shows of
accessibility on every page that is looked at."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By

from tests.desk.browsing import CHROMIUM, DRIVER, Browser, chromium, served
from tests.desk.test_photos import put
from tests.desk.yard import NAMES
from tests.record.walks import signed
from voice.desk.page import Desk
from voice.record.open_defects import open_defects

UNIT = "tractor-trailer-five-axle-trailer"
HERE = f"/units/{UNIT}"
KEY = "glad-hands%23leaking"

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="no Chromium with its driver on this machine"),
]


@pytest.fixture(scope="module")
def driver() -> Iterator[Chrome]:
    with chromium() as made:
        yield made


@pytest.fixture
def browser(desk: Desk, driver: Chrome) -> Iterator[Browser]:
    with served(desk) as base:
        made = Browser(driver, base)
        made.look()
        made.complaints()  # of the test before
        yield made


def waiting(desk: Desk) -> set[str]:
    return {found.key for found in open_defects(desk.home, UNIT)}


def test_a_mechanics_day(browser: Browser, desk: Desk) -> None:
    # Without script and on a phone: sign in, find the unit, certify.
    browser.look(phone=True, script=False)
    browser.sign_in(NAMES["mechanic"])
    assert "Open defects" in browser.text
    browser.press(f'a[href="{HERE}"]')
    browser.press(f'a[href="{HERE}/certify?defect={KEY}"]')
    browser.press('input[value="repaired"]')
    browser.type("parts", "seal")
    browser.type("remark", "replaced, tried for leaks")
    browser.press("form.fields button")
    assert "Certified, signed and kept" in browser.text
    footer = browser.driver.find_element(By.TAG_NAME, "footer").text
    assert ("loads anew" in footer, "Without script" in footer) == (False, True)
    assert "glad-hands#leaking" not in waiting(desk)
    # In the dark, with script: take it back.
    browser.look(dark=True)
    browser.go(HERE)
    browser.press(f'a[href^="{HERE}/withdraw"]')
    browser.type("remark", "leaks again")
    browser.press("form.fields button")
    assert "The defect is open again" in browser.text
    assert "glad-hands#leaking" in waiting(desk)
    assert browser.complaints() == []


def test_today_loads_itself_anew_when_a_record_comes_in(browser: Browser, desk: Desk) -> None:
    browser.sign_in(NAMES["driver"])
    assert "cracked" not in browser.text
    signed(desk.home, {"mirror-outside@left": ("cracked",)})
    for _ in range(150):
        if "Outside mirror" in browser.text:
            break
        time.sleep(0.2)
    assert "cracked" in browser.text
    browser.go("/today")
    assert "loads anew" in browser.driver.execute_script("return document.querySelector('footer').innerText")
    assert browser.complaints() == []


def test_labels_order_and_contrast_on_every_page(browser: Browser, desk: Desk, tmp_path: Path) -> None:
    """Light, dark and on a phone; with a photo, which the browser shows."""
    put(desk, tmp_path, size=(2600, 900))
    pages = {
        "mechanic": ["/today", "/units", HERE, "/units/unit-0001-tractor", f"{HERE}/certify?defect={KEY}", "/trail"],
        "administrator": ["/trail"],
    }
    found = []
    for dark, phone in ((False, False), (True, False), (False, True)):
        browser.look(dark=dark, phone=phone)
        browser.go("/sign-in")
        found += [("sign-in", dark, phone, fault) for fault in browser.faults()]
        for role, paths in pages.items():
            browser.sign_in(NAMES[role])  # type: ignore[index]
            for path in paths:
                browser.go(path)
                found += [(path, dark, phone, fault) for fault in browser.faults()]
    assert found == []
    browser.sign_in(NAMES["mechanic"])
    browser.complaints()  # of the page that is not for the mechanic
    browser.go(HERE)
    look = "const i = document.querySelector('.photos img'); i.loading = 'eager'; return [i.complete, i.naturalWidth]"
    for _ in range(50):
        complete, width = browser.driver.execute_script(look)
        if complete and width:
            break
        time.sleep(0.1)
    assert width == 2000
    assert browser.complaints() == []


def test_the_check_sees_what_it_is_to_see(browser: Browser) -> None:
    browser.go("/sign-in")
    assert browser.faults() == []
    for spoil, seen in (
        ("document.querySelector('label').remove()", "no name"),
        ("document.querySelector('h1').outerHTML = '<h3>Sign in</h3>'", "skips a level"),
        ("document.querySelector('.soft').setAttribute('class', 'faint'); document.styleSheets[0].insertRule("
         "'.faint { color: rgb(150, 150, 150) }')", "contrast 2"),
        ("document.querySelector('main').append(document.createElementNS('http://www.w3.org/2000/svg', 'svg'))",
         "text for an image"),
        ("document.styleSheets[0].insertRule('h1 { width: 3000px }')", "sticks out"),
        ("document.querySelector('button').id = 'name'", "an id twice"),
    ):  # fmt: skip
        browser.go("/sign-in")
        browser.driver.execute_script(spoil)
        assert any(seen in fault for fault in browser.faults()), (seen, browser.faults())
