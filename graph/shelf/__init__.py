"""The shelf and the day's jobs: cores, donors' parts and stock used once, for most jobs and least money."""

from graph.shelf.answer import plan_rush, plan_shelf

__all__ = ["plan_rush", "plan_shelf"]
