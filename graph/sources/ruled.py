"""Seats and joints of which no fit rule speaks: a plan can be sure of nothing there (docs/semantics.md, 2)."""

from collections.abc import Iterator

from graph.model.finding import Finding, Origin
from graph.sources.codes import finding
from graph.sources.known import Known
from graph.sources.rows import Line
from graph.sources.rules import ENGINE


class Ruled:
    """The file's seats and joints, and of which seats and joints the rules of the file and the store speak."""

    def __init__(self, known: Known) -> None:
        self._known = known
        self._layouts: dict[str, Origin] = {}
        self._seats: dict[tuple[str, str], Origin] = {}
        self._joints: dict[tuple[str, str], Origin] = {}
        self._spoken: set[tuple[str, str]] = set()
        self._decided: set[tuple[str, str]] = set()

    def seat(self, line: Line) -> None:
        """A row of the sheet `layouts`."""
        layout, seat = line.fields.get("layout"), line.fields.get("seat")
        if layout and seat:
            self._layouts.setdefault(layout, line.at("layout"))
            self._seats.setdefault((layout, seat), line.at("seat"))

    def joint(self, line: Line) -> None:
        """A row of the sheet `joints`."""
        layout, joint = line.fields.get("layout"), line.fields.get("joint")
        if layout and joint and not line.faulty:
            self._joints.setdefault((layout, joint), line.at("joint"))

    def rule(self, line: Line) -> None:
        """A row of the sheet `rules`; a faulty one counts too, for what it was meant for."""
        fields = line.fields
        self._say(fields.get("layout", ""), fields.get("joint", ""), fields.get("left", ""), fields.get("right", ()))

    def _say(self, layout: str, joint: str, left: str, right: tuple[str, ...]) -> None:
        self._decided.add((layout, joint))
        self._spoken |= {(layout, operand.partition(".")[0]) for operand in (left, *right)}

    def end(self) -> Iterator[Finding]:
        """What no rule decides, in the order of the rows."""
        if not self._seats and not self._joints:
            return
        for row in self._known.rows("rules"):
            self._say(row["layout"], row["joint"], row["left"], tuple(row.get("right", ())))
        for layout, origin in self._layouts.items():
            if (layout, ENGINE) not in self._spoken:
                yield finding("layout-without-engine", origin, layout, layout=layout)
        for (layout, seat), origin in self._seats.items():
            if (layout, seat) not in self._spoken:
                yield finding("seat-without-rule", origin, seat, layout=layout, seat=seat)
        for (layout, joint), origin in self._joints.items():
            if (layout, joint) not in self._decided:
                yield finding("joint-without-rule", origin, joint, layout=layout, joint=joint)
