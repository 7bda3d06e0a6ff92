"""What of the shelf is promised to jobs."""

from graph.index.shelf import Shelf
from graph.model.statement import subject
from graph.model.yard import Promise, in_force


def promised(shelf: Shelf, day: str = "") -> tuple[Promise, ...]:
    """What is promised to jobs, oldest first: not released, and with a day named not lapsed by then."""
    out = []
    for row in shelf.sheet("reservations"):
        said = row.fields
        if not in_force(said, day):
            continue
        part = subject("part", str(said.get("maker", "")), str(said["number"])) if said.get("number") else ""
        quantity = int(said.get("quantity", 1))
        job, tag, seat = (str(said.get(name, "")) for name in ("job", "tag", "seat"))
        until, who = str(said.get("until", "")), str(said.get("who", ""))
        out.append(Promise(job, tag, seat, part, quantity, row.id, until, who))
    return tuple(out)
