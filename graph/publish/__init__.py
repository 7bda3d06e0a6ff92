"""The one door for writing: checking and publishing files, recording on the shelf, undoing, verifying."""

from graph.publish.checking import CheckReport, Reading, Spool, check
from graph.publish.entering import Entered, accept, check_rows, enter, enter_core, enter_found, enter_reading
from graph.publish.figuring import put_figure, put_rate
from graph.publish.files import PublishReport, publish
from graph.publish.photographing import add_photo, enter_core_with_photo, remove_photo
from graph.publish.signing import sign, take_back
from graph.publish.staged import TAKEN_BACK, check_staged, commit_staged
from graph.publish.trial import tried
from graph.publish.verifying import remarks, verify_store
from graph.publish.working import deposit, move, promise, promise_all, put_price, put_stock, take_on
from graph.publish.writing import Published, publish_statements, record, undo

__all__ = [
    "TAKEN_BACK",
    "CheckReport",
    "Entered",
    "PublishReport",
    "Published",
    "Reading",
    "Spool",
    "accept",
    "add_photo",
    "check",
    "check_rows",
    "check_staged",
    "commit_staged",
    "deposit",
    "enter",
    "enter_core",
    "enter_core_with_photo",
    "enter_found",
    "enter_reading",
    "move",
    "promise",
    "promise_all",
    "publish",
    "publish_statements",
    "put_figure",
    "put_price",
    "put_rate",
    "put_stock",
    "record",
    "remarks",
    "remove_photo",
    "sign",
    "take_back",
    "take_on",
    "tried",
    "undo",
    "verify_store",
]
