"""Naming an earlier item in one breath."""

import pytest

from voice.understand.change import closest_name

NAMES = {
    "tread-l1": "left steer tread",
    "tread-r1": "right steer tread",
    "hoses": "hoses",
    "tread-l3o": "left axle three outer tread",
    "tread-l3i": "left axle three inner tread",
}


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("Change left steer tread.", "tread-l1"),
        ("change the left steer tread", "tread-l1"),
        ("Change left axle three outer thread", "tread-l3o"),
        ("change hoses", "hoses"),
        ("change left axle three tread", None),  # outer or inner: not clear which
        ("change", None),
        ("left steer tread", None),
        ("change the subject", None),
    ],
)
def test_the_named_item_is_found_or_nothing(said: str, meant: str | None) -> None:
    assert closest_name(said, ["change"], NAMES) == meant
