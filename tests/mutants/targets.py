"""Which files are broken, and the tests that must notice: small ones, quick enough to run for each mutant."""

from __future__ import annotations

# Room -> file -> what pytest is given for it. "tests/promises" holds what no other test broke on.
TARGETS: dict[str, dict[str, tuple[str, ...]]] = {
    "judge": {
        "voice/judge/reading.py": ("tests/judge/test_vectors.py",),
        "voice/judge/defect.py": ("tests/judge/test_assessment.py",),
        "voice/judge/brakes.py": ("tests/promises/test_judge.py", "tests/judge/test_brakes.py"),
        "voice/judge/air.py": ("tests/promises/test_judge.py", "tests/judge/test_air.py"),
        **{
            f"voice/judge/{name}.py": (
                "tests/promises/test_judge.py", "tests/judge/test_assessment.py", "tests/judge/test_brakes.py",
            )
            for name in ("result", "assessment")
        },
        "voice/judge/limit.py": (
            "tests/promises/test_judge.py", "tests/judge/test_vectors.py", "tests/judge/test_data.py",
        ),
        "voice/judge/load.py": ("tests/judge/test_layers.py", "tests/judge/test_data.py"),
    },
    "walk": {
        "voice/walk/look.py": ("tests/walk/test_look.py", "tests/walk/test_table.py"),
        "voice/walk/headlines.py": ("tests/walk/test_conversation.py", "tests/walk/test_look.py"),
        **{
            f"voice/walk/{name}.py": (
                "tests/walk/test_conversation.py", "tests/walk/test_timed.py", "tests/promises/test_walk.py",
            )
            for name in (
                "machine", "table", "row", "step", "item", "timed", "closing", "turn", "reports", "doubt", "aside",
            )
        },
    },
    "journal": {
        "voice/journal/journal.py": ("tests/promises/test_on_disk_first.py", "tests/test_journal.py"),
        "voice/journal/line.py": ("tests/test_journal.py",),
        "voice/journal/folder.py": ("tests/promises/test_on_disk_first.py", "tests/promises/test_loop.py"),
    },
    "session": {
        "voice/session/loop.py": ("tests/promises/test_loop.py", "tests/promises/test_on_disk_first.py"),
        **{
            f"voice/session/{name}.py": ("tests/promises/test_loop.py", "tests/test_begin.py", "tests/test_sessions.py")
            for name in ("inspection", "preparing", "resources", "recorded")
        },
        "voice/session/asking.py": ("tests/test_begin.py",),
        "voice/session/due.py": ("tests/test_due.py",),
    },
    "fusion": {
        f"voice/hear/{name}.py": ("tests/hear/test_fusion.py", "tests/promises/test_what_counts_as_heard.py")
        for name in ("fusion", "thresholds")
    },
    "record": {
        "voice/record/build.py": ("tests/record/test_build.py", "tests/record/test_bounds.py"),
        "voice/record/entry.py": ("tests/record/test_build.py",),
        "voice/record/timeline.py": ("tests/record/test_build.py",),
        "voice/record/review.py": ("tests/record/test_review.py",),
        "voice/record/past.py": ("tests/promises/test_records.py", "tests/test_due.py"),
        "voice/record/verify.py": ("tests/record/test_verify.py",),
        "voice/record/canonical.py": ("tests/record/test_canonical.py",),
        "voice/record/seal.py": ("tests/promises/test_on_disk_first.py", "tests/record/test_canonical.py"),
        "voice/record/load.py": ("tests/record/test_canonical.py",),
        "voice/record/open_defects.py": ("tests/promises/test_records.py", "tests/record/test_repairs.py"),
        "voice/record/lives.py": ("tests/promises/test_records.py", "tests/record/test_repairs.py"),
        "voice/record/repairs.py": ("tests/promises/test_on_disk_first.py", "tests/record/test_repairs.py"),
    },
    "logbook": {
        "voice/logbook/rows.py": ("tests/logbook/test_pure.py", "tests/logbook/test_store.py", "-k", "not postgres"),
        "voice/logbook/columns.py": (
            "tests/logbook/test_pure.py", "tests/logbook/test_poison.py", "-k", "not postgres",
        ),
        "voice/logbook/wear.py": ("tests/logbook/test_wear.py",),
        "voice/logbook/jumps.py": ("tests/logbook/test_wear.py",),
        "voice/logbook/trends.py": ("tests/logbook/test_wear.py", "tests/logbook/test_history.py"),
        "voice/logbook/store.py": ("tests/logbook/test_store.py", "-k", "not postgres"),
        "voice/logbook/sync.py": ("tests/logbook/test_sync.py", "-k", "not postgres"),
        "voice/logbook/depot.py": ("tests/logbook/test_sync.py", "-k", "not postgres"),
        "voice/logbook/importer.py": (
            "tests/logbook/test_store.py", "tests/logbook/test_sync.py", "-k", "not postgres",
        ),
        "voice/logbook/prune.py": (
            "tests/promises/test_logbook.py", "tests/logbook/test_prune.py", "-k", "not postgres",
        ),
    },
}  # fmt: skip
