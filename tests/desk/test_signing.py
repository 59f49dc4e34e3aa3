"""Signing in leads where one wanted to go and nowhere else; a lock-out is lifted; a password of one's own; names of the
machine; and that the desk answers when it says so."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from urllib.parse import quote, urlencode, urljoin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient
from typer.testing import CliRunner

from tests.desk.yard import BASE, NAMES, PASSWORD, Visitor, hidden, token
from tests.logbook.pg import free_port
from voice.cli import app
from voice.desk import accounts, sessions, trail
from voice.desk.app import make_app
from voice.desk.page import Desk
from voice.desk.serve import Place, check
from voice.desk.store import Store
from voice.errors import SetupError

UNIT = "tractor-trailer-five-axle-trailer"
NEW = "another four words here"


def said(home: Path, *words: str, typed: str = "") -> str:
    given = ["desk", "account", *words, "--home", str(home)]
    return CliRunner().invoke(app, given, input=typed, catch_exceptions=False).output


def last(desk: Desk, count: int = 1) -> list[tuple[str, str, str, str, str]]:
    """The newest lines of the trail, the newest last: who, where from, page, about, outcome."""
    lines = reversed(trail.latest(desk.store, count))
    return [(line.who, line.address, line.page, line.about, line.outcome) for line in lines]


# --- the page that was asked for --------------------------------------------------------------------------------------


def lands(desk: Desk, to: str, name: str = NAMES["mechanic"]) -> str:
    """Where signing in leads with this in the form."""
    client = Visitor(desk).client
    form = {"name": name, "password": PASSWORD, "token": token(client.get("/sign-in").text), "to": to}
    answer = client.post("/sign-in", data=form, follow_redirects=False)
    assert answer.status_code == 303
    return answer.headers["location"]


@pytest.mark.parametrize(
    "path",
    [
        "/today", "/units?find=twelve&from=0", f"/units/{UNIT}", f"/units/{UNIT}/certify?defect=glad-hands%23leaking",
        f"/units/{quote('a b..%ä', safe='')}",
    ],
)  # fmt: skip
def test_signing_in_leads_to_the_page_that_was_asked_for(desk: Desk, path: str) -> None:
    visitor = Visitor(desk)
    form = visitor.get(path)
    assert "Sign in" in form
    data = {"name": NAMES["mechanic"], "password": "a wrong password", "token": token(form), "to": hidden(form, "to")}
    data["to"] = data["to"].replace("&amp;", "&")
    again = visitor.client.post("/sign-in", data=data)
    assert again.status_code == 403
    assert hidden(again.text, "to") == hidden(form, "to")  # a wrong password does not lose it
    data |= {"password": PASSWORD, "token": token(again.text)}
    found = visitor.client.post("/sign-in", data=data, follow_redirects=False)
    assert (found.status_code, found.headers["location"]) == (303, path)
    # Who is signed in already is led on at once.
    onwards = visitor.client.get(f"/sign-in?{urlencode({'to': path})}", follow_redirects=False)
    assert (onwards.status_code, onwards.headers["location"]) == (303, path)


@pytest.mark.parametrize(
    "to",
    [
        "", "/", "https://elsewhere.example/today", "//elsewhere.example/today", "///elsewhere.example", "//today",
        "/\\elsewhere.example", "\\\\elsewhere.example", "/%2F/elsewhere.example", "/\t/elsewhere.example",
        "\n//elsewhere.example", "javascript:alert(1)", "data:text/html,x", "http:/today", "http:today", "today",
        "/today@elsewhere.example", "@elsewhere.example", "/today:80@elsewhere.example", "//[", "/today/..//elsewhere",
        "/units/..%2f..%2fdesk.sqlite", "/sign-out", "/sign-in", "/sign-in?to=/today", "/version", "/desk.js",
        "/today\r\nSet-Cookie: gladhand-desk=x", "/today\x00", "/nothing", "/trail", "/students", "x" * 9000,
    ],
)  # fmt: skip
def test_no_other_text_leads_anywhere_but_to_the_start(looked_at: Desk, to: str) -> None:
    """Of another site, of no page, of what changes something, of a page that is not for this role."""
    assert lands(looked_at, to) in ("/", "/today")
    if "elsewhere" in to:
        assert lands(looked_at, to) == "/"


@settings(max_examples=150, deadline=None)
@given(
    st.one_of(
        st.text(max_size=40),
        st.text("/\\%2fF5cC:@?#.\t\r\n today", max_size=30).map(lambda rest: f"/{rest}"),
        st.text("/\\%:@?#.\t\r\n abunits", max_size=20).map(lambda rest: f"/units/{rest}"),
        st.text(max_size=40).map(lambda rest: f"/today?{rest}"),
    )
)
def test_whatever_is_in_the_form_it_leads_to_this_desk(looked_at: Desk, to: str) -> None:
    location = lands(looked_at, to)
    assert urljoin(BASE, location).startswith(f"{BASE}/")
    assert re.fullmatch(r"/(today|units(/[^/\\\s]+)?)?(\?[\x21-\x7e]*)?", location)


def test_who_may_not_see_the_page_is_led_to_the_start(looked_at: Desk) -> None:
    assert lands(looked_at, "/trail", NAMES["administrator"]) == "/trail"
    for name in (NAMES["driver"], NAMES["instructor"]):
        assert lands(looked_at, "/trail", name) == "/"


# --- locked out -------------------------------------------------------------------------------------------------------


def locked(desk: Desk) -> Visitor:
    """Somebody who is locked out, with the right password too."""
    visitor = Visitor(desk, address="192.0.2.66")
    for n in range(sessions.OF_ACCOUNT):
        assert visitor.sign_in(NAMES["office"], f"wrong guess {n}") == 403
    assert visitor.sign_in(NAMES["office"]) == 429
    return visitor


def test_a_lock_out_is_lifted_by_command(desk: Desk) -> None:
    visitor = locked(desk)
    assert re.search(r"^Otto Penn: office \(locked out until \d\d:\d\d\)$", said(desk.home, "list"), re.MULTILINE)
    with pytest.raises(SetupError, match="no account 'Nobody'"):
        said(desk.home, "unlock", "Nobody")
    assert visitor.sign_in(NAMES["office"]) == 429
    assert said(desk.home, "unlock", "otto penn") == "otto penn may try again\n"
    assert last(desk) == [("", "command line", "account unlock", "otto penn", "changed")]
    assert "Otto Penn: office\n" in said(desk.home, "list")
    assert visitor.sign_in(NAMES["office"]) == 303
    assert "account unlock" in Visitor(desk, "administrator").get("/trail")


def test_a_new_password_lifts_a_lock_out_and_nobody_elses(desk: Desk) -> None:
    visitor = locked(desk)
    assert "has a new password" in said(desk.home, "password", "Abel Stone", typed=f"{PASSWORD}\n")
    assert visitor.sign_in(NAMES["office"]) == 429
    said(desk.home, "password", "Otto Penn", typed=f"{NEW}\n")
    assert last(desk) == [("", "command line", "account password", "Otto Penn", "changed")]
    assert visitor.sign_in(NAMES["office"]) == 403
    assert visitor.sign_in(NAMES["office"], NEW) == 303


def test_who_guesses_from_one_address_is_not_let_in_by_it(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    guesser = Visitor(desk, address="192.0.2.66")
    monkeypatch.setattr("voice.desk.pages.signing.checked", lambda *_: None)
    for n in range(sessions.FROM_ADDRESS):
        assert guesser.sign_in(f"Nobody {n}", "wrong guess") == 403
    said(desk.home, "unlock", NAMES["office"])
    assert guesser.sign_in(NAMES["office"]) == 429


def test_each_command_on_accounts_is_in_the_trail(desk: Desk) -> None:
    said(desk.home, "add", "New  Hand", "--role", "driver", typed=f"{PASSWORD}\n")
    said(desk.home, "remove", "New Hand")
    assert [line[2:] for line in last(desk, 2)] == [
        ("account add", "New Hand driver", "changed"),
        ("account remove", "New Hand", "changed"),
    ]
    assert PASSWORD.encode() not in (desk.home / "desk.sqlite").read_bytes()


# --- one's own password -----------------------------------------------------------------------------------------------


def change(visitor: Visitor, **fields: str) -> tuple[int, str]:
    form = {"old": PASSWORD, "new": NEW, "again": NEW, "token": token(visitor.get("/account")), **fields}
    return visitor.send("/account", **form)


def test_everybody_changes_the_own_password_and_other_sessions_end(desk: Desk) -> None:
    visitor, phone, other = Visitor(desk, "mechanic"), Visitor(desk, "mechanic"), Visitor(desk, "office")
    stolen = dict(visitor.client.cookies)
    assert 'href="/account"' in visitor.get("/today")
    status, html = change(visitor)
    assert status == 200
    assert "Your new password holds" in html
    changed, shown = last(desk, 2)
    assert changed == (NAMES["mechanic"], "192.0.2.7", "account-password", "", "changed")
    assert shown == (NAMES["mechanic"], "192.0.2.7", "account", "done=password", "seen")
    # This browser goes on with a session of its own; all others of the account end, a stolen copy of this one too.
    visitor.get("/today")
    other.get("/today")
    copy = TestClient(make_app(desk), base_url=BASE, cookies=stolen)
    for client in (phone.client, copy):
        assert client.get("/today", follow_redirects=False).status_code == 303
    assert Visitor(desk).sign_in(NAMES["mechanic"]) == 403
    assert Visitor(desk).sign_in(NAMES["mechanic"], NEW) == 303
    kept = b"".join(path.read_bytes() for path in desk.home.glob("desk.sqlite*"))
    assert NEW.encode() not in kept


@pytest.mark.parametrize(
    ("fields", "status", "why"),
    [
        ({"old": "a wrong password"}, 403, "not your current password"),
        ({"old": ""}, 403, "not your current password"),
        ({"again": NEW + "x"}, 422, "typed in two ways"),
        ({"new": "short", "again": "short"}, 422, "too few or too many"),
        ({"new": "x" * 257, "again": "x" * 257}, 422, "too few or too many"),
        ({"new": PASSWORD, "again": PASSWORD}, 422, "This is your current password"),
        ({"token": ""}, 403, "did not come from a page"),
        ({"token": sessions.form_token("")}, 403, "did not come from a page"),
    ],
)
def test_what_does_not_change_a_password(desk: Desk, fields: dict[str, str], status: int, why: str) -> None:
    visitor = Visitor(desk, "driver")
    got, html = change(visitor, **fields)
    assert got == status
    assert why in html
    assert PASSWORD not in html
    assert NEW not in html
    assert last(desk) == [(NAMES["driver"], "192.0.2.7", "account-password", "", "refused")]
    visitor.get("/today")
    assert Visitor(desk).sign_in(NAMES["driver"]) == 303


def test_the_old_password_cannot_be_guessed_at_an_open_browser(desk: Desk) -> None:
    visitor = Visitor(desk, "driver")
    for n in range(sessions.OF_ACCOUNT):
        assert change(visitor, old=f"wrong guess {n}")[0] == 403
    status, html = change(visitor)
    assert (status, "Too many tries" in html) == (429, True)
    assert accounts.checked(desk.store, NAMES["driver"], PASSWORD) is not None
    stranger = Visitor(desk)
    assert stranger.send("/account", old=PASSWORD, new=NEW, again=NEW)[0] == 401


# --- names of the machine, and when it answers ------------------------------------------------------------------------


def test_a_name_that_is_not_known_is_told_with_what_to_do(looked_at: Desk) -> None:
    client = TestClient(make_app(looked_at, Place(names=("Desk.Example",)).hosts), base_url=BASE)
    for known in ("desk.example", "DESK.example:8396", "127.0.0.1", "localhost:1", "[::1]:8396"):
        assert client.get("/sign-in", headers={"host": known}).status_code == 200, known
    answer = client.get("/today", headers={"host": "elsewhere.example:8396"})
    assert answer.status_code == 400
    assert answer.headers["content-type"].startswith("text/plain")
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.text == (
        'This desk does not know the name "elsewhere.example": if it is one of its names, whoever serves it stops it '
        'and starts it again with "--name elsewhere.example" added.\n'
    )
    for odd in ("", "<script>alert(1)</script>", "a@127.0.0.1", "127.0.0.1:x", "127.0.0.1/..", "[::1", "a b", "ä"):
        answer = client.get("/sign-in", headers={b"host": odd.encode()})
        assert answer.status_code == 400, odd
        assert "does not name the machine" in answer.text
        assert "script" not in answer.text


def test_a_name_is_checked_before_it_serves(tmp_path: Path) -> None:
    store = Store(tmp_path)
    accounts.add(store, "Ida Marsh", "mechanic", PASSWORD)
    check(Place(names=("desk.example", "Yard-3", "10.0.0.7", "[fe80::1]")), store)
    for wrong in ("https://desk.example", "desk.example:8396", "desk.example/", "*", "a b", ""):
        with pytest.raises(SetupError, match="not the name of a machine"):
            check(Place(names=(wrong,)), store)


def test_it_says_its_address_when_it_answers(pattern: Path, tmp_path: Path) -> None:
    """Asked for in the moment of the line. A second one on the port says what is wrong, and no address."""
    accounts.add(Store(tmp_path), "Ida Marsh", "mechanic", PASSWORD)
    port = free_port()
    command = [sys.executable, "-m", "voice", "desk", "--port", str(port), "--home", str(tmp_path)]
    environment = {**os.environ, "PYTHONUNBUFFERED": ""}
    with subprocess.Popen(command, stdout=subprocess.PIPE, env=environment, text=True) as server:
        try:
            assert server.stdout is not None
            line = server.stdout.readline()
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/sign-in") as answer:
                assert answer.status == 200
            assert line == f"http://127.0.0.1:{port}/ is served until Ctrl-C.\n"
            second = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
            assert (second.returncode, second.stdout) == (2, "")
            assert f"127.0.0.1:{port} cannot be served" in second.stderr
        finally:
            server.terminate()
            for _ in range(200):
                if server.poll() is not None:
                    break
                time.sleep(0.05)
