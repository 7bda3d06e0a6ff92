"""A second planner for tiny bundles, by trying everything: every option, every set of operations, every whole size.

It follows docs/semantics.md and shares no code with `graph.planning` or `graph.rules`; only the record types.
Sizes must be small whole numbers of quanta, since each one between start and limit is tried.
"""

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations, product
from math import prod
from typing import Any, NamedTuple

from graph.model.bundle import Bundle
from graph.model.claim import Claim
from graph.model.record import FoundPart, Operation, Part, Rule
from graph.model.value import Amount, Code

FARTHEST = 18
"""No size in these bundles is wanted that is further from where it starts; a cut without a known limit ends here."""


class Known(NamedTuple):
    """A settled feature: rivals at each place, each an interval or a code; `sure` when it settles anything."""

    places: tuple[tuple[Any, ...], ...]
    sure: bool
    limit_min: int | None = None
    limit_max: int | None = None

    @property
    def rivals(self) -> list[Any]:
        return [r for place in self.places for r in place]


NOTHING = Known((), False)


class Choice(NamedTuple):
    seat: str
    source: str
    part: Part | None
    found: FoundPart | None
    lot: str


class Witness:
    def __init__(self, bundle: Bundle) -> None:
        self.bundle = bundle
        self.parts = {p.key: p for p in bundle.parts}
        self.one_time = {k.name for k in bundle.kinds if k.one_time}
        self.wears = {f.name for f in bundle.features if f.wears}
        self.operations = {o.name: o for o in bundle.operations}
        self.rates = {r.name: r.per_hour for r in bundle.rates}
        self.rules = bundle.layout.rules
        self.demands = [d for d in bundle.build.demands if d.type != "keep"]
        self.order = list(dict.fromkeys(o for r in self.rules for o in r.operands))
        self.memo: dict[Any, Any] = {}

    # claims

    def settle(self, claims: list[Claim], of_kind: bool) -> Known:
        now = [
            c
            for c in claims
            if not any(
                (o.position, o.source) == (c.position, c.source)
                and o.date > c.date
                and (c.source != "" if of_kind else c.who != "" and (o.who, o.instrument) == (c.who, c.instrument))
                for o in claims
            )
        ]
        rank = {c.id: 6 if of_kind and c.rank == 1 else int(c.rank) for c in now}
        best = min(rank.values(), default=0)
        first = [c for c in now if rank[c.id] == best]
        if not first:
            return NOTHING
        places: dict[str, set[Any]] = {}
        for c in first:
            t = c.tolerance or 0
            worth = (c.value.amount - t, c.value.amount + t) if isinstance(c.value, Amount) else c.value.code  # type: ignore[union-attr]
            places.setdefault(c.position, set()).add(worth)
        return Known(
            tuple(tuple(sorted(places[p], key=str)) for p in sorted(places)),
            best != 6,
            max((c.limit_min for c in first if c.limit_min is not None and best != 6), default=None),
            min((c.limit_max for c in first if c.limit_max is not None and best != 6), default=None),
        )

    def as_is(self, choice: Choice, feature: str) -> Known:
        key = choice.seat, choice.source, choice.lot, choice.part and choice.part.key, feature
        if key not in self.memo:
            self.memo[key] = self._as_is(choice, feature)
        return self.memo[key]  # type: ignore[no-any-return]

    def _as_is(self, choice: Choice, feature: str) -> Known:
        if choice.found is not None:
            own = [c for c in choice.found.readings if c.feature == feature]
            if own:
                read, kind = self.settle(own, False), self._of_kind(choice, feature)
                lows = [k.limit_min for k in (read, kind) if k.limit_min is not None]
                highs = [k.limit_max for k in (read, kind) if k.limit_max is not None]
                return read._replace(limit_min=max(lows, default=None), limit_max=min(highs, default=None))
            if feature in self.wears:
                return NOTHING
        return self._of_kind(choice, feature)

    def _of_kind(self, choice: Choice, feature: str) -> Known:
        claims = choice.part.claims if choice.part else ()
        return self.settle([c for c in claims if c.feature == feature], True)

    def engine(self, feature: str) -> Known:
        return self.settle([c for c in self.bundle.engine.claims if c.feature == feature], True)

    # options

    def choices(self, seat: str, kind: str, may_be_empty: bool) -> Iterator[Choice]:
        b = self.bundle
        keep = f"keep:{seat}" in b.question.wishes or any(
            d.seat == seat and d.type == "keep" and not d.feature for d in b.build.demands
        )
        cores = [("kept", b.core)] + ([] if keep else [("donor", d) for d in b.donors])
        if "no-donor" in b.question.wishes:
            cores = cores[:1]
        for source, core in cores:
            for f in core.found:
                part = self.parts.get(f.part)
                if (
                    f.seat == seat
                    and f.state == "present"
                    and part
                    and part.kind == kind
                    and kind not in self.one_time
                ):
                    yield Choice(seat, source, part, f, core.tag)
        if not keep:
            for part in b.parts:
                if part.kind == kind and ("no-new" not in b.question.wishes or kind in self.one_time):
                    yield Choice(seat, "new", part, None, "")
            if may_be_empty and not any(d.seat == seat for d in b.build.demands):
                yield Choice(seat, "empty", None, None, "")

    def sets(self, choice: Choice, certain: bool) -> Iterator[tuple[Operation, ...]]:
        yield ()
        if choice.part is None or "no-machining" in self.bundle.question.wishes:
            return
        mine = [o for o in self.bundle.operations if o.kind == choice.part.kind]
        names = {o.name for o in mine}
        fixed = {
            d.feature for d in self.bundle.build.demands if d.seat == choice.seat and d.type == "keep" and d.feature
        }
        for size in range(1, len(mine) + 1):
            for group in combinations(mine, size):
                chosen = {o.name for o in group}
                if any(n in names and n not in chosen and not self._there(choice, n) for o in group for n in o.needs):
                    continue
                if any(set(o.excludes) & chosen for o in group):
                    continue
                changed = [o.feature for o in group if o.effect != "service"]
                if len(changed) != len(set(changed)) or set(changed) & fixed:
                    continue
                if any(o.effect == "service" and not any(o.name in x.needs for x in group) for o in group):
                    continue
                if all(o.effect == "service" or self._can(choice, o, certain) for o in group):
                    yield group

    def _there(self, choice: Choice, name: str) -> bool:
        o = self.operations[name]
        if o.effect not in ("set_code", "add_feature", "remove_feature"):
            return False
        before = self.as_is(choice, o.feature)
        return before.sure and all(r == self._made(o) for r in before.rivals)

    def _made(self, o: Operation) -> str:
        if o.effect == "remove_feature":
            return "none"
        assert isinstance(o.to_value, Code)
        return o.to_value.code

    def _can(self, choice: Choice, o: Operation, certain: bool) -> bool:
        before = self.as_is(choice, o.feature)
        if not before.sure:
            return not certain
        if o.effect.endswith("to_suit"):
            if certain and (o.tolerance is None or self.limit(choice, o)[1]):
                return False
            return bool(self.sizes(choice, o))
        permits = {
            "set_code": lambda c: c not in ("none", self._made(o)),
            "add_feature": lambda c: c == "none",
            "remove_feature": lambda c: c != "none",
        }[o.effect]
        said = [permits(c) for c in before.rivals]
        return all(said) if certain else any(said)

    def limit(self, choice: Choice, o: Operation) -> tuple[int | None, bool]:
        """(The tightest known, whether something is not known)."""
        widen = o.effect == "widen_to_suit"
        before = self.as_is(choice, o.feature)
        lows, highs = [r[0] for r in before.rivals], [r[1] for r in before.rivals]
        found, lacking = [], False
        stated = before.limit_max if widen else before.limit_min
        if stated is not None:
            found.append(stated)
        if o.limit_feature:
            end = self.as_is(choice, o.limit_feature)
            if end.sure:
                found.append(min(r[0] for r in end.rivals) if widen else max(r[1] for r in end.rivals))
        if o.wall_feature:
            lacking = o.core_shift is None
            read = choice.found.readings if choice.found else ()
            thin = []
            for position in o.wall_positions or ("",):
                here = [c for c in read if c.feature == o.wall_feature and c.position == position]
                if here:
                    thin.append(min(r[0] for r in self.settle(here, False).rivals))
                else:
                    lacking = True
            assert choice.part is not None
            least = [
                x.min for x in choice.part.limits if x.feature == o.wall_feature and x.min is not None and x.rank < 6
            ]
            lacking = lacking or not least
            if not lacking:
                room = (min(thin) - o.core_shift - max(least)) * (2 if o.wall_share == "half" else 1)
                found.append(min(lows) + room if widen else max(highs) - room)
        if not found:
            return None, True
        return (min(found) if widen else max(found)), lacking

    def sizes(self, choice: Choice, o: Operation) -> list[int]:
        before = self.as_is(choice, o.feature)
        end, _ = self.limit(choice, o)
        slack = o.tolerance or 0
        if o.effect == "widen_to_suit":
            first = max(r[1] for r in before.rivals) + 1
            return list(range(first, (first + FARTHEST if end is None else end - slack) + 1))
        first = min(r[0] for r in before.rivals) - 1
        return list(range(first, (first - FARTHEST if end is None else end + slack) - 1, -1))

    # rules, by trying every value

    def rule(self, rule: Rule, facts: tuple[Known, ...]) -> str:
        key = rule.joint, rule.name, facts
        if key not in self.memo:
            self.memo[key] = self._rule(rule, facts)
        return self.memo[key]  # type: ignore[no-any-return]

    def _rule(self, rule: Rule, facts: tuple[Known, ...]) -> str:
        if not all(f.sure for f in facts):
            return "?"
        if rule.type in ("clearance", "interference", "stack") and rule.min is None and rule.max is None:
            return "?"
        verdicts = []
        for places in product(*(f.places for f in facts)):
            said = set()
            for rivals in product(*places):
                if any(isinstance(r, str) for r in rivals):
                    said.add("y" if len(set(rivals)) == 1 else "n")
                    continue
                held = {self._holds(rule, x) for x in product(*(range(a, b + 1) for a, b in rivals))}
                said.add("?" if len(held) == 2 else "y" if True in held else "n")
            verdicts.append(said.pop() if len(said) == 1 else "?")
        return "n" if "n" in verdicts else "?" if "?" in verdicts else "y"

    def _holds(self, rule: Rule, x: tuple[int, ...]) -> bool:
        low = -(10**9) if rule.min is None else rule.min
        high = 10**9 if rule.max is None else rule.max
        match rule.type:
            case "clearance" | "stack":
                return low <= x[0] - sum(x[1:]) <= high
            case "interference":
                return low <= x[1] - x[0] <= high
            case "at_most":
                return x[0] <= x[1] - (rule.min or 0) if rule.right else x[0] <= high
            case "at_least":
                return x[0] >= x[1] + (rule.min or 0) if rule.right else x[0] >= low
            case "same":
                return abs(x[0] - x[1]) <= (rule.max or 0)
        raise AssertionError(rule.type)

    def demand(self, d: Any, fact: Known, cut: bool) -> str:
        if not fact.sure:
            return "?"
        verdicts = []
        for place in fact.places:
            said = set()
            for r in place:
                if isinstance(r, str):
                    said.add("y" if r == d.value.code else "n")
                    continue
                values = range(r[0], r[1] + 1)
                if d.type == "same":
                    held = {(r[0] + r[1]) == 2 * d.value.amount if cut else d.value.amount in values}
                elif d.type == "at_least":
                    held = {v >= d.value.amount for v in values}
                elif d.type == "at_most":
                    held = {v <= d.value.amount for v in values}
                else:
                    held = {d.value.amount <= v <= d.value_to for v in values}
                said.add("?" if len(held) == 2 else "y" if True in held else "n")
            verdicts.append(said.pop() if len(said) == 1 else "?")
        return "n" if "n" in verdicts else "?" if "?" in verdicts else "y"

    # plans

    def plans(self, certain: bool) -> list[tuple[int, Any]]:
        """(cost, identity) of every plan, cheapest first."""
        found: dict[Any, int] = {}
        for _, _, cost, identity in self.worked(certain):
            found[identity] = min(cost, found.get(identity, cost))
        return sorted((cost, identity) for identity, cost in found.items())

    def worked(self, certain: bool) -> Iterator[tuple[dict[str, Any], dict[Any, int], int, Any]]:
        """Every choice that makes a plan: (choices, least sizes, cost, identity)."""
        seats = self.bundle.layout.seats
        for picked in product(*self._offers(certain)):
            chosen = {s.name: p for s, p in zip(seats, picked, strict=True)}
            least = self._least(chosen, certain)
            if least is None or self._needless(chosen, certain):
                continue
            identity = tuple(
                sorted(
                    (
                        s,
                        c.source != "kept",
                        c.part.key if c.part else "",
                        c.source,
                        tuple(sorted(o.name for o in ops)),
                    )
                    for s, (c, ops) in chosen.items()
                )
            )
            yield chosen, least, self._cost(chosen, least), identity

    def combinations(self, certain: bool) -> int:
        """How many choices there are to try."""
        return prod(len(mine) for mine in self._offers(certain))

    def _offers(self, certain: bool) -> list[list[Any]]:
        return [
            [
                (c, ops)
                for c in self.choices(s.name, s.kind, s.may_be_empty)
                for ops in self.sets(c, certain)
                if self._alone(s.name, c, ops, certain) and (self._on_record(c, ops) or not certain)
            ]
            for s in self.bundle.layout.seats
        ]

    def _on_record(self, choice: Choice, ops: tuple[Operation, ...]) -> bool:
        """Whether something says that this goes here, and every joint has a rule, the engine's side one too."""
        named = [place[0] for place in self.order]
        ruled = [r.joint for r in self.rules]
        if "engine" not in named or any(j.name not in ruled for j in self.bundle.layout.joints):
            return False
        if choice.seat not in named and any(o.effect != "service" for o in ops):
            return False
        came = [f.part for f in self.bundle.core.found if f.seat == choice.seat and f.part]
        same = choice.part is not None and choice.part.key in came
        return choice.source in ("kept", "empty") or choice.seat in named or same

    def _alone(self, seat: str, choice: Choice, ops: tuple[Operation, ...], certain: bool) -> bool:
        """A quick look at what concerns this seat alone and is not cut."""
        if self._worn(choice, {o.feature for o in ops if o.effect != "service"}, certain):
            return False
        changed = {o.feature for o in ops if o.effect.endswith("to_suit")}
        chosen = {seat: (choice, ops)}
        for rule in self.rules:
            mine = {s for s, _ in rule.operands} <= {seat, "engine"} and not any(
                f in changed for _, f in rule.operands
            )
            if mine and not self._rule_ok(chosen, rule, {}, None, certain):
                return False
        return all(
            d.feature in changed or self._demand_ok(chosen, d, {}, None, certain)
            for d in self.demands
            if d.seat == seat
        )

    def _worn(self, choice: Choice, changed: set[str], certain: bool) -> set[str]:
        """The unchanged features of a used part whose limits are not kept, or not surely."""
        if choice.found is None or choice.part is None:
            return set()
        bad = set()
        walls = {o.wall_feature for o in self.bundle.operations}
        rows = [x for x in choice.part.limits if x.condition != "new" and x.rank < 6 and x.feature not in walls]
        for feature in {x.feature for x in rows} - changed:
            mine = [x for x in rows if x.feature == feature and (x.min is not None or x.max is not None)]
            if not mine:
                continue
            fact = self.as_is(choice, feature)
            places = []
            for place in fact.places:
                kept = set()
                for low, high in place:
                    each = {
                        all((x.min is None or x.min <= v) and (x.max is None or v <= x.max) for x in mine)
                        for v in range(low, high + 1)
                    }
                    kept.add("?" if len(each) == 2 else "y" if True in each else "n")
                places.append(kept.pop() if len(kept) == 1 else "?")
            said = "?" if not fact.sure else "n" if "n" in places else "?" if "?" in places else "y"
            if said == "n" or (said == "?" and certain):
                bad.add(feature)
        return bad

    def _fact(self, chosen: dict[str, Any], place: Any, sizes: dict[Any, int], undone: Any) -> Known:
        seat, feature = place
        if seat == "engine":
            return self.engine(feature)
        choice, ops = chosen[seat]
        before = self.as_is(choice, feature)
        o = next((o for o in ops if o.feature == feature and o.effect != "service"), None)
        if o is None or place == undone:
            return before
        if o.effect.endswith("to_suit"):
            if not before.sure:
                return NOTHING
            slack = o.tolerance or 0
            return Known((((sizes[place] - slack, sizes[place] + slack),),), True)
        return Known(((self._made(o),),), True)

    def _rule_ok(self, chosen: Any, rule: Rule, sizes: Any, undone: Any, certain: bool) -> bool:
        if any(s != "engine" and chosen[s][0].source == "empty" for s, _ in rule.operands):
            bare = self._bare(rule)
            return bare == "y" or (bare == "?" and not certain)
        said = self.rule(rule, tuple(self._fact(chosen, p, sizes, undone) for p in rule.operands))
        return said == "y" or (said == "?" and not certain)

    def _bare(self, rule: Rule) -> str:
        """Whether the one seat that the rule holds against the engine may stay empty."""
        seats = {s for s, _ in rule.operands}
        if "engine" not in seats or len(seats) != 2 or rule.type not in ("same", "thread", "accepted", "control"):
            return "y"
        theirs = [self.engine(f) for s, f in rule.operands if s == "engine"]
        if any(not isinstance(r, str) for t in theirs for r in t.rivals):
            return "y"
        if any(not t.rivals for t in theirs):
            return "?"
        if all(t.sure and set(t.rivals) == {"none"} for t in theirs):
            return "y"
        if any("none" in t.rivals and len(set(t.rivals)) > 1 for t in theirs):
            return "?"
        empty = Known((("none",),), True)
        return self.rule(rule, tuple(self.engine(f) if s == "engine" else empty for s, f in rule.operands))

    def _demand_ok(self, chosen: Any, d: Any, sizes: Any, undone: Any, certain: bool) -> bool:
        place = (d.seat, d.feature)
        said = self.demand(d, self._fact(chosen, place, sizes, undone), place in sizes and place != undone)
        return said == "y" or (said == "?" and not certain)

    def _cuts(self, chosen: Any, undone: Any = None) -> dict[Any, Operation]:
        out = {}
        for seat, (choice, ops) in chosen.items():
            for o in ops:
                place = (seat, o.feature)
                if o.effect.endswith("to_suit") and place != undone and self.as_is(choice, o.feature).sure:
                    out[place] = o
        return out

    def assignments(
        self, chosen: Any, certain: bool, undone: Any = None, fixed: Any = None
    ) -> Iterator[dict[Any, int]]:
        """Every way to size the cuts so that all rules and demands hold."""
        cuts = self._cuts(chosen, undone)
        places = list(cuts)
        checks: list[list[Any]] = [[] for _ in range(len(places) + 1)]
        for item in (*self.rules, *self.demands):
            touched = item.operands if isinstance(item, Rule) else ((item.seat, item.feature),)
            checks[max((places.index(p) + 1 for p in touched if p in places), default=0)].append(item)

        def fine(item: Any, sizes: Any) -> bool:
            if isinstance(item, Rule):
                return self._rule_ok(chosen, item, sizes, undone, certain)
            return self._demand_ok(chosen, item, sizes, undone, certain)

        def grow(i: int, sizes: dict[Any, int]) -> Iterator[dict[Any, int]]:
            if not all(fine(item, sizes) for item in checks[i]):
                return
            if i == len(places):
                yield sizes
                return
            place = places[i]
            options = [fixed[place]] if fixed and place in fixed else self.sizes(chosen[place[0]][0], cuts[place])
            for size in options:
                yield from grow(i + 1, {**sizes, place: size})

        yield from grow(0, {})

    def start(self, chosen: Any, place: Any) -> int:
        rivals = self.as_is(chosen[place[0]][0], place[1]).rivals
        return (min(r[0] for r in rivals) + max(r[1] for r in rivals)) // 2

    def _alike(self, chosen: Any, undone: Any, certain: bool) -> Any:
        """Equal for choices whose cuts can be sized in the same ways."""
        cuts = self._cuts(chosen, undone)
        ranges = tuple((p, o.name, tuple(self.sizes(chosen[p[0]][0], o))) for p, o in cuts.items())
        empty = tuple(s for s, (c, _) in chosen.items() if c.source == "empty")
        places = [*self.order, *((d.seat, d.feature) for d in self.demands)]
        rest = tuple(None if p in cuts else self._fact(chosen, p, {}, undone) for p in places)
        starts = tuple(self.start(chosen, p) for p in cuts)
        return "sizes", certain, ranges, starts, empty, rest

    def _least(self, chosen: Any, certain: bool) -> dict[Any, int] | None:
        key = self._alike(chosen, None, certain)
        if key not in self.memo:
            self.memo[key] = self._least_tried(chosen, certain)
        return self.memo[key]  # type: ignore[no-any-return]

    def _least_tried(self, chosen: Any, certain: bool) -> dict[Any, int] | None:
        cuts = self._cuts(chosen)
        order = sorted(cuts, key=lambda p: (self.order.index(p) if p in self.order else len(self.order), p))

        def rank(sizes: dict[Any, int]) -> Any:
            change = {p: abs(sizes[p] - self.start(chosen, p)) for p in cuts}
            cost = sum(Fraction(o.time_per_mm * change[p] * self.rates.get(o.rate, 0)) for p, o in cuts.items())
            return cost, [change[p] for p in order]

        return min(self.assignments(chosen, certain), key=rank, default=None)

    def _left_out(self, chosen: Any, seat: str, certain: bool) -> bool:
        """Whether the core's own part could have stayed in this empty seat."""
        kind = next(s.kind for s in self.bundle.layout.seats if s.name == seat)
        for choice in self.choices(seat, kind, False):
            if choice.source != "kept" or not self._alone(seat, choice, (), certain):
                continue
            back = {**chosen, seat: (choice, ())}
            cuts = self._changed(chosen)
            mine = [r for r in self.rules if any(s == seat for s, _ in r.operands)]
            if all(self._rule_ok(back, r, {}, None, certain) for r in mine if not cuts & set(r.operands)):
                return True
        return False

    def _changed(self, chosen: Any) -> set[Any]:
        return {(s, o.feature) for s, (_, ops) in chosen.items() for o in ops if o.effect.endswith("to_suit")}

    def _needless(self, chosen: Any, certain: bool) -> bool:
        if any(c.source == "empty" and self._left_out(chosen, s, certain) for s, (c, _) in chosen.items()):
            return True
        for seat, (choice, ops) in chosen.items():
            for o in ops:
                if o.effect == "service" or any(o.name in x.needs for x in ops if x is not o):
                    continue
                if o.feature in self._worn(choice, set(), certain):
                    continue
                undone = (seat, o.feature)
                key = "any", self._alike(chosen, undone, certain)
                if key not in self.memo:
                    self.memo[key] = next(self.assignments(chosen, certain, undone=undone), None) is not None
                if self.memo[key]:
                    return True
        return False

    def _labour(self, rate: str, time: int) -> int:
        return int(Fraction(time * self.rates.get(rate, 0), 3_600_000) + Fraction(1, 2)) if rate in self.rates else 0

    def _cost(self, chosen: Any, least: dict[Any, int]) -> int:
        b = self.bundle
        total = 0 if b.core.own else (b.core.book_value or 0)
        changed, per_seat = set(), []
        for seat, (choice, ops) in chosen.items():
            place = b.layout.seat(seat)
            assert place is not None
            if choice.source == "new" and choice.part.price_new:
                total += choice.part.price_new.price * place.quantity
            if choice.source == "donor":
                total += choice.part.price_used.price * place.quantity if choice.part.price_used else 0
                total += self._labour("shop", place.strip_time or 0)
            for o in ops:
                time = Fraction(o.setup + o.time)
                if (seat, o.feature) in least and o.effect.endswith("to_suit"):
                    depth = abs(least[seat, o.feature] - self.start(chosen, (seat, o.feature)))
                    time += Fraction(o.time_per_mm * depth, 10_000_000)
                total += self._labour(o.rate, int(time + Fraction(1, 2)))
            if choice.source in ("new", "donor") or any(o.effect != "service" for o in ops):
                changed.add(seat)
            per_seat.append({o.name for o in ops} | ({seat} & changed))
        done = {s.operation for s in b.services if s.when == "always" or s.when in changed}
        chosen_names = {o.name for _, ops in chosen.values() for o in ops}
        while True:
            more = set()
            for n in done | chosen_names:
                o = self.operations[n]
                more |= {x for x in o.follows if self.operations[x].effect == "service"}
                more |= {
                    x
                    for x in o.needs
                    if x in self.operations and self.operations[x].effect == "service" and not self.operations[x].kind
                }
            if more <= done:
                break
            done |= more
        done -= chosen_names
        for n in done:
            o = self.operations[n]
            total += self._labour(o.rate, o.setup + o.time)
        used: Counter[str] = Counter()
        once: dict[str, int] = {}
        for row in b.consumes:
            times = sum(row.when in happening for happening in per_seat) + int(
                row.when == "always" or row.when in done
            )
            if times and row.per == "unit":
                once[row.part] = max(once.get(row.part, 0), row.quantity)
            elif times:
                used[row.part] += row.quantity * times
        for part, quantity in (*used.items(), *once.items()):
            price = self.parts[part].price_new
            total += price.price * quantity if price else 0
        return total
