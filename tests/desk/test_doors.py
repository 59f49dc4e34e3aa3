"""Who gets in where: every page of the table with every role; forged forms, stolen sessions, guessed passwords."""

from __future__ import annotations

import json
import re
import sqlite3
import time
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urlencode

import pytest
from argon2 import PasswordHasher
from starlette.testclient import TestClient
from typer.testing import CliRunner

from tests.desk.yard import BASE, NAMES, PASSWORD, Visitor, token
from voice.cli import app
from voice.desk import accounts, sessions, trail
from voice.desk.accounts import ROLES, Role
from voice.desk.app import HEADERS, make_app
from voice.desk.page import OPEN, Desk, Page
from voice.desk.pages import table
from voice.desk.serve import Place, check
from voice.desk.store import Store
from voice.errors import SetupError

# Who is to see what, written down a second time on purpose: a page that lets others in fails here.
YARD = {"driver", "mechanic", "office", "administrator"}
MAY: dict[str, set[str]] = {
    "today": YARD, "units": YARD, "unit": YARD,
    "recording": {"mechanic", "office"}, "photo": {"mechanic", "office"},
    "report-read": {"mechanic"},
    "certify-form": {"mechanic"}, "certify": {"mechanic"}, "withdraw-form": {"mechanic"}, "withdraw": {"mechanic"},
    "trail": {"administrator"},
    "version": set(ROLES), "first": set(ROLES), "sign-out": set(ROLES),
    "account": set(ROLES), "account-password": set(ROLES),
}  # fmt: skip
BEFORE = {"sign-in-form", "sign-in", "style", "script", "icon"}  # needed before anybody is known
OURS = {"today", "unit", "mechanic", "signing", "account", "trail"}  # modules whose pages are written down here
PAGES = table()
OURS_PAGES = [page for page in PAGES if page.show.__module__.rpartition(".")[2] in OURS]
KEY = "glad-hands#leaking"


def path_of(page: Page) -> str:
    parts = dict.fromkeys(re.findall(r"{(\w+)}", page.path), "tractor-trailer-five-axle-trailer")
    return page.address(**parts) + (f"?defect={KEY.replace('#', '%23')}" if "certify" in page.name else "")


def test_the_table_is_as_it_is_written_down() -> None:
    assert {page.name for page in PAGES if page.roles == OPEN} == BEFORE
    assert {page.name: set(page.roles) for page in OURS_PAGES if page.roles != OPEN} == MAY


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_each_page_lets_in_its_roles_and_nobody_else(page: Page, looked_at: Desk, readers: dict[Role, Visitor]) -> None:
    """A form without its token shows that the guard came first: 403 for all, and nothing is done."""
    stranger = TestClient(make_app(looked_at), base_url=BASE)
    for who, client in [(None, stranger), *((role, readers[role].client) for role in ROLES)]:
        answer = client.request(page.method, path_of(page), follow_redirects=False)
        inside = page.roles == OPEN or (who is not None and who in page.roles)
        if page.method == "POST":
            expected = {403} if who is not None or page.roles == OPEN else {401}
        elif inside:
            expected = {200, 204, 303, 404}
        else:
            expected = {303} if who is None else {403}
        assert answer.status_code in expected, (who, answer.status_code)
        if who is None and not inside and page.method == "GET":
            back = f"?{urlencode({'to': path_of(page)})}" if page.noted else ""
            assert answer.headers["location"] == f"/sign-in{back}"
        assert HEADERS.items() <= {name.title(): value for name, value in answer.headers.items()}.items()


def test_nothing_else_can_be_reached(readers: dict[Role, Visitor]) -> None:
    client = readers["administrator"].client
    for path in ("/desk.yaml", "/../desk.sqlite", "/units/..%2f..%2fdesk.sqlite", "/docs", "/openapi.json"):
        assert client.get(path).status_code == 404, path
    assert client.delete("/today").status_code == 405


