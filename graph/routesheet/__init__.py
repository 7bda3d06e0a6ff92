"""The route sheet of a plan: one page a part, an assembly page, the records that end it, and what else changes.

Rule 1: every figure comes from the plan and its evidence, or from a formula over them; what they lack is a blank.
Rule 2: nothing here lifts a block.
"""

from graph.routesheet.differences import Original, Site, differences
from graph.routesheet.records import refusals
from graph.routesheet.sheet import route_sheet

__all__ = ["Original", "Site", "differences", "refusals", "route_sheet"]
