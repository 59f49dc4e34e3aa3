"""A real browser at the desk, and what it shows of a page's accessibility: labels, order of headings, contrast.

The checks are our own, of WCAG 2.2 (W3C, 2023; from memory, not looked up here): 1.1.1 images have a text, 1.3.1 and
2.4.6 headings go down one level at a time, 1.4.3 contrast of text at least 4.5 to 1 (3 to 1 if large), 1.4.10 no page
is to be scrolled sideways, 1.4.11 contrast of borders of fields and of lines at least 3 to 1, 2.4.2 a title, 2.4.3 and
2.4.7 the order of keys and what shows it, 2.5.8 what is pressed is at least 24 by 24 pixels, 3.1.1 a language, 4.1.2
fields and buttons have names. Luminance is worked out by the definition there. What only a person can judge is not
checked.
"""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, TypeVar

from selenium.common.exceptions import WebDriverException
from selenium.webdriver import ActionChains, Chrome, ChromeOptions, ChromeService, Keys
from selenium.webdriver.common.by import By

from tests.desk.yard import PASSWORD

Found = TypeVar("Found")
CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
PHONE, TABLET, DESK = 360, 720, 1280  # widths of screens; at 720 rows of tables are not cards any more
FAULTS = (Path(__file__).parent / "faults.js").read_text()

# What keys reach, in the order of the page; of buttons that exclude each other one.
REACHED = """
const groups = new Set();
const stops = "a[href],button,input:not([type=hidden]),select,textarea,audio,summary,[tabindex='0']";
return [...document.querySelectorAll(stops)]
  .filter(e => e.checkVisibility())
  .filter(e => e.type !== "radio" || (!groups.has(e.name) && groups.add(e.name)));
"""
# Begins before all there is; notes each thing that gets the focus, and those that do not show it.
WATCH = """
const start = document.createElement("span");
start.tabIndex = -1;
document.body.prepend(start);
start.focus();
start.remove();
window.focused = []; window.unmarked = [];
document.addEventListener("focusin", (event) => {
  const s = getComputedStyle(event.target);
  if (window.focused.at(-1) !== event.target) window.focused.push(event.target);
  if (event.target.tagName !== "AUDIO" && (s.outlineStyle === "none" || parseFloat(s.outlineWidth) < 2))
    window.unmarked.push(event.target.outerHTML.slice(0, 90));
});
"""


@contextmanager
def chromium() -> Iterator[Chrome]:
    options = ChromeOptions()
    options.binary_location = CHROMIUM or ""
    for flag in ("--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", f"--window-size={DESK},900"):
        options.add_argument(flag)
    driver = Chrome(options=options, service=ChromeService(DRIVER))
    try:
        yield driver
    finally:
        driver.quit()


class Browser:
    """Somebody at the desk with a browser."""

    def __init__(self, driver: Chrome, base: str) -> None:
        self.driver, self.base = driver, base
        self.look()

    def look(self, *, dark: bool = False, width: int = DESK, script: bool = True) -> None:
        """How the browser is set from now on."""
        scheme = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
        self.command("Emulation.setEmulatedMedia", features=scheme)
        self.width = width
        screen = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width == PHONE}
        self.command("Emulation.setDeviceMetricsOverride", **screen)
        self.command("Emulation.setScriptExecutionDisabled", value=not script)

    def command(self, name: str, **given: Any) -> dict[str, Any]:
        return dict(self.driver.execute_cdp_cmd(name, given))

    def go(self, path: str) -> None:
        self.driver.get(self.base + path)

    def sign_in(self, name: str) -> None:
        self.driver.delete_all_cookies()
        self.go("/sign-in")
        self.type("name", name)
        self.type("password", PASSWORD)
        self.press("form.fields button")
        self.first(".top .out")

    def type(self, id: str, text: str) -> None:
        """In place of what stands there."""

        def enter() -> None:
            field = self.driver.find_element(By.ID, id)
            field.clear()
            field.send_keys(text)

        self._again(enter)

    def tick(self, css: str) -> None:
        self._again(lambda: self.driver.find_element(By.CSS_SELECTOR, css).click())

    def press(self, css: str) -> None:
        """A link or a button, which leads to another page: it is waited for."""
        before = self.first("html")
        self.tick(css)
        with suppress(WebDriverException):  # that page is gone
            for _ in range(500):
                before.is_displayed()
                time.sleep(0.02)
            raise AssertionError(f"{css} leads nowhere")

    def download(self, css: str, folder: Path) -> Path:
        """The file that a link or a button gives."""
        self.command("Browser.setDownloadBehavior", behavior="allow", downloadPath=str(folder))
        before = set(folder.iterdir())
        self.tick(css)
        for _ in range(500):
            new = [path for path in folder.iterdir() if path not in before and path.suffix != ".crdownload"]
            if new and new[0].stat().st_size:
                return new[0]
            time.sleep(0.05)
        raise AssertionError(f"{css} gives no file")

    def first(self, css: str) -> Any:
        return self._again(lambda: self.driver.find_element(By.CSS_SELECTOR, css))

    def every(self, css: str) -> list[Any]:
        return self.driver.find_elements(By.CSS_SELECTOR, css)

    def run(self, script: str, *given: Any) -> Any:
        return self._again(lambda: self.driver.execute_script(script, *given))

    @property
    def text(self) -> str:
        return str(self._again(lambda: self.driver.find_element(By.TAG_NAME, "main").text))

    def shows(self, text: str, seconds: float = 10.0) -> None:
        """Waits for it."""
        self.until(lambda: text in self.text, f"{text!r} is not on the page", seconds)

    def until(self, so: Callable[[], bool], otherwise: str, seconds: float = 10.0) -> None:
        """Waits for it."""
        end = time.monotonic() + seconds
        while not so():
            assert time.monotonic() < end, f"{otherwise}: {self.text[:1000]}"
            time.sleep(0.05)

    def faults(self) -> list[str]:
        return list(self.run(FAULTS, self.width))

    def tabbing(self) -> list[str]:
        """Faults of the order in which the tab key goes through the page: those that are there twice.

        On a busy machine a page may get the focus before it has its style.
        """
        first = self._tabbing()
        again = self._tabbing() if first else []
        return [fault for fault in first if fault in again]

    def _tabbing(self) -> list[str]:
        expected = self.run(REACHED)
        self.run(WATCH)
        several = len(self.every("audio, input[type=date]"))  # each has parts of its own that the key stops at
        ActionChains(self.driver, duration=0).send_keys(Keys.TAB * (len(expected) + 8 * several)).perform()
        reached, unmarked = self.run("return [window.focused, window.unmarked]")
        outer = "return arguments[0].map(e => e.outerHTML.slice(0, 90))"
        wanted, got = self.run(outer, expected), self.run(outer, reached[: len(expected)])
        wrong = [f"{one} instead of {two}" for one, two in zip(got, wanted, strict=False) if one != two]
        short = [f"not reached: {each}" for each in wanted[len(got) :]]
        return wrong[:1] + short[:1] + [f"the focus is not seen: {each}" for each in unmarked[:3]]

    def complaints(self) -> list[str]:
        """What the browser wrote into its console: a blocked script or style, a file that is not there."""
        return [line["message"] for line in self.driver.get_log("browser")]  # type: ignore[no-untyped-call]

    def _again(self, look: Callable[[], Found]) -> Found:
        """A page may just be loaded anew, and the driver then calls what it has lost by several names."""
        for _ in range(50):
            with suppress(WebDriverException):
                return look()
            time.sleep(0.1)
        return look()
