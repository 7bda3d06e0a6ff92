"""Reuse, machine, replace or scrap: every part of a core against the limits that belong to it."""

from graph.inspection.decide import InspectionEvidence, Instrument, inspect, worst_first
from graph.inspection.guard import RULE, compare

__all__ = ["RULE", "InspectionEvidence", "Instrument", "compare", "inspect", "worst_first"]
