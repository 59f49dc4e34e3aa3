"""Each role's work in Debian's Chromium, at a device and at a depot; most of it on a phone and without script."""

from __future__ import annotations

import csv
import email
import email.policy
import re
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from email.message import EmailMessage
from pathlib import Path
from urllib.parse import quote

import pytest
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By

from tests.desk.browsing import DESK, PHONE, Browser, chromium
from tests.desk.place import OLD, TRUCK, Place, command
from tests.desk.test_instructor import ID
from tests.desk.yard import NAMES, PASSWORD
from voice.desk import accounts
from voice.desk.store import Store
from voice.judge.wording import verdicts
from voice.record.repairs import read_repairs

TRAILER, TRACTOR = f"/units/{TRUCK}-trailer", f"/units/{TRUCK}-tractor"
LEAKING, LAMP, WORN = "glad-hands#leaking", "brake-lights#lamp-out", "tire-tread@right-1#beyond-tread-depth"
REHEARSAL = f"/students/una-hand/{ID}"

pytestmark = pytest.mark.slow


def form(what: str, unit: str, defect: str) -> str:
    return f"{unit}/{what}?defect={quote(defect)}"


@pytest.fixture(scope="module")
def second(driver: Chrome) -> Iterator[Chrome]:
    with chromium() as made:
        yield made


@pytest.fixture
def other(place: Place, second: Chrome) -> Browser:
    """A second person with a browser of their own."""
    return Browser(second, place.base)


def test_a_driver_looks_at_the_last_inspection(browser: Browser) -> None:
    browser.look(width=PHONE, script=False)
    browser.sign_in(NAMES["driver"])
    browser.shows("Open defects")
    assert [each.text for each in browser.every(".top nav a")] == ["Today", "Units", "Routes"]
    browser.press('nav a[href="/units"]')
    browser.type("find", "forty")
    browser.press("form.find button")
    browser.press(f'a[href="{TRAILER}"]')
    browser.shows("Glad hands")
    assert [each.text for each in browser.every('td[data-label="Driver"]')] == ["Rosa Quill"]
    assert [each.text for each in browser.every('td[data-label="Kind of inspection"]')] == ["Pre-trip inspection"]
    # What is the mechanic's and the office's is not there.
    assert browser.every("audio, a.button, q") == []
    assert browser.complaints() == []


def test_a_mechanic_reads_what_was_reported_hears_it_and_certifies(browser: Browser, place: Place) -> None:
    """The limit and its section are those of 49 CFR 393.75(b), as the record has them."""
    browser.look(width=PHONE, script=False)
    browser.sign_in(NAMES["mechanic"])
    browser.press(f'a[href="{TRACTOR}"]')
    for press in (None, f'a[href="{form("certify", TRACTOR, WORN)}"]'):
        if press:
            browser.press(press)
        browser.shows("3/32 in; limit: at least 4/32 in (49 CFR 393.75(b))")
        by = r"Reported by\nRosa Quill, \d{4}-\d\d-\d\d \d\d:\d\d, Pre-trip inspection; report"
        assert re.search(by, browser.text)
    browser.go(TRAILER)
    browser.shows("which line\nservice line (blue)")
    browser.look(width=PHONE)
    assert _played(browser, ".said audio") > 0
    photo = browser.first(".photos img")
    browser.run("arguments[0].scrollIntoView()", photo)
    browser.until(lambda: browser.run("return arguments[0].naturalWidth", photo) == 2000, "the photo is not shown")
    browser.look(width=PHONE, script=False)
    # Certified, it is not asked about any more; taken back, in the dark, it is.
    assert LEAKING in place.asked_next(f"{TRUCK}-trailer")
    browser.press(f'a[href="{form("certify", TRAILER, LEAKING)}"]')
    browser.tick('input[value="repaired"]')
    browser.type("parts", "seal")
    browser.type("remark", "replaced, tried for leaks")
    browser.press("form.fields button")
    browser.shows("Certified, signed and handed in" if place.depot else "Certified, signed and kept")
    waits = "waits to be taken in at the depot"
    assert (waits in browser.text) == place.depot
    footer = browser.first("footer").text
    assert ("loads anew" in footer, "Without script" in footer) == (False, True)
    browser.go(form("certify", TRAILER, LEAKING))
    browser.shows("There is nothing to certify any more")
    place.take_in()
    browser.go(TRAILER)
    browser.shows("Parts: seal. replaced, tried for leaks")
    assert waits not in browser.text
    assert LEAKING not in place.asked_next(f"{TRUCK}-trailer")
    browser.look(dark=True)
    browser.press(f'a[href^="{form("withdraw", TRAILER, LEAKING)}"]')
    browser.type("remark", "leaks again")
    browser.press("form.fields button")
    browser.shows("The defect is open again")
    place.take_in()
    assert LEAKING in place.asked_next(f"{TRUCK}-trailer")
    assert browser.complaints() == []


