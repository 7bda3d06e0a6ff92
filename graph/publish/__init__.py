"""The one door for writing: checking and publishing files, recording on the shelf, undoing, verifying."""

from graph.publish.checking import CheckReport, Reading, check
from graph.publish.entering import Entered, accept, enter, enter_core, enter_found, enter_reading
from graph.publish.files import PublishReport, publish
from graph.publish.verifying import verify_store
from graph.publish.writing import Published, publish_statements, record, undo

__all__ = [
    "CheckReport",
    "Entered",
    "PublishReport",
    "Published",
    "Reading",
    "accept",
    "check",
    "enter",
    "enter_core",
    "enter_found",
    "enter_reading",
    "publish",
    "publish_statements",
    "record",
    "undo",
    "verify_store",
]
