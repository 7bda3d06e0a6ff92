"""Derived interchange: which part may sit in place of which, from the features, kept apart from what is asserted."""

from graph.interchange.answer import interchange
from graph.interchange.book import Book
from graph.interchange.place import Place
from graph.interchange.report import report

__all__ = ["Book", "Place", "interchange", "report"]
