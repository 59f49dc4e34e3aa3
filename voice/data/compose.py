"""YAML text into plain Python, with the line of every value.

Only what the project's files need is read: mappings, lists, texts, whole numbers, decimal numbers, true, false,
nothing, anchors and their aliases. A date is text. Everything else, and what is beyond the bounds, is refused with its
line. The parser's events are taken one by one and nothing is nested on the stack, so no file can exhaust it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from voice.data.misread import misread

# No source: the largest shipped file has 56,000 characters and 5,000 values, eight deep.
MAX_CHARACTERS = 1_000_000
MAX_VALUES = 200_000  # each use of an alias counted
MAX_DEPTH = 40
MAX_SCALAR = 10_000  # characters of one text
MAX_DIGITS = 30

_STR = "tag:yaml.org,2002:str"
# The core schema of YAML 1.2, chapter 10.3.2.
_NULL = frozenset(("", "~", "null", "Null", "NULL"))
_BOOL = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
_NUMERIC = frozenset("+-.0123456789")
_INT = re.compile(r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?|[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


class ComposeError(Exception):
    """What is wrong, one sentence;

    line: from 1, None where it cannot be told.
    """

    def __init__(self, message: str, line: int | None = None) -> None:
        super().__init__(message)
        self.message, self.line = message, line


@dataclass(slots=True)
class Node:
    """A value and where it is.

    value: plain Python.
    size: how many values it holds, itself and each use of an alias counted.
    below: by key or index, the line (from 1) that each value in it begins on (of a mapping: its key's), and its node.
    """

    value: Any
    size: int = 1
    below: dict[Any, tuple[int, Node]] = field(default_factory=dict)


@dataclass(slots=True)
class _Open:
    """A mapping or list whose end has not come.

    waiting: the key, and its line, whose value comes next.
    """

    node: Node
    line: int
    anchor: str | None
    waiting: tuple[Any, int] | None = None


def compose(text: str) -> Node:
    """The one document of a text. Raises ComposeError."""
    if len(text) > MAX_CHARACTERS:
        raise ComposeError(f"has {len(text)} characters, more than the {MAX_CHARACTERS} that are read.")
    if found := _CONTROL.search(text):
        raise ComposeError("there is a control character.", text.count("\n", 0, found.start()) + 1)
    composer = _Composer()
    last: ScalarEvent | None = None
    try:
        for event in YAML(typ="safe").parse(text):
            last = event if isinstance(event, ScalarEvent) else last
            composer.take(event)
    except MarkedYAMLError as error:
        raise ComposeError(*misread(error, text, last)) from error
    except YAMLError as error:
        raise ComposeError(f"{str(error).splitlines()[0]}.") from error
    return composer.root or Node(None)


class _Composer:
    def __init__(self) -> None:
        self.root: Node | None = None
        self._open: list[_Open] = []
        self._anchors: dict[str, Node] = {}
        self._documents = 0

    def take(self, event: Any) -> None:
        line = int(event.start_mark.line) + 1
        if isinstance(event, ScalarEvent):
            _tag_known(event, line)
            self._put(Node(_scalar(event, line)), line, event.anchor)
        elif isinstance(event, MappingStartEvent | SequenceStartEvent):
            _tag_known(event, line)
            if len(self._open) >= MAX_DEPTH:
                raise ComposeError(f"is nested more than {MAX_DEPTH} deep.", line)
            empty: Any = {} if isinstance(event, MappingStartEvent) else []
            self._open.append(_Open(Node(empty), line, event.anchor))
        elif isinstance(event, MappingEndEvent | SequenceEndEvent):
            done = self._open.pop()
            self._put(done.node, done.line, done.anchor)
        elif isinstance(event, AliasEvent):
            if (known := self._anchors.get(event.anchor)) is None:
                raise ComposeError(f'this alias has no anchor "{event.anchor:.40}" before it.', line)
            self._put(known, line, None)
        elif isinstance(event, DocumentStartEvent):
            self._documents += 1
            if self._documents > 1:
                raise ComposeError("there is a second document; one file holds one.", line)

    def _put(self, node: Node, line: int, anchor: str | None) -> None:
        """Into the mapping or list that is open, as a key or a value; the document itself if none is."""
        if anchor is not None:
            self._anchors[anchor] = node
        if not self._open:
            self.root = node
            return
        here = self._open[-1]
        into = here.node
        if isinstance(into.value, list):
            into.below[len(into.value)] = (line, node)
            into.value.append(node.value)
        elif here.waiting is None:
            here.waiting = (_key(node.value, into.value, line), line)
            return
        else:
            key, at = here.waiting
            here.waiting = None
            into.below[key] = (at, node)
            into.value[key] = node.value
        into.size += node.size
        if into.size > MAX_VALUES:
            raise ComposeError(f"holds more than {MAX_VALUES} values, each use of an alias counted.", line)


def _tag_known(event: Any, line: int) -> None:
    plain = event.tag is None or event.tag == "!" or (isinstance(event, ScalarEvent) and event.tag == _STR)
    if not plain:
        raise ComposeError(f'the tag "{event.tag!s:.40}" is not read here.', line)


def _key(value: Any, known: dict[Any, Any], line: int) -> Any:
    if isinstance(value, dict | list):
        raise ComposeError("a key is a list or a mapping; it must be a word.", line)
    if value == "<<":
        raise ComposeError('the merge key "<<" is not read here.', line)
    if value in known:
        raise ComposeError(f'there are two keys "{value!s:.40}".', line)
    return value


def _scalar(event: Any, line: int) -> Any:
    text: str = event.value
    if len(text) > MAX_SCALAR:
        raise ComposeError(f"this text has {len(text)} characters, more than the {MAX_SCALAR} that are read.", line)
    if _CONTROL.search(text):
        raise ComposeError("this text has a control character in it.", line)
    if event.style or event.tag is not None:
        return text
    if text in _NULL:
        return None
    if (truth := _BOOL.get(text)) is not None:
        return truth
    if text[0] not in _NUMERIC:
        return text
    if _INT.fullmatch(text):
        if len(text) > MAX_DIGITS:
            raise ComposeError(f"this number has more than {MAX_DIGITS} digits.", line)
        return int(text, 0) if text[:2] in ("0o", "0x") else int(text)
    if _FLOAT.fullmatch(text):
        number = math.inf if text[-1] in "fFnN" else float(text)
        if not math.isfinite(number):
            raise ComposeError("this is not a finite number.", line)
        return number
    return text
