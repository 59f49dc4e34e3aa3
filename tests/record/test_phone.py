"""Report, history, progress and the record of a day in Debian's Chromium: on a phone and in the dark.

No page is to be scrolled sideways at 360 pixels, text has its contrast, and drawings say what they are. A wide plot may
be scrolled in its own frame, which the keyboard reaches (WCAG 2.2, 1.4.10, 2.1.1; from memory, not looked up).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from selenium.webdriver import Chrome

from demo.invented_class import invent
from tests.desk.browsing import CHROMIUM, DRIVER, FAULTS, chromium
from tests.logbook import invented
from tests.logbook.data import checked
from tests.record.walks import signed
from tests.rehearse.test_progress import PROGRAMME, SECTIONS
from voice.day.build import build_day
from voice.day.facts import Asked, Known, local_day
from voice.day.report import render_day
from voice.day.rules import day_rules
from voice.judge import load_limits
from voice.logbook.database import open_local, reading, writing
from voice.logbook.history import gather
from voice.logbook.page import render_history
from voice.logbook.store import import_records
from voice.record.model import InspectionRecord
from voice.record.report import render_html
from voice.rehearse.progress.pages import progress_page

PHONE, TABLET, DESK = 360, 800, 1280
FOUND = {
    "glad-hands": ("leaking",),
    "brake-lights": ("lamp out",),
    "tire-tread@right-1": ("three thirty seconds", "yes"),
}

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="no Chromium with its driver on this machine"),
]

# What is wider than its frame and neither in a frame of its own that the keyboard reaches, nor hidden on purpose.
CUT = """
return [...document.querySelectorAll("main *")].filter((e) => {
  const s = getComputedStyle(e);
  return e.clientWidth > 2 && e.scrollWidth > e.clientWidth + 1 && s.overflowX !== "visible" && s.display !== "inline"
    && !(s.overflowX === "auto" && e.tabIndex === 0);
}).map((e) => e.outerHTML.slice(0, 90));
"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    record = signed(folder / "home", FOUND)
    engine = open_local(folder / "logbook")
    start = datetime(2026, 9, 1, 5, tzinfo=UTC)
    walks = [
        each
        for each in invented.walks(invented.truck(1, seed=3), 45, start=start)
        if isinstance(each, InspectionRecord)
    ]
    with writing(engine) as session:
        import_records(session, [checked(each) for each in walks], ["local"] * len(walks))
    with reading(engine) as session:
        history = gather(session, "unit-0001-trailer", load_limits(), datetime(2026, 10, 20, tzinfo=UTC))
    engine.dispose()
    day = build_day(Known((record,)), Asked(), local_day(record.started), record.started, day_rules())
    made = {
        "report": render_html(record),
        "day": render_day(day, day_rules()),
        "history": render_history(history, datetime.now(UTC)),
        "progress": progress_page(invent(PROGRAMME), SECTIONS),
    }
    files = {name: folder / f"{name}.html" for name in made}
    for name, html in made.items():
        files[name].write_text(html)
    return files


@pytest.fixture(scope="module")
def driver() -> Iterator[Chrome]:
    with chromium() as made:
        yield made


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [PHONE, TABLET, DESK])
@pytest.mark.parametrize("name", ["report", "day", "history", "progress"])
def test_a_page_fits_and_can_be_read(driver: Chrome, pages: dict[str, Path], name: str, width: int, dark: bool) -> None:
    scheme = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": scheme})
    size = {"width": width, "height": 740, "deviceScaleFactor": 1, "mobile": width < DESK}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    driver.get(pages[name].as_uri())
    assert driver.execute_script("return [document.documentElement.scrollWidth, window.innerWidth]") == [width, width]
    assert driver.execute_script(FAULTS) == []
    assert driver.execute_script(CUT) == []
