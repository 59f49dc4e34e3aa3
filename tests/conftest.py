"""For all tests: in CI no test is skipped without a reason that is on the list of tests/skips.py."""

from __future__ import annotations

from tests.skips import pytest_configure

__all__ = ["pytest_configure"]
