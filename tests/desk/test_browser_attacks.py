"""Attacks on the desk from Debian's Chromium, at a device and at a depot."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from html import escape
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import quote

import pytest

from tests.desk.browsing import Browser
from tests.desk.place import TRUCK, Place
from tests.desk.test_browser import LEAKING, REHEARSAL, TRAILER, form
from tests.desk.yard import NAMES, PASSWORD
from tests.logbook.data import defect, record
from voice.desk import accounts, trail
from voice.desk.accounts import ROLES
from voice.desk.page import OPEN
from voice.desk.pages import table
from voice.desk.store import Store
from voice.record.repairs import read_repairs

pytestmark = pytest.mark.slow

SLOW = ("report-pdf", "report-mail", "export")  # each takes a second to make, and others are asked for in their tests
ASK = "return await Promise.all(arguments[0].map(async path => (await fetch(path, {redirect: 'manual'})).status))"
EVIL = "<script>window.taken = 1</script><img src=x onerror=\"window.taken = 1\">' onload='window.taken = 1"


def asked(browser: Browser, paths: list[str]) -> list[int]:
    """The status of each, asked for by a script in the page, with its session. 0: led to another page."""
    return list(browser.run(ASK, paths))


def test_no_role_sees_anothers_pages(browser: Browser, place: Place) -> None:
    pages = [page for page in table() if page.method == "GET" and page.roles != OPEN]
    named = {"unit": f"{TRUCK}-trailer", "vehicle": TRUCK, "student": "una-hand", "rehearsal": REHEARSAL.split("/")[-1],
             "record": "20260102-old", "clip": "001", "photo": "001.jpg"}  # fmt: skip
    paths = [page.address(**{part: named[part] for part in re.findall(r"{(\w+)}", page.path)}) for page in pages]
    browser.go("/sign-in")
    assert set(asked(browser, paths)) == {0}  # to signing in
    for role in ROLES:
        browser.sign_in(NAMES[role])
        closed = [path for page, path in zip(pages, paths, strict=True) if role not in page.roles]
        opened = [path for page, path in zip(pages, paths, strict=True) if role in page.roles and page.name not in SLOW]
        assert dict(zip(closed, asked(browser, closed), strict=True)) == dict.fromkeys(closed, 403)
        assert 403 not in asked(browser, opened)
        browser.go(closed[-1])
        browser.shows("not for your role")
        line = _latest(place)
        assert (line.who, line.outcome) == (NAMES[role], "refused")


@contextmanager
def elsewhere(html: str) -> Iterator[int]:
    """Another site with one page. Gives its port."""

    class Page(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(html.encode())

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Page)  # a browser opens more connections than it uses
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield server.server_port
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def test_a_forged_form_of_another_site_does_nothing(browser: Browser, place: Place) -> None:
    """From another host (which gets no cookie), and from another port of this one (which does)."""
    path = f"{TRAILER}/certify"
    browser.sign_in(NAMES["mechanic"])
    browser.go(form("certify", TRAILER, LEAKING))
    fields = {"defect": LEAKING, "verdict": "repaired", "remark": "forged"}
    fields |= {name: str(browser.first(f"form.fields input[name={name}]").get_property("value"))
               for name in ("state", "token")}  # fmt: skip
    inputs = "".join(f'<input name="{name}" value="{escape(value)}">' for name, value in fields.items())
    html = f'<form method="post" action="{place.base}{path}">{inputs}<button>win</button></form>'
    before = len(read_repairs(place.home))
    with elsewhere(html) as port:
        for host, who in (("localhost", ""), ("127.0.0.1", NAMES["mechanic"])):
            browser.driver.get(f"http://{host}:{port}/")
            browser.press("button")
            browser.shows("did not come from a page")
            assert browser.driver.current_url == place.base + path
            line = _latest(place)
            assert (line.who, line.page, line.outcome) == (who, "certify", "refused")
        # Nor can the desk be shown in another site's frame, to be pressed unseen.
        browser.driver.get(f"http://127.0.0.1:{port}/")
        browser.run("document.body.innerHTML = `<iframe src='${arguments[0]}'></iframe>`", place.base + TRAILER)
        assert any("frame-ancestors" in line for line in _complaints_soon(browser))
    # Without its token, with another session's, from the desk itself.
    other = "a" * 64
    for token in ("", other):
        browser.go(form("certify", TRAILER, LEAKING))
        browser.tick('input[value="repaired"]')
        browser.run("document.querySelector('form.fields [name=token]').value = arguments[0]", token)
        browser.press("form.fields button")
        browser.shows("did not come from a page")
    assert len(read_repairs(place.home)) == before
    place.take_in()
    assert LEAKING in place.asked_next(f"{TRUCK}-trailer")


def _latest(place: Place) -> trail.Line:
    store = Store(place.home)
    line = trail.latest(store, 1)[0]
    store.close()
    return line


def _complaints_soon(browser: Browser) -> list[str]:
    browser.run("return await new Promise(done => setTimeout(done, 500))")
    return browser.complaints()


def test_a_stolen_session_and_the_way_back_end_at_sign_out(browser: Browser) -> None:
    browser.sign_in(NAMES["mechanic"])
    browser.go(TRAILER)
    stolen = browser.driver.get_cookie("gladhand-desk")
    assert stolen is not None
    assert (stolen["httpOnly"], stolen["sameSite"]) == (True, "Lax")
    assert browser.run("return document.cookie") == ""
    browser.press("form.out button")
    browser.shows("Sign in")
    browser.driver.add_cookie(stolen)
    browser.go("/today")
    browser.shows("Sign in")
    # Nobody who comes to the screen afterwards gets the page by going back, or out of what the browser keeps.
    browser.driver.back()
    browser.shows("Sign in")
    kept = "return await (await fetch(arguments[0], {cache: 'force-cache'})).text()"
    assert "<h1>Sign in</h1>" in browser.run(kept, TRAILER)


def test_tricks_with_paths_lead_to_no_file(browser: Browser, place: Place) -> None:
    """Beside a recording that is played, and a photo that is shown."""
    browser.sign_in(NAMES["mechanic"])
    browser.go(TRAILER)
    path = str(browser.first("audio").get_dom_attribute("src"))
    _, _, session, clip = path.split("/")
    folder = place.home / "sessions" / session / "clips"
    (place.home / "secret.flac").write_bytes(b"secret")
    (folder / "99999.flac").write_bytes(b"secret")  # is there, but no record names it
    tricks = [
        "..%2fsecret.flac", "../secret.flac", f"{session}/..%2f..%2f..%2fsecret.flac", f"{session}/99999.flac",
        f"{session}%2fclips/{clip}", f"{session}/clips%2f{clip}", f"{session}/{clip}%00", f"{session}/record.json",
        f"..%2fsessions%2f{session}/{clip}", f"{session.upper()}/{clip}", f"%252e%252e/{clip}",
        f"{session}/....%2f%2f{clip}", f"{session}/%5c..%5csecret.flac", f"/{quote(str(folder), safe='')}/{clip}",
    ]  # fmt: skip
    assert asked(browser, [path, *(f"/recordings/{trick}" for trick in tricks)]) == [200] + [404] * len(tricks)
    (folder / "99999.flac").unlink()
    photo = str(browser.first(".photos img").get_dom_attribute("src"))
    here, photos = photo.rpartition("/")[0], folder.parent / "photos"
    (photos / "002.jpg").write_bytes(b"secret")  # no line names it
    (photos / "003.jpg").symlink_to(place.home / "secret.flac")
    tricks = ["002.jpg", "003.jpg", "1.jpg", "..%2frecord.json", "001.jpg%00", "..%2f..%2f..%2fsecret.flac"]
    assert asked(browser, [photo, *(f"{here}/{trick}" for trick in tricks)]) == [200] + [404] * len(tricks)
    (photos / "002.jpg").unlink()
    (photos / "003.jpg").unlink()
    browser.sign_in(NAMES["instructor"])
    clips = place.home / "students/una-hand/clips" / REHEARSAL.split("/")[-1]
    (clips / "003.flac").symlink_to(place.home / "secret.flac")
    tricks = ["002", "003", "0001", "..%2f001", "..%2f..%2fstudent", "%2e%2e%2f001", "001.flac%00", "*"]
    paths = [f"{REHEARSAL}/{trick}.flac" for trick in ("001", *tricks)]
    assert asked(browser, paths) == [200] + [404] * len(tricks)
    (clips / "003.flac").unlink()
    assert 200 not in asked(browser, ["/desk.sqlite", "/..%2fdesk.sqlite", "/device.key", "/desk.yaml", "/docs"])


def test_scripts_in_names_and_notes_are_text(browser: Browser, place: Place) -> None:
    """Whatever a driver is called, a mechanic writes or an address holds: no page runs it, and the policy need not
    stop anything."""
    store = Store(place.home)
    accounts.add(store, "Plain", "mechanic", PASSWORD)
    with store.writing() as connection:  # as it could stand there before such names were refused
        connection.execute("UPDATE account SET name = ?, key = ? WHERE name = 'Plain'", (EVIL, accounts.key_of(EVIL)))
    store.close()
    bad = defect("horn#bad").model_copy(update={"title": EVIL})
    place.add(record(f"evil-{place.store}", datetime.now(UTC), vehicle=80, defects=[bad], driver=EVIL))
    browser.sign_in(EVIL)
    unit = "/units/unit-0080-tractor"
    browser.go(form("certify", unit, "horn#bad"))
    browser.tick('input[value="repaired"]')
    browser.type("parts", EVIL)
    browser.type("remark", EVIL)
    browser.press("form.fields button")
    browser.shows("Certified, signed and")
    place.take_in()
    for path in (unit, "/today", f"/units?find={quote(EVIL)}", f'found in {unit}: a[href*="/withdraw"]'):
        _looked_at(browser, path)
    for role, paths in (
        ("office", ["/office", f"/office?unit={quote(EVIL)}", f"/office/export?unit={quote(EVIL)}",
                    f"/office/reports/evil-{place.store}", f"/office/retention?older={quote(EVIL[:30])}"]),
        ("instructor", [REHEARSAL, f"/students/{quote(EVIL, safe='')}"]),
        ("administrator", ["/trail"]),
    ):  # fmt: skip
        browser.sign_in(NAMES[role])  # type: ignore[index]
        for path in paths:
            _looked_at(browser, path)
    browser.shows(EVIL[:30])
    assert [line for line in browser.complaints() if not re.search("404|422", line)] == []


def _looked_at(browser: Browser, where: str) -> None:
    found, _, css = where.removeprefix("found in ").partition(": ")
    browser.go(found)
    if css:
        browser.press(css)
    assert browser.run("return window.taken") is None, where
    assert browser.every("main script, main img, [onload], [onerror]") == [], where
    assert browser.faults() == [], where
