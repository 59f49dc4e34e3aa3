"""A real browser at the desk, and what it shows of a page's accessibility: labels, order of headings, contrast.

The checks are our own, of WCAG 2.2 (W3C, 2023; from memory, not looked up here): 1.1.1 images have a text, 1.3.1 and
2.4.6 headings go down one level at a time, 1.4.3 contrast of text at least 4.5 to 1 (3 to 1 if large), 2.4.2 a title,
2.5.8 what is pressed is at least 24 by 24 pixels, 3.1.1 a language, 4.1.2 fields and buttons have names. Luminance is
worked out by the definition there. What only a person can judge is not checked.
"""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Any, TypeVar

import uvicorn
from selenium.common.exceptions import WebDriverException
from selenium.webdriver import Chrome, ChromeOptions, ChromeService
from selenium.webdriver.common.by import By

from tests.desk.yard import PASSWORD
from tests.logbook.pg import free_port
from voice.desk.app import make_app
from voice.desk.page import Desk

Found = TypeVar("Found")
CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
PHONE = 390

# Returns a list of faults, each a sentence; empty is good.
FAULTS = r"""
const faults = [];
const shown = (e) => { const r = e.getBoundingClientRect(), s = getComputedStyle(e);
  return r.width > 0 && r.height > 0 && s.visibility !== "hidden" && r.right > 0; };
const what = (e) => e.outerHTML.slice(0, 90);
const named = (e) => (e.getAttribute("aria-label") || (e.labels && [...e.labels].map(l => l.textContent).join("")) ||
  e.textContent.trim() || [...e.querySelectorAll("img")].map(i => i.alt).join(" ")).trim();
if (!document.documentElement.lang) faults.push("no language");
if (!document.title.trim()) faults.push("no title");
let before = 0;
for (const h of document.querySelectorAll("h1,h2,h3,h4,h5,h6")) {
  const level = Number(h.tagName[1]);
  if (level > before + 1) faults.push("heading skips a level: " + what(h));
  before = level;
}
if (document.querySelectorAll("h1").length !== 1) faults.push("not one h1");
if (document.querySelectorAll("main").length !== 1) faults.push("not one main");
for (const e of document.querySelectorAll("input:not([type=hidden]),select,textarea,button,a[href],audio"))
  if (!named(e)) faults.push("no name: " + what(e));
for (const e of document.querySelectorAll("svg"))
  if (e.getAttribute("aria-hidden") !== "true" && !(e.getAttribute("role") === "img" && e.getAttribute("aria-label")))
    faults.push("no text for an image: " + what(e));
for (const e of document.querySelectorAll("img")) if (!e.hasAttribute("alt")) faults.push("no alt: " + what(e));
for (const e of document.querySelectorAll("table"))
  if (!e.querySelector("th[scope]")) faults.push("no headers: " + what(e));
const ids = [...document.querySelectorAll("[id]")].map(e => e.id);
if (new Set(ids).size < ids.length) faults.push("an id twice");
for (const e of document.querySelectorAll("[aria-describedby],label[for]")) {
  const id = e.getAttribute("aria-describedby") || e.htmlFor;
  if (!document.getElementById(id)) faults.push("points to nothing: " + what(e));
}
for (const e of document.querySelectorAll("button,.button,nav a,input[type=radio],input[type=checkbox]")) {
  const r = e.getBoundingClientRect(), label = e.closest("label");
  const box = label ? label.getBoundingClientRect() : r;
  if (shown(e) && (box.width < 24 || box.height < 24)) faults.push("too small to press: " + what(e));
}
const channels = (color) => (color.match(/[\d.]+/g) || [0, 0, 0, 0]).map(Number);
const linear = (v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
const light = (c) => { const [r, g, b] = c.map(v => linear(v / 255));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
const behind = (e) => { for (; e; e = e.parentElement) { const c = channels(getComputedStyle(e).backgroundColor);
  if (c.length < 4 || c[3] === 1) return c.slice(0, 3); }
  return channels(getComputedStyle(document.body).backgroundColor); };
let texts = 0;
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const e = walk.currentNode.parentElement;
  if (!walk.currentNode.textContent.trim() || !shown(e) || e.closest("svg,script")) continue;
  const s = getComputedStyle(e), one = light(channels(s.color).slice(0, 3)), two = light(behind(e));
  const ratio = (Math.max(one, two) + 0.05) / (Math.min(one, two) + 0.05), size = parseFloat(s.fontSize);
  const large = size >= 24 || (size >= 18.66 && Number(s.fontWeight) >= 700);
  texts += 1;
  if (ratio < (large ? 3 : 4.5)) faults.push("contrast " + ratio.toFixed(2) + ": " + what(e));
}
if (texts < 5) faults.push("hardly any text was looked at");
if (document.documentElement.scrollWidth > window.innerWidth + 1)
  faults.push("sticks out sideways: " + document.documentElement.scrollWidth);
return faults;
"""


@contextmanager
def served(desk: Desk) -> Iterator[str]:
    """The desk on a port of this machine, in a thread. Gives its address."""
    port = free_port()
    server = uvicorn.Server(uvicorn.Config(make_app(desk), port=port, log_level="warning", access_log=False))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join()


@contextmanager
def chromium() -> Iterator[Chrome]:
    options = ChromeOptions()
    options.binary_location = CHROMIUM or ""
    for flag in ("--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--window-size=1280,900"):
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

    def look(self, *, dark: bool = False, phone: bool = False, script: bool = True) -> None:
        """How the browser is set from now on."""
        scheme = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
        self.command("Emulation.setEmulatedMedia", features=scheme)
        width, height = (PHONE, 844) if phone else (1280, 900)
        self.command(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=phone
        )
        self.command("Emulation.setScriptExecutionDisabled", value=not script)

    def command(self, name: str, **given: Any) -> None:
        self.driver.execute_cdp_cmd(name, given)

    def go(self, path: str) -> None:
        self.driver.get(self.base + path)

    def sign_in(self, name: str) -> None:
        self.driver.delete_all_cookies()
        self.go("/sign-in")
        self.type("name", name)
        self.type("password", PASSWORD)
        self.press("form.fields button")

    def type(self, id: str, text: str) -> None:
        self._again(lambda: self.driver.find_element(By.ID, id).send_keys(text))

    def press(self, css: str) -> None:
        """A link or button of a form leads to another page: it is waited for."""
        before = self._again(lambda: self.driver.find_element(By.TAG_NAME, "html"))
        self._again(lambda: self.driver.find_element(By.CSS_SELECTOR, css).click())
        if css.startswith(("input", "option")):
            return
        with suppress(WebDriverException):  # that page is gone
            for _ in range(50):
                before.is_displayed()
                time.sleep(0.1)

    @property
    def text(self) -> str:
        return self._again(lambda: self.driver.find_element(By.TAG_NAME, "main").text)

    def faults(self) -> list[str]:
        return list(self._again(lambda: self.driver.execute_script(FAULTS)))

    def _again(self, look: Callable[[], Found]) -> Found:
        """A page may just be loaded anew, and the driver then calls what it has lost by several names."""
        for _ in range(50):
            with suppress(WebDriverException):
                return look()
            time.sleep(0.1)
        return look()

    def complaints(self) -> list[str]:
        """What the browser wrote into its console: a blocked script or style, a file that is not there."""
        return [line["message"] for line in self.driver.get_log("browser")]  # type: ignore[no-untyped-call]
