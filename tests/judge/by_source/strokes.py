"""49 CFR 393.47(e): stroke by chamber, seen in a copy of the eCFR; type 36 is as the rule had it in 2012."""

from __future__ import annotations

# kind, size, stroke, limit in inches, how it is known
STROKES = (
    ("clamp", "6", "standard", "1 1/4", "read"), ("clamp", "9", "standard", "1 3/8", "read"),
    ("clamp", "12", "standard", "1 3/8", "read"), ("clamp", "12", "long", "1 3/4", "read"),
    ("clamp", "16", "standard", "1 3/4", "read"), ("clamp", "16", "long", "2", "read"),
    ("clamp", "20", "standard", "1 3/4", "read"), ("clamp", "20", "long", "2", "read"),
    ("clamp", "20", "long-3", "2 1/2", "read"), ("clamp", "24", "standard", "1 3/4", "read"),
    ("clamp", "24", "long", "2", "read"), ("clamp", "24", "long-3", "2 1/2", "read"),
    ("clamp", "30", "standard", "2", "read"), ("clamp", "30", "long", "2 1/2", "read"),
    ("clamp", "36", "standard", "2 1/4", "second-hand"), ("dd3", "30", "standard", "2 1/4", "read"),
    ("bolt", "A", "standard", "1 3/8", "read"), ("bolt", "B", "standard", "1 3/4", "read"),
    ("bolt", "C", "standard", "1 3/4", "read"), ("bolt", "D", "standard", "1 1/4", "read"),
    ("bolt", "E", "standard", "1 3/8", "read"), ("bolt", "F", "standard", "2 1/4", "read"),
    ("bolt", "G", "standard", "2", "read"), ("rotochamber", "9", "standard", "1 1/2", "read"),
    ("rotochamber", "12", "standard", "1 1/2", "read"), ("rotochamber", "16", "standard", "2", "read"),
    ("rotochamber", "20", "standard", "2", "read"), ("rotochamber", "24", "standard", "2", "read"),
    ("rotochamber", "30", "standard", "2 1/4", "read"), ("rotochamber", "36", "standard", "2 3/4", "read"),
    ("rotochamber", "50", "standard", "3", "read"),
)  # fmt: skip

# 49 CFR 393.209(b)(1): diameter, manual, power
LASHES = (
    ("16", "2", "4 1/4"), ("18", "2 1/4", "4 3/4"), ("19", "2 3/8", "5"), ("20", "2 1/2", "5 1/4"),
    ("21", "2 5/8", "5 1/2"), ("22", "2 3/4", "5 3/4"),
)  # fmt: skip
