"""The command line: every verb asks the desk or the writer, and prints the same words as the page.

Verbs import what only they need when they are called, so that a question does not wait for libraries of others.
"""

from api.cli.main import main

__all__ = ["main"]