def _played(browser: Browser, css: str) -> float:
    """Seconds of a recording that were played, after its button was pressed with the keyboard."""
    sound = browser.first(css)
    browser.run("arguments[0].scrollIntoView(); arguments[0].focus();", sound)
    sound.send_keys(" ")
    browser.until(lambda: bool(browser.run("return arguments[0].ended", sound)), "it is not played to its end")
    return float(browser.run("return arguments[0].played.length && arguments[0].played.end(0)", sound))


def test_of_two_mechanics_at_once_the_second_is_told(browser: Browser, other: Browser, place: Place) -> None:
    store = Store(place.home)
    accounts.add(store, "Gus Reed", "mechanic", PASSWORD)
    store.close()
    both = ((browser, NAMES["mechanic"]), (other, "Gus Reed"))
    for each, name in both:
        each.sign_in(name)
        each.go(form("certify", TRAILER, LAMP))
        each.tick('input[value="repaired"]')
        each.type("remark", f"new lamp, says {name}")
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda pair: pair[0].press("form.fields button"), both))
    (late, name), (_, quick) = sorted(both, key=lambda pair: "Someone was quicker" not in pair[0].text)
    late.shows("Nothing of yours was written")
    for dark, width in ((False, DESK), (True, PHONE)):
        late.look(dark=dark, width=width)
        assert late.faults() == late.tabbing() == []
    late.shows(f"new lamp, says {name}")
    late.press("a.button")
    late.shows(f"new lamp, says {quick}")
    assert f"new lamp, says {name}" not in late.text
    place.take_in()
    assert LAMP not in place.asked_next(f"{TRUCK}-trailer")


def test_the_office_finds_takes_and_removes(browser: Browser, place: Place, tmp_path: Path) -> None:
    browser.look(width=PHONE, script=False)
    browser.sign_in(NAMES["office"])
    for field, text, found, gone in (
        ("unit", "twelve", "tractor twelve", "unit 1"),
        ("driver", "rosa", "Rosa Quill", "A. Sample"),
        ("kind", "pre-trip", "Pre-trip inspection", "invented"),
        ("driver", "nobody", "No inspection fits", "Rosa Quill"),
    ):
        browser.go("/office")
        browser.type(field, text)
        browser.press("form.row button")
        browser.shows(found)
        assert gone not in browser.text
    browser.go("/office?since=&until=2020-01-01")
    browser.shows("No inspection fits")
    browser.go("/office")
    browser.tick('option[value="halt"]')
    browser.press("form.row button")
    assert {each.text for each in browser.every("td .tag")} == {verdicts().levels["halt"]}
    # One report, several, in the two forms, and the letter.
    browser.go("/office?unit=t")
    for pick in browser.every('input[type="checkbox"]')[:1]:
        pick.click()
    one = browser.download('button[value="pdf"]', tmp_path)
    assert one.name == "reports.pdf"
    assert one.read_bytes().startswith(b"%PDF-")
    for pick in browser.every('input[type="checkbox"]')[1:3]:
        pick.click()
    with zipfile.ZipFile(browser.download('button[value="zip"]', tmp_path)) as packed:
        assert len(packed.namelist()) == 3
        assert all(packed.read(name).startswith(b"%PDF-") for name in packed.namelist())
    browser.go("/office?unit=twelve")
    browser.press("table.cards a")
    letter = str(browser.first("#body").get_property("value"))
    assert "- Glad hands: leaking" in letter
    sent = email.message_from_bytes(
        browser.download('a[href$="/mail"]', tmp_path).read_bytes(), policy=email.policy.default
    )
    assert isinstance(sent, EmailMessage)
    written = sent.get_body(("plain",))
    assert written is not None
    assert written.get_content().split() == letter.split()
    assert browser.download('a[href$="/pdf"]', tmp_path).read_bytes().startswith(b"%PDF-")
    # The export, of one unit.
    browser.go("/office")
    browser.type("export-unit", f"{TRUCK}-tractor")
    with zipfile.ZipFile(browser.download('form[action="/office/export"] button', tmp_path)) as packed:
        rows = list(csv.DictReader(packed.read("readings.csv").decode().splitlines()))
    assert {row["printed"] for row in rows if (row["item"], row["place"]) == ("tire-tread", "right-1")} == {"3/32 in"}
    _retention(browser, place)
    assert browser.complaints() == []


def _retention(browser: Browser, place: Place) -> None:
    """First what would be removed is shown. At a depot, which the desk may only read, its owner removes it."""
    browser.press('a[href="/office/retention"]')
    browser.press("form.fields button")
    browser.shows(OLD)
    browser.shows("files would be removed: 1")
    if place.depot:
        browser.shows("Whoever owns its database removes them")
        assert browser.every("button.grave") == []
        assert "removed: 1" in place.own("prune", "--depot", "--older-than", "3 months", "--yes")
    else:
        browser.tick('input[name="sure"]')
        browser.press("button.grave")
        browser.shows("files were removed: 1")
    browser.go("/office/retention?older=3+months")
    browser.shows("There is nothing to remove")
    browser.go(f"/office/reports/{OLD}")
    browser.shows("There is nothing at this address")
    assert [line for line in browser.complaints() if "404" not in line] == []


