"""Checks of operations: what they change, what they need, bring with them and exclude."""

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
        self._follows: dict[str, list[str]] = {}
        self._at: dict[str, dict[str, Origin]] = {}
        self._written: dict[str, str] = {}

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
        follows = fields.get("follows", [])
        if name and name in follows:
            line.report("operation-order-cycle", "follows", circle=f"{name} > {name}")
        if name:
            self._needs[name] = [n for n in needs if n != name]
            self._excludes[name] = excludes
            self._follows[name] = follows
            self._at[name] = {column: line.at(column) for column in ("needs", "excludes", "follows")}
            self._written[name] = line.texts.get("excludes", "")
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
        if effect in CUTS and "wall_feature" in line.texts and "core_shift" not in line.texts:
            line.report("wall-without-core-shift", "core_shift")

    def end(self) -> Iterator[Finding]:
        """Circles of needs and of what follows, and exclusions of what is needed."""
        if not self._at:
            return
        needs = self._named("needs") | self._needs
        for circle in circles((op, other) for op, names in needs.items() for other in names):
            yield from self._circle("operation-needs-cycle", circle, [op for op in circle if op in self._at], "needs")
        follows = self._named("follows") | self._follows
        yield from self._out_of_order(needs, follows)
        for op, excluded in self._excludes.items():
            needed = _closure(op, needs)
            for other in excluded:
                if other in needed:
                    yield finding(
                        "operation-excludes-needed", self._at[op]["excludes"], self._written[op], other=other
                    )

    def _named(self, column: str) -> dict[str, list[str]]:
        """What every operation of the file or the store names in this column."""
        rows = self.things.rows["operations"].items()
        return {op: [n.strip() for n in words[column].split("|")] for (op,), words in rows if words.get(column)}

    def _out_of_order(self, needs: dict[str, list[str]], follows: dict[str, list[str]]) -> Iterator[Finding]:
        """Circles in which something that follows must come first as well; those of needs alone are found already."""
        needed = {(other, op) for op, names in needs.items() for other in names}
        after = {(op, other) for op, names in follows.items() for other in names}
        for circle in circles(sorted(needed | after)):
            steps = set(zip(circle, (*circle[1:], circle[0]), strict=True))
            if not steps <= needed:
                brings = [op for op, other in sorted(steps - needed) if op in self._at]
                column = "follows" if brings else "needs"
                ours = brings or [op for op in circle if op in self._at]
                yield from self._circle("operation-order-cycle", circle, ours, column)

    def _circle(self, code: str, circle: tuple[str, ...], ours: list[str], column: str) -> Iterator[Finding]:
        """The finding at the last of our rows; nothing when the circle is the store's alone."""
        if ours:
            walk = " > ".join((*circle, circle[0]))
            last = max((self._at[op][column] for op in ours), key=lambda o: (o.file, o.row))
            yield finding(code, last, walk, circle=walk)


def _closure(op: str, needs: dict[str, list[str]]) -> set[str]:
    found: set[str] = set()
    waiting = list(needs.get(op, ()))
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += needs.get(name, ())
    return found
