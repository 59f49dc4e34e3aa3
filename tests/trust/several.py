"""python -m tests.trust.several LINE...: runs "gladhand LINE" for each in one process, so that it is started once.

Says what each said and ends with the first exit code that was not 0."""

from __future__ import annotations

import sys

from typer.testing import CliRunner

from voice.cli import app


def main(lines: list[str]) -> int:
    for line in lines:
        done = CliRunner().invoke(app, [word.replace("_", " ") for word in line.split(" ")], catch_exceptions=False)
        print(f"{line}: {done.output}")
        if done.exit_code:
            return done.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
