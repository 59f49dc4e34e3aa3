"""The pages, a module for each kind of work. Every module here has PAGES, a list of voice.desk.page.Page.

Nothing can be reached that is not in one of these lists: voice.desk.app makes its routes of them and of nothing else.
"""

from __future__ import annotations

import importlib
import pkgutil

from voice.desk.page import Page

_FIRST = ("today", "unit", "mechanic", "office", "instructor", "routes")  # in the menu; others follow by name


def table() -> tuple[Page, ...]:
    """All pages, in the order of the menu. Raises ValueError if two have one name, or one path and method."""
    names = sorted(found.name for found in pkgutil.iter_modules(__path__))
    names.sort(key=lambda name: _FIRST.index(name) if name in _FIRST else len(_FIRST))
    found: list[Page] = []
    for name in names:
        found += importlib.import_module(f"{__name__}.{name}").PAGES
    for keys in ([page.name for page in found], [(page.path, page.method) for page in found]):
        if len(set(keys)) < len(keys):
            raise ValueError(f"two pages are alike: {keys}")
    return tuple(found)
