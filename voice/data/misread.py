"""What is wrong with a text that is not YAML, in the words of someone who writes it, and on which line.

The parser says what it could not go on with, and where; what is to blame often stands before that.
"""

from __future__ import annotations

from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.events import ScalarEvent

_OPENED = {"while parsing a flow sequence": ("[", "]"), "while parsing a flow mapping": ("{", "}")}
# What a text begins with that means something of its own in YAML: "%", "*", "&", "!".
_MARKED = {f"while scanning {what}" for what in ("a directive", "an alias", "an anchor", "a tag")}


def misread(error: MarkedYAMLError, text: str, last: ScalarEvent | None) -> tuple[str, int | None]:
    """(what is wrong, line from 1).

    last: the last key or value before the error.
    """
    mark = error.problem_mark or error.context_mark
    if mark is None:
        return "is not YAML.", None
    line, column = int(mark.line), int(mark.column)
    whole = error.context_mark or mark
    begun, start = int(whole.line), int(whole.column)
    context, problem = str(error.context), str(error.problem or "is not YAML").splitlines()[0]
    if _is_tab(text, line, column):
        return "there is a tab; YAML is indented with spaces only.", line + 1
    if context == "while scanning a quoted scalar":
        return "the quotation mark that is opened here is not closed.", begun + 1
    if last is not None and _quoted_up_to(last, text, line, column):
        first = int(last.start_mark.line)
        if first < line:
            return f"the quotation mark that is opened here is closed only in line {line + 1}.", first + 1
        return f"something follows the closing {last.style}; inside '...' an apostrophe is written twice.", line + 1
    if context in _OPENED:
        opened, closed = _OPENED[context]
        return f'the "{opened}" is not closed with "{closed}", or a comma is missing after it.', begun + 1
    if problem == "could not find expected ':'":
        return 'there is no ": " after this key.', begun + 1
    if problem.startswith("mapping values are not allowed"):
        return 'there is a ": " too many; put a text that has one in quotation marks.', line + 1
    if problem.startswith(("did not find expected key", "did not find expected '-'")):
        return "this line is not indented as the lines around it.", line + 1
    if problem.startswith("found character that cannot start") or context in _MARKED:
        return f'no text begins with "{_at(text, begun, start)}"; put it in quotation marks.', begun + 1
    if problem.startswith("did not find expected node content"):
        return f'there is a "{_at(text, line, column)}" where a key or value should stand.', line + 1
    if problem.startswith("did not find expected <document start>"):
        return "this line does not go on with what stands above it.", line + 1
    if problem.startswith("did not find expected comment"):
        return "the text after a | or > begins on the next line.", line + 1
    if problem.startswith("found unknown escape"):
        return 'inside "..." a backslash is written twice.', line + 1
    return f"{problem}.", line + 1


def _quoted_up_to(last: ScalarEvent, text: str, line: int, column: int) -> bool:
    """Whether it is a text in quotation marks that ends where the parser could not go on."""
    end = last.end_mark
    return last.style in ("'", '"') and end.line == line and not _lines(text)[line][end.column : column].strip()


def _lines(text: str) -> list[str]:
    return [*text.splitlines(), ""]  # the end of a text can be told as a line of its own


def _at(text: str, line: int, column: int) -> str:
    return _lines(text)[line][column : column + 1]


def _is_tab(text: str, line: int, column: int) -> bool:
    """Whether it is a tab, or stands behind one that is in the indentation."""
    here = _lines(text)[line]
    indentation = here[: len(here) - len(here.lstrip())]
    return _at(text, line, column) == "\t" or ("\t" in indentation and column <= len(indentation))