def test_an_instructor_hears_a_rehearsal_and_overrules_a_credit(browser: Browser, tmp_path: Path) -> None:
    def curve() -> str:
        browser.go("/students/una-hand")
        return str(browser.first("figure.curve polyline").get_attribute("points"))

    browser.look(width=PHONE)
    browser.sign_in(NAMES["instructor"])
    before = curve()
    browser.press(f'a[href="{REHEARSAL}"]')
    browser.shows("1 of 3 parts right")
    # The recording stands in the row of what was heard of it.
    row = browser.driver.find_element(By.XPATH, "//audio/ancestor::tr")
    assert "the alternator is tight" in row.text
    assert _played(browser, "audio") == pytest.approx(0.5, abs=0.1)
    browser.look(width=PHONE, script=False)
    browser.press(f'a[href="{REHEARSAL}?part=alternator#overruled"]')
    browser.tick('input[name="said:check-2"]')
    browser.type("reason", "She pointed at it.")
    browser.press("form.fields button")
    browser.shows("2 of 3 parts right")
    browser.shows("counts as said by Nora Field")
    browser.shows("She pointed at it.")
    after = curve()
    heights = [[float(point.split(",")[1]) for point in points.split()] for points in (before, after)]
    assert heights[1][0] < heights[0][0]  # higher on the page: more parts right
    assert heights[1][1:] == heights[0][1:]
    scores = browser.download('a[href^="/students/scores.csv"]', tmp_path)
    rows = list(csv.DictReader(scores.read_text("utf-8-sig").splitlines()))
    (mine,) = [row for row in rows if row["overruled"]]
    assert (mine["session"], mine["part"], mine["right"]) == (ID, "alternator", "1")
    assert "credited by Nora Field" in mine["overruled"]
    assert "She pointed at it." in mine["overruled"]
    assert browser.complaints() == []


def test_an_administrator_makes_and_ends_accounts_and_reads_the_trail(
    browser: Browser, other: Browser, place: Place
) -> None:
    """Accounts are made by command, beside the desk that is being served."""
    command(place.home, "desk", "account", "add", "Lou Bell", "--role", "driver", typed=f"{PASSWORD}\n")
    other.sign_in("Lou Bell")
    other.go(TRAILER)
    other.go("/office")
    other.shows("not for your role")
    browser.look(width=PHONE, script=False)
    browser.sign_in(NAMES["administrator"])
    browser.press('nav a[href="/trail"]')
    told = browser.run("return [...document.querySelectorAll('tbody tr')].map(e => [...e.querySelectorAll('td')]"
                       ".map(cell => cell.textContent))")  # fmt: skip
    assert [tuple(line) for line in told if line[0] == "Lou Bell"] == [
        ("Lou Bell", "driver", "127.0.0.1", "office", "", "refused"),
        ("Lou Bell", "driver", "127.0.0.1", "unit", f"{TRUCK}-trailer", "seen"),
        ("Lou Bell", "driver", "127.0.0.1", "today", "", "seen"),
        ("Lou Bell", "driver", "127.0.0.1", "sign-in", "Lou Bell", "changed"),
    ]
    command(place.home, "desk", "account", "remove", "Lou Bell")
    other.go("/today")
    assert "Sign in" in other.text
    browser.go("/trail")
    browser.shows("Lou Bell")
    assert browser.complaints() == []


def test_everybody_reads_what_a_walk_asks(browser: Browser) -> None:
    browser.look(width=PHONE, script=False)
    browser.sign_in(NAMES["driver"])
    browser.press('nav a[href="/routes"]')
    browser.press(f'a[href="/routes/{TRUCK}?route=tractor-semitrailer"]')
    browser.tick('option[value="terse"]')
    browser.press("form.row button")
    browser.shows("at least 4/32 in (repair before leaving if not met). 49 CFR 393.75(b), read in the published text.")
    summary = browser.first("details summary")
    summary.click()
    assert browser.first("details[open] li").text
    assert browser.complaints() == []


def test_today_loads_itself_anew_when_a_record_comes_in(browser: Browser, place: Place) -> None:
    browser.sign_in(NAMES["driver"])
    browser.shows("Open defects")
    assert "Outside mirror" not in browser.text
    place.walk({"mirror-outside@left": ("cracked",)})
    browser.shows("Outside mirror", seconds=30)
    assert "loads anew" in browser.first("footer").text
    assert browser.complaints() == []


@pytest.mark.postgres
@pytest.mark.parametrize("place", ["postgresql"], indirect=True)
def test_while_the_depots_database_is_down_a_sentence_says_so_and_nothing_is_lost(
    browser: Browser, place: Place
) -> None:
    assert place.server is not None
    browser.sign_in(NAMES["mechanic"])
    browser.go(form("certify", TRACTOR, WORN))
    browser.tick('input[value="repaired"]')
    before = len(read_repairs(place.home))
    place.server.stop()
    try:
        browser.press("form.fields button")
        browser.shows("cannot be reached")
        browser.shows("Nothing is lost; try again later.")
    finally:
        place.server.start()
        place.owner.dispose()  # its connections are dead
    assert len(read_repairs(place.home)) == before
    browser.go(TRACTOR)
    browser.shows("Tread depth")
