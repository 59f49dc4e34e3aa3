"""49 CFR 393.47(e): stroke by chamber. Types 12 and 16 seen in a copy of the annual inspection's table, types 6 and
9 in a table of the roadside inspectors' alliance, types 20 to 36 in makers' manuals, the others from memory."""

from __future__ import annotations

# kind, size, stroke, limit in inches, how it is known
STROKES = (
    ("clamp", "6", "standard", "1 1/4", "second-hand"), ("clamp", "9", "standard", "1 3/8", "second-hand"),
    ("clamp", "12", "standard", "1 3/8", "read"), ("clamp", "12", "long", "1 3/4", "read"),
    ("clamp", "16", "standard", "1 3/4", "read"), ("clamp", "16", "long", "2", "read"),
    ("clamp", "20", "standard", "1 3/4", "second-hand"), ("clamp", "20", "long", "2", "second-hand"),
    ("clamp", "20", "long-3", "2 1/2", "memory"), ("clamp", "24", "standard", "1 3/4", "second-hand"),
    ("clamp", "24", "long", "2", "second-hand"), ("clamp", "24", "long-3", "2 1/2", "second-hand"),
    ("clamp", "30", "standard", "2", "second-hand"), ("clamp", "30", "long", "2 1/2", "second-hand"),
    ("clamp", "36", "standard", "2 1/4", "second-hand"), ("dd3", "30", "standard", "2 1/4", "memory"),
    ("bolt", "A", "standard", "1 3/8", "memory"), ("bolt", "B", "standard", "1 3/4", "memory"),
    ("bolt", "C", "standard", "1 3/4", "memory"), ("bolt", "D", "standard", "1 1/4", "memory"),
    ("bolt", "E", "standard", "1 3/8", "memory"), ("bolt", "F", "standard", "2 1/4", "memory"),
    ("bolt", "G", "standard", "2", "memory"), ("rotochamber", "9", "standard", "1 1/2", "memory"),
    ("rotochamber", "12", "standard", "1 1/2", "memory"), ("rotochamber", "16", "standard", "2", "memory"),
    ("rotochamber", "20", "standard", "2", "memory"), ("rotochamber", "24", "standard", "2", "memory"),
    ("rotochamber", "30", "standard", "2 1/4", "memory"), ("rotochamber", "36", "standard", "2 3/4", "memory"),
    ("rotochamber", "50", "standard", "3", "memory"),
)  # fmt: skip

# 49 CFR 393.209(b)(1): diameter, manual, power
LASHES = (
    ("16", "2", "4 1/4"), ("18", "2 1/4", "4 3/4"), ("19", "2 3/8", "5"), ("20", "2 1/2", "5 1/4"),
    ("21", "2 5/8", "5 1/2"), ("22", "2 3/4", "5 3/4"),
)  # fmt: skip
