"""The command line: every verb asks the desk or the writer, and prints the same words as the page."""

from api.cli.main import main

__all__ = ["main"]
