"""The one door for questions: reads one snapshot, asks, and lets nothing out that the checker refuses."""

from graph.desk.desk import Desk, within
from graph.desk.judging import Evidence, Judgement, judge
from graph.desk.opening import open_desk, version_of

__all__ = ["Desk", "Evidence", "Judgement", "judge", "open_desk", "version_of", "within"]
