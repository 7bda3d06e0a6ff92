"""Printing: plain lines for people, JSON for programs, errors with what to do."""

import json
import sys
from collections.abc import Iterable
from typing import Any

import typer

from graph.errors import SpoolwrightError

FAULTS = 1
"""Exit code: the answer is no, or there are faults in what was given."""

USAGE = 2
"""Exit code: the question cannot be answered as asked."""


def say(lines: Iterable[str]) -> None:
    """Lines to standard output."""
    sys.stdout.write("\n".join(lines) + "\n")


def say_json(data: Any) -> None:
    """Indented JSON to standard output, keys in the records' order."""
    sys.stdout.write(json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def remark(text: str) -> None:
    """A remark beside the answer, to standard error."""
    sys.stderr.write(text + "\n")


def fail(error: SpoolwrightError, *, as_json: bool) -> typer.Exit:
    """Print an error with its code and what to do, and give the exit to raise."""
    if as_json:
        say_json({"error": {"code": error.code, "message": error.message, "fix": error.fix}})
    remark(f"{error.code}: {error.message}" + (f"\n  what to do: {error.fix}" if error.fix else ""))
    return typer.Exit(USAGE)
