"""Makes README's picture of the desk, demo/desk-unit.png: a page of the real desk in a headless Chromium.

    sh demo/run.sh && python -m tests.pictures --home out/demo

It shows the demo's trailer with the defect SHOWN, the driver's words and their recordings, all from the demo's walk.
Invented are the inspections of DAYS before it, whose readings fill the plots, and the certifications of everything else
that is open. The demo's folder is copied, not changed.
"""

from __future__ import annotations

import argparse
import base64
import io
import shutil
import tempfile
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from PIL import Image

from tests.desk.browsing import CHROMIUM, DRIVER, Browser, chromium
from tests.desk.place import served
from tests.desk.yard import NAMES, import_made, staff
from tests.logbook.data import certification
from tests.logbook.invented import truck, walks
from voice.desk.store import Store
from voice.journal.folder import sessions
from voice.logbook.database import open_local
from voice.logbook.for_walk import open_defects
from voice.record.load import load_record
from voice.record.repairs import Repair

UNIT = "tractor-12-trailer-40-trailer"
SHOWN = "brake-chamber@left-1#overstroke"
DAYS = 89
LIKE = 58  # the invented truck whose trailer's tires are worn about as far as those of the demo
WIDTH, COLORS = 1080, 128  # a palette makes the file far smaller
# The first row of plots is the last thing on the picture.
END = "return Math.ceil(document.querySelector('figure.panel').getBoundingClientRect().bottom) + 8"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--home", type=Path, required=True, help="folder of a demo walk")
    parser.add_argument("--out", type=Path, default=Path("demo/desk-unit.png"), help="the picture's file")
    options = parser.parse_args()
    if not (CHROMIUM and DRIVER):
        parser.error("chromium and chromedriver are needed: apt install chromium chromium-driver")
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "home"
        if options.home.is_dir():
            shutil.copytree(options.home, home)
        found = {defect.key: defect for defect in open_defects(home, UNIT)}
        if SHOWN not in found:
            parser.error(f"{options.home}: {UNIT} has no open {SHOWN} there. Make a demo walk: sh demo/run.sh")
        furnish(home, found[SHOWN].record)
        with served(home) as base, chromium() as driver:
            photograph(Browser(driver, base), options.out)


def furnish(home: Path, walk: str) -> None:
    """The invented inspections and certifications, and the desk's accounts."""
    walked = load_record(next(each.record for each in sessions(home) if each.id == walk))
    like = replace(truck(LIKE), vehicle=walked.vehicle)
    engine = open_local(home)
    import_made(engine, walks(like, DAYS, start=walked.started - timedelta(days=DAYS)))
    others = [each for each in open_defects(home, UNIT) if each.key != SHOWN]
    now = datetime.now(UTC)
    import_made(engine, [Repair(UNIT, each.record, certification(each.key, now)) for each in others])
    engine.dispose()
    with closing(Store(home)) as store:
        staff(store)


def photograph(browser: Browser, out: Path) -> None:
    browser.look(width=WIDTH)
    browser.sign_in(NAMES["mechanic"])
    browser.go(f"/units/{UNIT}")
    clip = {"x": 0, "y": 0, "width": WIDTH, "height": browser.run(END), "scale": 1}
    shot = browser.command("Page.captureScreenshot", clip=clip, captureBeyondViewport=True)
    image = Image.open(io.BytesIO(base64.b64decode(shot["data"]))).convert("RGB")
    image.quantize(COLORS, dither=Image.Dither.NONE).save(out, optimize=True)


if __name__ == "__main__":
    main()
