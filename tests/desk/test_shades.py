"""Colors of the desk, worked out from its style: contrast by WCAG 2.2 (1.4.3, 1.4.11; from memory, not looked up)."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from voice.data.folders import prompts_dir
from voice.desk.wording import words
from voice.rehearse.progress.plots import _readable

Colors = dict[str, str]

STYLE = re.sub(r"/\*.*?\*/", "", (prompts_dir() / "desk" / "desk.css").read_text(), flags=re.DOTALL)
DARK_BLOCK = re.compile(r"@media \(prefers-color-scheme: dark\) \{((?:[^{}]|\{[^{}]*\})*)\}")
SHADES = [f"m{number}" for number in range(10)]


def schemes() -> tuple[Colors, Colors]:
    """By name of the color, or of the class that has it: in light, and in dark."""

    def found(css: str) -> Colors:
        named = dict(re.findall(r"--([a-z-]{2,}): (#[0-9a-f]{6})", css))
        return named | dict(re.findall(r"\.([mk]\d) \{ --[mk]: (#[0-9a-f]{6})", css))

    light = found(DARK_BLOCK.sub("", STYLE))
    dark = found("".join(DARK_BLOCK.findall(STYLE)))
    assert light.keys() == dark.keys()
    return light, dark


def luminance(color: str) -> float:
    channels = (int(color[at : at + 2], 16) / 255 for at in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def weak(scheme: Colors, pairs: list[tuple[str, str]], least: float) -> dict[tuple[str, str], float]:
    found = {pair: contrast(scheme[pair[0]], scheme[pair[1]]) for pair in pairs}
    return {pair: ratio for pair, ratio in found.items() if ratio < least}


def test_contrast_is_worked_out_as_it_should_be() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("scheme", schemes(), ids=("light", "dark"))
def test_the_more_is_missed_the_more_it_stands_out(scheme: Colors) -> None:
    """From the page; the last shade by so much that it is seen at once, and each from the one before."""
    from_page = [contrast(scheme[shade], scheme["paper"]) for shade in SHADES]
    assert from_page[0] == 1
    assert all(more / less > 1.06 for less, more in pairwise(from_page)), from_page
    assert from_page[-1] > 2.5


@pytest.mark.parametrize("scheme", schemes(), ids=("light", "dark"))
def test_text_is_readable_on_every_shade(scheme: Colors) -> None:
    assert weak(scheme, [("ink", shade) for shade in SHADES], 4.5) == {}


def test_the_words_beside_the_map_hold_in_both_schemes() -> None:
    lead = words("instructor")["map_lead"]
    assert not re.search(r"\b(dark|light|red|bright|pale)", lead)


@pytest.mark.parametrize("scheme", schemes(), ids=("light", "dark"))
def test_text_is_readable_on_what_it_stands_on(scheme: Colors) -> None:
    text = [(name, ground) for name in ("ink", "soft", "link") for ground in ("paper", "wash")]
    text += [("soft", "back"), ("ink", "back"), ("on-deep", "deep"), ("paper", "link")]
    text += [(name, ground) for name in ("halt", "repair", "watch", "within") for ground in (f"{name}-wash", "paper")]
    text += [("paper", name) for name in ("halt", "repair", "watch", "within")]  # numbers in the drawing
    assert weak(scheme, text, 4.5) == {}
    lines = [(name, "paper") for name in ("edge", *(f"k{number}" for number in range(6)))]
    lines += [(name, "wash") for name in ("limit", "trend", "dot", "edge")]
    assert weak(scheme, lines, 3) == {}


def test_the_progress_pages_map_can_be_read_on_every_color() -> None:
    import matplotlib as mpl

    colors = [mpl.colormaps["YlOrRd"](share / 100) for share in range(101)]
    named = {"black": "#000000", "white": "#ffffff"}
    shades = ["#" + "".join(f"{round(c * 255):02x}" for c in color[:3]) for color in colors]
    assert min(contrast(shade, named[_readable(color)]) for shade, color in zip(shades, colors, strict=True)) >= 4.5
    from_paper = [contrast(shade, "#ffffff") for shade in shades]
    assert all(more >= less for less, more in pairwise(from_paper))
