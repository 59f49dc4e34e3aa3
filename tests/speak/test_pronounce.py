from __future__ import annotations

import pytest

from voice.speak.pronounce import readable


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("Tread 4/32, limit 2/32 in.", "Tread four thirty seconds, limit two thirty seconds of an inch"),
        ("1 3/4 in", "one and three quarter inches"),
        ("Stroke 1 3/4 inches.", "Stroke one and three quarter inches."),
        ('7/8" of lining', "seven eighths of an inch of lining"),
        ("1/2 in", "half an inch"),
        ("Pressure is 120 psi.", "Pressure is 120 p s i."),
        ("The ABS lamp", "The A B S lamp"),
        ("20% & more", "20 percent and more"),
        ("left side, axle three, outer tire", "left side, axle three, outer tire"),
    ],
)
def test_what_a_synthesizer_would_stumble_over(written: str, said: str) -> None:
    assert readable(written) == said


@pytest.mark.parametrize("text", ["11/25/2026", "24/7", "3/7", "5/4", "1/0", "absolute", "psig", "a-psi-b"])
def test_what_is_left_alone(text: str) -> None:
    assert readable(text) == text


def test_spanish() -> None:
    assert readable("120 psi", "es") == "120 libras por pulgada cuadrada"
    assert readable("4/32", "es") == "4/32"