class Forms(HTMLParser):
    """Forms of a page that are sent, and what runs or is styled inline."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.sent: list[str] = []
        self.inline: list[str] = []
        self.tokens = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "form" and given.get("method") == "post":
            self.sent.append(str(given["action"]))
        self.tokens += tag == "input" and given.get("name") == "token"
        self.inline += [name for name in given if name == "style" or name.startswith("on")]
        self.inline += [tag] if tag == "style" or (tag == "script" and "src" not in given) else []


@pytest.mark.parametrize("page", [p for p in OURS_PAGES if p.method == "GET" and p.noted], ids=lambda page: page.name)
def test_each_form_has_a_token_and_nothing_is_inline(page: Page, readers: dict[Role, Visitor]) -> None:
    role = next(role for role in ROLES if role in page.roles)
    forms = Forms(readers[role].client.get(path_of(page)).text)
    assert len(forms.sent) == forms.tokens >= 1
    assert forms.inline == []


def test_a_forged_form_does_nothing(desk: Desk) -> None:
    """Another site's form has no token; one with a stranger's token, and one that its browser says is foreign."""
    mechanic, other = Visitor(desk, "mechanic"), Visitor(desk, "mechanic")
    html = mechanic.get(f"/units/tractor-trailer-five-axle-trailer/certify?defect={KEY.replace('#', '%23')}")
    state = re.findall(r'name="state" value="(\w+)"', html)[0]
    fields = {"defect": KEY, "verdict": "repaired", "state": state}
    path = "/units/tractor-trailer-five-axle-trailer/certify"
    for wrong in ("", "0" * 64, token(other.get("/today")), sessions.form_token("")):
        assert mechanic.send(path, **fields, token=wrong)[0] == 403
    right = {**fields, "token": token(html)}
    assert mechanic.client.post(path, data=right, headers={"origin": "https://elsewhere.example"}).status_code == 403
    assert not (desk.home / "repairs.jsonl").exists()
    assert mechanic.client.post(path, data=right, headers={"origin": BASE}).status_code == 200
    assert (desk.home / "repairs.jsonl").exists()


def test_a_stolen_session_ends_at_sign_out_with_the_password_and_with_the_account(desk: Desk) -> None:
    def stolen() -> TestClient:
        visitor = Visitor(desk, "mechanic")
        copy = TestClient(make_app(desk), base_url=BASE, cookies=dict(visitor.client.cookies), follow_redirects=False)
        assert copy.get("/today").status_code == 200
        leave(visitor)
        return copy

    def leave(visitor: Visitor) -> None:
        how(visitor)

    for way in (
        lambda visitor: visitor.send("/sign-out", token=token(visitor.get("/today"))),
        lambda _: accounts.set_password(desk.store, NAMES["mechanic"], PASSWORD),
        lambda _: accounts.remove(desk.store, NAMES["mechanic"]),
    ):
        how = way
        copy = stolen()
        assert copy.get("/today").status_code == 303


def test_sessions_grow_old_and_only_their_hashes_are_kept(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    visitor = Visitor(desk, "office")
    id = visitor.client.cookies["gladhand-desk"]
    assert len(id) >= 43  # 256 bits, in base 64
    kept = b"".join(path.read_bytes() for path in desk.home.glob("desk.sqlite*"))
    assert sessions._hash(id).encode() in kept
    assert id.encode() not in kept
    assert PASSWORD.encode() not in kept
    now = time.time()
    for later in (sessions.IDLE, sessions.LONGEST):
        monkeypatch.setattr(time, "time", lambda later=later: now + later + 60)
        assert sessions.find(desk.store, id) is None
    # A page that asks by itself does not keep a session; one that somebody looks at does.
    monkeypatch.setattr(time, "time", lambda: now + sessions.IDLE - 60)
    visitor.get("/version")
    monkeypatch.setattr(time, "time", lambda: now + sessions.IDLE + 60)
    assert sessions.find(desk.store, id) is None
    monkeypatch.setattr(time, "time", lambda: now + sessions.IDLE - 60)
    visitor.get("/today")
    monkeypatch.setattr(time, "time", lambda: now + sessions.IDLE + 60)
    assert sessions.find(desk.store, id) is not None


def test_the_cookie_is_out_of_reach_of_scripts_and_of_other_sites(looked_at: Desk) -> None:
    for base, secure in ((BASE, False), (BASE.replace("http", "https"), True)):
        client = TestClient(make_app(looked_at), base_url=base)
        form = client.get("/sign-in")
        data = {"name": NAMES["office"], "password": PASSWORD, "token": token(form.text)}
        made = client.post("/sign-in", data=data, follow_redirects=False)
        for line in (*form.headers.get_list("set-cookie"), made.headers.get_list("set-cookie")[0]):
            assert "httponly" in line.lower()
            assert "samesite=lax" in line.lower()
            assert ("secure" in line.lower()) is secure


def test_guessing_is_stopped_for_an_account_and_for_an_address(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    guesser = Visitor(desk, address="192.0.2.66")
    said = [guesser.sign_in(NAMES["office"], f"wrong guess {n}") for n in range(sessions.OF_ACCOUNT + 1)]
    assert said == [403] * sessions.OF_ACCOUNT + [429]
    # The right password does not help now, from wherever, nor does starting the desk anew.
    assert Visitor(Desk(desk.home, Store(desk.home), desk.engine, False)).sign_in(NAMES["office"]) == 429
    assert Visitor(desk, address="192.0.2.8").sign_in(NAMES["driver"]) == 303
    monkeypatch.setattr("voice.desk.pages.signing.checked", lambda *_: None)
    said = [guesser.sign_in(f"Nobody {n}", "wrong guess again") for n in range(sessions.FROM_ADDRESS)]
    assert said.count(429) == sessions.OF_ACCOUNT
    assert guesser.sign_in(NAMES["mechanic"]) == 429
    now = time.time()
    monkeypatch.undo()
    monkeypatch.setattr(time, "time", lambda: now + sessions.WINDOW + 1)
    assert guesser.sign_in(NAMES["mechanic"]) == 303


def test_the_trail_tells_who_saw_and_changed_what_and_cannot_be_changed(desk: Desk) -> None:
    driver = Visitor(desk, "driver")
    driver.get("/units/unit-0001-tractor")
    assert driver.client.get("/trail").status_code == 403
    told = [(line.who, line.page, line.about, line.outcome) for line in trail.latest(desk.store, 3)]
    assert told == [
        ("Rosa Quill", "trail", "", "refused"),
        ("Rosa Quill", "unit", "unit-0001-tractor", "seen"),
        ("Rosa Quill", "sign-in", "Rosa Quill", "changed"),
    ]
    Visitor(desk).sign_in("a password typed as a name", "x")
    assert trail.latest(desk.store, 1)[0].about == ""
    assert "unit-0001-tractor" in Visitor(desk, "administrator").get("/trail")
    for change in ("DELETE FROM trail", "UPDATE trail SET who = ''"):
        with pytest.raises(SetupError, match="the trail is never") as refused, desk.store.writing() as connection:
            connection.execute(change)
        assert isinstance(refused.value.__cause__, sqlite3.IntegrityError)


def test_large_and_broken_forms_are_refused(looked_at: Desk, readers: dict[Role, Visitor]) -> None:
    client = readers["mechanic"].client
    for body in (b"a=" + b"x" * 200_000, b"\xff\xfe=1", b"&".join(b"a=1" for _ in range(300)), b"a=%ff"):
        answer = client.post("/units/unit-0001-tractor/certify", content=body)
        assert answer.status_code == 413


def test_where_it_may_be_served(tmp_path: Path) -> None:
    store = Store(tmp_path)
    with pytest.raises(SetupError, match="no account yet"):
        check(Place(), store)
    accounts.add(store, "Ida Marsh", "mechanic", PASSWORD)
    check(Place(), store)
    with pytest.raises(SetupError, match="in the clear"):
        check(Place(host="192.0.2.1"), store)
    with pytest.raises(SetupError, match="both"):
        check(Place(host="192.0.2.1", certificate=tmp_path), store)


def test_a_password_is_hashed_slowly(quick_hashes: PasswordHasher) -> None:
    """The shipped cost is the library's default: RFC 9106's second recommended option, argon2id with 64 MiB, t = 3."""
    assert quick_hashes.hash(PASSWORD).startswith("$argon2id$v=19$m=65536,t=3,p=4$")


def test_accounts_by_command(tmp_path: Path) -> None:
    def said(line: str, typed: str = "") -> str:
        words = ["desk", "account", *line.split(","), "--home", str(tmp_path)]
        return CliRunner().invoke(app, words, input=typed, catch_exceptions=False).output

    assert "may sign in as mechanic" in said("add,Ida  Marsh,--role,mechanic", f"{PASSWORD}\n")
    for line, typed, why in (
        ("add,ida marsh,--role,office", PASSWORD, "an account"),
        ("add,Otto Penn,--role,office", "short", "12 to 256"),
        ("add, ,--role,office", PASSWORD, "name is empty"),
        ("add,<b>Otto</b>,--role,office", PASSWORD, "person's name"),
        ("remove,Otto Penn", "", "no account"),
    ):
        with pytest.raises(SetupError, match=why):
            said(line, f"{typed}\n")
    assert said("list") == "Ida Marsh: mechanic\n"
    assert accounts.checked(Store(tmp_path), "IDA MARSH", PASSWORD) is not None
    said("password,Ida Marsh", "another one in a row\n")
    assert accounts.checked(Store(tmp_path), "Ida Marsh", PASSWORD) is None
    assert accounts.checked(Store(tmp_path), "Ida Marsh", "another one in a row") is not None
    assert (tmp_path / "desk.sqlite").stat().st_mode & 0o077 == 0
    said("remove,Ida Marsh")
    assert said("list") == ""


def test_names_that_would_be_script_stay_text(desk: Desk) -> None:
    """Of an account from before such names were refused."""
    name = "<script>alert(1)</script> & \"'"
    accounts.add(desk.store, "Plain", "administrator", PASSWORD)
    with desk.store.writing() as connection:
        connection.execute("UPDATE account SET name = ?, key = ? WHERE name = 'Plain'", (name, accounts.key_of(name)))
    visitor = Visitor(desk)
    assert visitor.sign_in(name) == 303
    html = visitor.get("/trail")
    assert "<script>alert" not in html
    assert "&lt;script&gt;alert(1)" in html
    wrong = visitor.client.get("/units?find=%22%3E%3Cscript%3Ealert(1)%3C/script%3E").text
    assert "<script>alert" not in wrong
    assert json.dumps(name) not in html
