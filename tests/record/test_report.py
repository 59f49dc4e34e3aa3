"""The printed report: complete, harmless, self-contained, and rendered by a real browser where there is one."""

from __future__ import annotations

import re
import shutil
import subprocess
import threading
from datetime import UTC, datetime
from html.parser import HTMLParser
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest

from tests.record.walks import SHORT, signed
from tests.walk.talkative import context
from voice.record.diagram import HEIGHT, WIDTH, diagram
from voice.record.model import Certification, InspectionRecord
from voice.record.open_defects import OpenDefect
from voice.record.report import css, duration, render_html
from voice.record.seal import seal
from voice.record.wording import words
from voice.route import load_library
from voice.understand.meaning import Words

CHROMIUM = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), None
)
browser = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")
pdf_tools = pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="poppler-utils is not installed")

SCRIPT = {
    "brake-lights": ("defect", "lamp out"),
    "tire-tread@right-1": ("three thirty seconds", "yes"),
    "wipers": ("take a note", Words("left blade is stiff"), "okay"),
    "horn-air": ("not applicable", Words("none fitted")),
    "mirror-outside@left": ("pause", "resume", "okay"),
    "carried@1": ("still there",),
}
CARRIED = OpenDefect(
    "triangles#missing", "Warning triangles: missing", datetime(2026, 3, 2, 5, tzinfo=UTC), "r1", "repair", 1, "r1"
)


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> InspectionRecord:
    home = tmp_path_factory.mktemp("home")
    return signed(home, SCRIPT, carried=[CARRIED], interrupt="rim-lugs@left-2")


