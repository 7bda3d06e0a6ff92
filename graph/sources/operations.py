"""Checks of operations: what they change, what they need and exclude."""

from collections.abc import Iterator
from typing import Final

from graph.model.finding import Finding, Origin
from graph.sources.circles import circles
from graph.sources.codes import finding
from graph.sources.rows import CODES, Line
from graph.sources.things import Things, near

CUTS: Final = ("widen_to_suit", "reduce_to_suit")
CODED: Final = ("set_code", "add_feature")


class Operations:
    """The operations of a file, gathered for the checks that need all of them."""

    def __init__(self, things: Things) -> None:
        self.things = things
        self._needs: dict[str, list[str]] = {}
        self._excludes: dict[str, list[str]] = {}
        self._at: dict[str, tuple[Origin, Origin, str]] = {}

    def row(self, line: Line) -> None:
        """Check one operation and remember it."""
        fields, name = line.fields, line.fields.get("operation", "")
        needs, excludes = fields.get("needs", []), fields.get("excludes", [])
        for column in ("needs", "excludes", "follows"):
            for other in fields.get(column, ()):
                if not self.things.has("operations", other):
                    hint = near(other, self.things.names("operations"))
                    line.report("unknown-name", column, name=other, what="operation", hint=hint)
        if name and name in needs:
            line.report("operation-needs-itself", "needs")
        if name:
            self._needs[name] = [n for n in needs if n != name]
            self._excludes[name] = excludes
            self._at[name] = (line.at("needs"), line.at("excludes"), line.texts.get("excludes", ""))
        self._effect(line)
        limit = fields.get("limit_feature")
        if limit and self.things.feature(limit) is None:
            hint = near(limit, self.things.names("features"))
            line.report("unknown-name", "limit_feature", name=limit, what="feature", hint=hint)
        rate = fields.get("rate")
        if rate and not self.things.has("rates", rate):
            line.report("unknown-rate", "rate")

    def _effect(self, line: Line) -> None:
        effect, feature = line.fields.get("effect", ""), line.fields.get("feature", "")
        if not effect or effect == "service" or "feature" in line.bad:
            return
        if not feature:
            line.report("operation-without-feature", "feature", effect=effect)
            return
        _, type_, _ = self.things.feature(feature) or ("", "", "")
        if type_ and (effect in CUTS) == (type_ in CODES):
            line.report("operation-wrong-effect", "effect", effect=effect, feature=feature, type=type_)
            return
        if effect in CODED and "to_value" not in line.texts:
            line.report("code-without-value", "to_value", effect=effect)
        if effect in CUTS and not {"limit_feature", "wall_feature"} & set(line.texts):
            line.report("cut-without-limit", "limit_feature")

    def end(self) -> Iterator[Finding]:
        """Circles of needs, and exclusions of what is needed."""
        if not self._at:
            return
        needs = {
            op: words["needs"].split("|")
            for (op,), words in self.things.rows["operations"].items()
            if words.get("needs")
        }
        needs = {op: [n.strip() for n in names] for op, names in needs.items()} | self._needs
        for circle in circles((op, other) for op, names in needs.items() for other in names):
            ours = [self._at[op][0] for op in circle if op in self._at]
            if ours:
                walk = " > ".join((*circle, circle[0]))
                last = max(ours, key=lambda o: (o.file, o.row))
                yield finding("operation-needs-cycle", last, walk, circle=walk)
        for op, excluded in self._excludes.items():
            needed = _closure(op, needs)
            for other in excluded:
                if other in needed:
                    _, origin, text = self._at[op]
                    yield finding("operation-excludes-needed", origin, text, other=other)


def _closure(op: str, needs: dict[str, list[str]]) -> set[str]:
    found: set[str] = set()
    waiting = list(needs.get(op, ()))
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += needs.get(name, ())
    return found
