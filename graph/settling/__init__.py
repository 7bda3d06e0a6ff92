"""What would settle a question that is not known: which measurements, and what each outcome would mean."""

from graph.settling.fits import settle_fits
from graph.settling.plans import settle_plan
from graph.settling.search import Ask, Measurable, search

__all__ = ["Ask", "Measurable", "search", "settle_fits", "settle_plan"]
