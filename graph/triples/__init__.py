"""Statements as RDF and back, losing nothing."""

from graph.triples.guard import MAX_BODY
from graph.triples.pieces import pieces
from graph.triples.read import statements
from graph.triples.serial import MEDIA, serialise
from graph.triples.write import to_triples, triples

__all__ = ["MAX_BODY", "MEDIA", "pieces", "serialise", "statements", "to_triples", "triples"]