class Page(HTMLParser):
    """The page's text, its tags in order, and whatever it would fetch."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.fetched: list[str] = []
        self.handlers: list[str] = []
        self.parts: list[str] = []
        self.style = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            if name in ("src", "href", "data", "action", "poster", "srcset", "background", "xlink:href"):
                self.fetched.append(f"{tag} {name}={value}")
            if name.startswith("on"):
                self.handlers.append(f"{tag} {name}")

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1] == "style":
            self.style += data
        self.parts.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.parts))


def test_what_the_rules_ask_for_is_on_it(record: InspectionRecord) -> None:
    text = Page(render_html(record)).text
    for wanted in (
        record.vehicle.name, "SAMPLE 12", "SAMPLE 40", "412,345 mi",  # 396.11(a)(2)(i): identifies it
        "Rosa Quill",  # 396.11(a)(2)(ii): the driver signs
        "Brake lights: lamp out", "Tread depth, right side, steer axle: beyond its limit",  # lists the defects
        "49 CFR 396.11(a)(3)", "repair unnecessary", "49 CFR 396.13",  # certification, next driver's review
        "three months",  # 396.11(a)(4)
        "Warning triangles: missing", "still there",
        "left blade is stiff", "none fitted", "paused by the driver", "the last 17 bytes were torn",
        record.id, record.program, "qualified person",
    ):  # fmt: skip
        assert wanted in text, wanted
    plain = text.replace(" ", "")
    assert record.record_sha256 in plain
    assert record.journal.sha256 in plain
    assert record.limits[0].file in text
    assert not re.search(r"\b(is safe|passed|roadworthy)\b", text, re.IGNORECASE)


# 49 CFR 396.11(a)(1)(i)-(xi): the parts that the driver's report has to cover, in its order and close to its words.
PARTS_OF_THE_RULE = (
    "service-brakes", "parking-brake", "steering", "lighting", "tires", "horn", "wipers", "mirrors", "coupling",
    "wheels", "emergency-equipment",
)  # fmt: skip


def _parts(html: str) -> dict[str, str]:
    table = html[html.index('<table class="parts">') :].partition("</table>")[0]
    rows = re.findall(r"<tr[^>]*><td>(.*?)</td><td class=\"n\">(\d+)</td><td[^>]*>(.*?)</td></tr>", table)
    names = {name: part for part, name in words("report")["parts"]["names"].items()}
    return {names[title]: found for title, _, found in rows}


def test_the_sheet_that_is_signed_is_the_report_without_its_annex(record: InspectionRecord) -> None:
    whole, sheet = (render_html(record, annex=annex) for annex in (True, False))
    end = sheet.index("</main>")
    assert whole.startswith(sheet[:end].rstrip())
    assert words("report")["signatures"]["keep"] in sheet
    for title in ("parts", "measurements", "entries", "evidence"):
        assert words("report")[title]["title"] not in Page(sheet).text
        assert words("report")[title]["title"] in Page(whole).text


def test_the_eleven_parts_with_what_was_found_on_each(record: InspectionRecord) -> None:
    found = _parts(render_html(record))
    assert tuple(found) == (*PARTS_OF_THE_RULE, "other")
    order = {defect.key: str(n) for n, defect in enumerate(record.defects, start=1)}
    assert found["lighting"] == f"defect {order['brake-lights#lamp-out']}"
    assert order["tire-tread@right-1#beyond-tread-depth"] in found["tires"]
    assert found["horn"] == "not on this vehicle"
    assert found["emergency-equipment"] == "no defect found"


def test_parts_that_were_left_out_are_not_called_free_of_defects(tmp_path: Path) -> None:
    record = signed(tmp_path, {"tire-tread@left-2-outer": ("finish inspection", "yes")})
    found = _parts(render_html(record))
    assert found["parking-brake"] == "not inspected"
    assert re.fullmatch(r"no defect found; \d+ not inspected", found["tires"])
    assert words("report")["defects"]["incomplete"] in render_html(record) or record.defects
    one = signed(tmp_path / "2", only=("chocks", "wipers"))
    assert _parts(render_html(one))["tires"] == "no such item on this route"


def test_no_defects_is_said_and_still_to_be_kept(tmp_path: Path) -> None:
    record = signed(tmp_path, only=("chocks", "wipers"))
    page = Page(render_html(record))
    assert words("report")["defects"]["none"] in page.text
    assert "nothing to certify" in page.text
    assert "svg" not in page.tags


def test_certifications_given_since_fill_the_block(record: InspectionRecord) -> None:
    key = "brake-lights#lamp-out"
    given = Certification(
        key=key, verdict="repaired", name="Bo Lind", at=datetime(2026, 3, 3, 14, 5, tzinfo=UTC), remark="new lamp"
    )
    before, after = render_html(record), render_html(record, [given])
    assert "Bo Lind" not in before
    assert 'class="box on"' not in before
    assert after.count('class="box on"') == 1
    text = Page(after).text
    assert "Bo Lind" in text
    assert "new lamp" in text
    assert "Mar 3, 2026, 14:05" in text
    # One that the review relied on is named in words, though this walk has no entry with that defect.
    relied = given.model_copy(update={"key": "triangles#missing"})
    seen = Page(render_html(record.model_copy(update={"certifications": (relied,)}))).text
    assert "Warning triangles: missing" in seen or "Triangles: missing" in seen
    assert "triangles#missing" not in seen


def test_an_unsigned_walk_says_so_first(record: InspectionRecord) -> None:
    draft = seal(record.model_copy(update={"sign_off": None, "ended": None}))
    html = render_html(draft)
    assert html.index(words("report")["draft"]) < html.index(words("report")["defects"]["title"])


HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</style><script>alert(1)</script>",
    '"; } body { background: url(http://127.0.0.1:9/) } @page { content: "',
    "{{ 7 * 7 }}{% raw %}",
    "</title><svg onload=alert(1)>",
    "\\22 ; content: \\22 x",
]


def _hostile(record: InspectionRecord, name: str) -> InspectionRecord:
    """The name in every text that a person could have given."""
    assert record.sign_off is not None
    defect = record.defects[0].model_copy(update={"title": name, "details": {name: name}})
    entry = record.entries[0].model_copy(
        update={"title": name, "spoken_place": name, "reason": name, "outcome": "defect", "defects": (defect,),
                "evidence": tuple(e.model_copy(update={"words": name}) for e in record.entries[0].evidence)}
    )  # fmt: skip
    return record.model_copy(
        update={
            "vehicle": record.vehicle.model_copy(update={"name": name, "plate": name}),
            "driver": name,
            "id": name,
            "route_title": name,
            "entries": (entry, *record.entries[1:]),
            "notes": (record.notes[0].model_copy(update={"text": name}),),
            "carried": (record.carried[0].model_copy(update={"title": name}),),
            "sign_off": record.sign_off.model_copy(update={"name": name, "words": name}),
        }
    )


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_stay_text(record: InspectionRecord, name: str) -> None:
    plain = Page(render_html(record))
    page = Page(render_html(_hostile(record, name)))
    assert set(page.tags) <= set(plain.tags)
    assert "script" not in page.tags
    assert not page.fetched
    assert not page.handlers
    assert page.text.count(re.sub(r"\s+", " ", name)) >= 8
    assert page.style.count("{") == plain.style.count("{")
    assert "url(" not in page.style


def test_it_fetches_nothing_and_runs_nothing(record: InspectionRecord) -> None:
    html = render_html(record)
    page = Page(html)
    assert not page.fetched
    assert not page.handlers
    assert not {"script", "link", "img", "iframe", "object", "embed", "form"} & set(page.tags)
    assert not re.search(r"url\(|@import|@font-face", page.style)
    assert "default-src 'none'" in html
    addresses = set(re.findall(r"https?://[^\s\"'<]+", html))
    assert addresses <= {"http://www.w3.org/2000/svg"}  # a name, nothing is fetched from it


def test_text_for_css_cannot_end_its_string() -> None:
    assert css('a"b\\c\n}') == "a\\22 b\\5c c\\a \\7d "
    assert css("tractor 12, trailer-40.") == "tractor 12, trailer-40."


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.2, "0 s"), (48, "48 s"), (60, "1 min"), (125, "2 min 5 s"), (2467, "41 min"), (3780, "1 h 3 min")],
)
def test_durations(seconds: float, text: str) -> None:
    assert duration(seconds) == text


@pytest.mark.parametrize("kind", ["tractor-semitrailer", "straight-truck", "bus"])
def test_the_drawing_of_every_kind_of_vehicle(tmp_path: Path, kind: str, record: InspectionRecord) -> None:
    vehicle = context(kind).plan.vehicle
    drawn = diagram(record.model_copy(update={"vehicle": vehicle, "entries": ()}), {})
    wheels = [box for box in drawn.boxes if box.kind == "wheel"]
    assert len(wheels) == sum(4 if axle.dual else 2 for axle in vehicle.axles)
    for box in drawn.boxes:
        assert box.x >= 0
        assert box.x + box.w <= WIDTH
        assert box.y >= 0
        assert box.y + box.h <= HEIGHT
    for one in wheels:
        for two in wheels:
            apart = one.x + one.w <= two.x or two.x + two.w <= one.x or one.y + one.h <= two.y or two.y + two.h <= one.y
            assert one is two or apart


def test_defects_are_drawn_where_they_are(record: InspectionRecord) -> None:
    numbers = {defect.key: n for n, defect in enumerate(record.defects, start=1)}
    drawn = diagram(record, numbers)
    worn = next(mark for mark in drawn.marks if mark.number == numbers["tire-tread@right-1#beyond-tread-depth"])
    colored = [box for box in drawn.boxes if box.level == "repair"]
    assert any(box.y < HEIGHT / 2 and box.x < worn.x < box.x + box.w for box in colored)  # right is up, front is left
    assert worn.y < HEIGHT / 2
    assert len(drawn.marks) + len(drawn.elsewhere) == len(record.defects)


# --- in a real browser -------------------------------------------------------------------------------------------


def _browse(*options: str, url: str) -> subprocess.CompletedProcess[str]:
    assert CHROMIUM is not None
    return subprocess.run(
        [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", *options, url],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip


@browser
@pdf_tools
@pytest.mark.slow
@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_it_prints_on_both_papers(record: InspectionRecord, tmp_path: Path, paper: Any, size: tuple[int, int]) -> None:
    page, pdf = tmp_path / "report.html", tmp_path / "report.pdf"
    page.write_text(render_html(record, paper=paper))
    _browse("--no-pdf-header-footer", f"--print-to-pdf={pdf}", url=page.as_uri())
    info = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
    width, height = map(float, re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", info).groups())  # type: ignore[union-attr]
    assert (round(width), round(height)) == size
    pages = int(re.search(r"Pages:\s+(\d+)", info)[1])  # type: ignore[index]
    assert 3 <= pages <= 8
    text = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout
    sheets = text.split("\f")[:pages]
    assert all(f"Page {n} of {pages}" in sheet for n, sheet in enumerate(sheets, start=1))
    assert all(record.id in sheet for sheet in sheets)
    # The defects and the driver are on the first sheet.
    assert "Brake lights: lamp out" in sheets[0]
    assert "Rosa Quill" in sheets[0]
    assert sum(entry.title in text for entry in record.entries) == len(record.entries)


@browser
@pytest.mark.slow
@pytest.mark.parametrize("width", [390, 1100])
def test_nothing_sticks_out_sideways(record: InspectionRecord, tmp_path: Path, width: int) -> None:
    (tmp_path / "report.html").write_text(render_html(record))
    # The frame has the wanted width whatever the smallest window of the browser is; its script measures the page.
    frame = tmp_path / "frame.html"
    frame.write_text(
        f"<iframe id=f src=report.html style='width:{width}px;height:900px;border:0'></iframe><p id=out></p><script>"
        "f.onload = () => { const page = f.contentDocument.documentElement;"
        "out.textContent = 'WIDE ' + page.scrollWidth + ' ' + page.clientWidth; }</script>"
    )
    dom = _browse("--allow-file-access-from-files", "--dump-dom", "--virtual-time-budget=4000", url=frame.as_uri())
    wide, room = map(int, re.search(r"WIDE (\d+) (\d+)", dom.stdout).groups())  # type: ignore[union-attr]
    assert room == width
    assert wide <= room


@browser
@pytest.mark.slow
def test_the_browser_asks_nobody_for_anything(record: InspectionRecord, tmp_path: Path) -> None:
    asked: list[str] = []

    class Server(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_response(204)
            self.end_headers()

        def log_message(self, *args: object) -> None:
            """Quiet."""

    server = HTTPServer(("127.0.0.1", 0), Server)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    bait = f"http://127.0.0.1:{server.server_port}"
    name = f"</td><img src={bait}/img><script src={bait}/js></script><style>@import '{bait}/css';</style>"
    try:
        good, bad = tmp_path / "good.html", tmp_path / "bad.html"
        good.write_text(render_html(_hostile(record, name)))
        _browse(f"--screenshot={tmp_path / 'x.png'}", url=good.as_uri())
        assert asked == []
        # The same bait unescaped is taken: the check can fail.
        bad.write_text(f"<p>{name}")
        _browse(f"--screenshot={tmp_path / 'y.png'}", url=bad.as_uri())
        assert "/img" in asked
    finally:
        server.shutdown()
        server.server_close()


def test_all_of_the_short_route_is_on_the_page(record: InspectionRecord) -> None:
    assert {entry.item for entry in record.entries} == {*SHORT, "carried"}
    text = Page(render_html(record)).text
    assert all(entry.title in text for entry in record.entries)


def test_weasyprint_makes_a_pdf_of_the_same_page(record: InspectionRecord) -> None:
    weasyprint = pytest.importorskip("weasyprint")
    document = weasyprint.HTML(string=render_html(record, paper="letter")).render()
    assert 3 <= len(document.pages) <= 8


def test_follow_ups_are_told_in_plain_words(tmp_path: Path) -> None:
    record = signed(tmp_path, {"rim-lugs@right-2": ("defect", "loose", "three", "yes", "no")})
    [entry] = [entry for entry in record.entries if entry.step == "rim-lugs@right-2"]
    assert [reading.name for reading in entry.readings] == ["count-loose"]
    text = Page(render_html(record)).text
    assert "How many loose: 3" in text
    assert "count-loose" not in text
    assert "count loose" not in text


def test_a_measure_of_a_follow_up_is_told_as_any_other(tmp_path: Path) -> None:
    """In figures, beside the defect, in the annex and in the place that has both names."""
    said = ("too much stroke", "push rod", "two and three quarter inches", "yes", "no")
    record = signed(tmp_path, {"brake-chamber@left-4": said}, only=("brake-chamber",))
    [defect] = record.defects
    assert defect.details["stroke"] == "two and three quarter inches"  # as it was said
    text = Page(render_html(record)).text
    assert "Stroke, brakes applied: 2 3/4 in" in text
    assert "left side, axle four (trailer axle one): pushrod travels too far" in text
    assert "two and three quarter inches" not in re.sub(r"two and three quarter inches \d+%", "", text)  # but as heard


def test_every_follow_up_has_plain_words() -> None:
    asked = {follow.id for item in load_library().items.values() for follow in item.follow_ups}
    assert asked | {"described", "told"} == set(words("report")["details"])


def test_free_speech_is_marked_as_heard_with_its_recording(record: InspectionRecord) -> None:
    """Of the words of a note, a reason and a description; a fixed answer is not marked."""
    text = Page(render_html(record)).text
    [note] = record.notes
    assert note.clip is not None
    assert f"left blade is stiff (as heard; recording {note.clip})" in text
    assert re.search(r"none fitted \(as heard; recording [^)]+\.flac\)", text)


def test_a_description_is_marked_and_so_is_free_speech_without_a_recording(tmp_path: Path) -> None:
    script = {"wipers": ("defect", "something else", Words("blade torn in the middle"), "both", "no")}
    record = signed(tmp_path, script, clips=False)
    text = Page(render_html(record)).text
    assert "Described as: blade torn in the middle (as heard; no recording was kept)" in text


def test_the_route_is_not_named_twice(record: InspectionRecord) -> None:
    under = render_html(record).partition('<p class="under">')[2].partition("</p>")[0]
    assert under == record.route_title
    other = render_html(record.model_copy(update={"route_title": "Brake measurement"}))
    assert '<p class="under">tractor and semitrailer · Brake measurement</p>' in other
    same = render_html(record.model_copy(update={"route_title": "Tractor and semitrailer"}))
    assert '<p class="under">Tractor and semitrailer</p>' in same


def test_what_is_to_be_watched_is_named_like_everything_else(tmp_path: Path) -> None:
    record = signed(tmp_path, {"tire-tread@left-1": ("four thirty seconds",)})
    [watched] = [finding for finding in record.summary.watch if finding.step == "tire-tread@left-1"]
    text = Page(render_html(record)).text
    assert "Tread depth, left side, steer axle : " in text
    assert watched.name not in text
