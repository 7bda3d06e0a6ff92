"""A third planner: CP-SAT over raw sizes. A choice a seat, a whole size a cut, every rule as sums of those sizes.

Claims are settled and options listed by tests/support/pump_witness.py; nothing of `graph.planning` or `graph.rules`
is in it, no classes, no tables of pairs, no elimination. Whether work and empty seats are needed is asked of the
other witness plan by plan; needless ones are excluded. Labour must come to whole minor units (see `medium_bundle`).
"""

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Any

from depth_random import Wishing
from ortools.sat.python import cp_model
from pump_random import Dice, random_bundle

from graph.model.bundle import Bundle
from graph.model.record import Core, Part, Price, Rate, Rule

EXACT = 3_600_000
"""A rate at which a millisecond costs one minor unit, so that nothing is rounded."""
MOST_EXCLUDED = 300
Plan = tuple[int, Any]
"""Cost and identity."""


class GaveUp(Exception):
    """More plans with needless work than are worth excluding."""


def medium_bundle(seed: int) -> Bundle:
    """A question with far more choices than can be tried: up to six parts a kind, three donors."""
    bundle = random_bundle(seed, best=1)
    r, dice = random.Random(f"medium {seed}"), Dice(seed + 50_000)
    more = [
        dice.part(kind, 10 + n)
        for kind, most in (("casing", 3), ("impeller", 4), ("shaft", 3), ("seal", 2))
        for n in range(r.randint(1, most))
    ]
    parts = tuple(sorted((*bundle.parts, *more), key=lambda p: p.key))
    usable = [p for p in parts if p.kind != "gasket"]
    donors = tuple(
        Core(
            f"core/M{n}", f"M{n}", "pump", may_donate=True,
            found=tuple(f for s in bundle.layout.seats if r.random() < 0.7 and (f := dice.found(s, usable))),
        )
        for n in range(3)
    )  # fmt: skip
    rates = tuple(Rate(name, EXACT * r.choice((1, 2)), "EUR") for name in ("shop", "mill"))
    book = bundle.core.book_value
    core = replace(bundle.core, book_value=None if book is None else 500 * book)
    rules = tuple(replace(rule, safety=r.random() < 0.2) for rule in bundle.layout.rules)
    return replace(
        bundle,
        layout=replace(bundle.layout, rules=rules),
        parts=tuple(map(_dear, parts)),
        donors=(*bundle.donors, *donors),
        rates=rates,
        core=core,
    )


def _dear(part: Part) -> Part:
    def dear(price: Price | None) -> Price | None:
        return None if price is None else replace(price, price=500 * price.price)

    return replace(part, price_new=dear(part.price_new), price_used=dear(part.price_used))


class Raw(Wishing):
    """One question as one model."""

    def __init__(self, bundle: Bundle, certain: bool) -> None:
        super().__init__(bundle)
        self.certain = certain
        self.model = cp_model.CpModel()
        self.seats = [s.name for s in bundle.layout.seats]
        self.modes = dict(zip(self.seats, self._offers(certain), strict=True))
        self.pick = {s: [self.model.new_bool_var("") for _ in mine] for s, mine in self.modes.items()}
        self.size: dict[tuple[str, str], Any] = {}
        self.cost: list[Any] = []
        for s in self.seats:
            self.model.add_exactly_one(self.pick[s]) if self.pick[s] else self.model.add_bool_or([])
        self._sizes()
        for rule in bundle.layout.rules:
            self._rule_held(rule)
        for demand in self.demands:
            self._demand_held(demand)
        self._priced()
        self.model.minimize(sum(self.cost))

    def ranked(self, k: int) -> list[Plan]:
        """The k cheapest plans, each once; fewer: that is all."""
        out: list[Plan] = []
        for _ in range(MOST_EXCLUDED):
            if len(out) == k:
                return out
            solver = cp_model.CpSolver()
            solver.parameters.num_workers = 1
            status = solver.solve(self.model)
            if status == cp_model.INFEASIBLE:
                return out
            assert status == cp_model.OPTIMAL
            at = {s: next(i for i, x in enumerate(mine) if solver.boolean_value(x)) for s, mine in self.pick.items()}
            chosen = {s: self.modes[s][i] for s, i in at.items()}
            if self._needless(chosen, self.certain):
                self.model.add_bool_or([self.pick[s][i].negated() for s, i in at.items()])
                continue
            own = {s: self._identity(s, chosen[s]) for s in self.seats}
            out.append((round(solver.objective_value), tuple(sorted(own.values()))))
            alike = [
                sum(
                    x
                    for x, mode in zip(self.pick[s], self.modes[s], strict=True)
                    if self._identity(s, mode) == own[s]
                )
                for s in self.seats
            ]
            self.model.add(sum(alike) <= len(self.seats) - 1)
        raise GaveUp

    def _identity(self, seat: str, mode: Any) -> Any:
        choice, ops = mode
        part = choice.part.key if choice.part else ""
        return seat, choice.source != "kept", part, choice.source, tuple(sorted(o.name for o in ops))

    def _cut(self, mode: Any, feature: str) -> Any:
        choice, ops = mode
        for o in ops:
            if o.feature == feature and o.effect.endswith("to_suit") and self.as_is(choice, feature).sure:
                return o
        return None

    def _sizes(self) -> None:
        """A size for every feature that may be cut, in the room of the part chosen, and what the cut costs."""
        for s, mine in self.modes.items():
            for feature in {o.feature for _, ops in mine for o in ops if o.effect.endswith("to_suit")}:
                rows = []
                for i, mode in enumerate(mine):
                    o = self._cut(mode, feature)
                    if o is None:
                        rows.append((i, 0, 0))
                        continue
                    start = self.start({s: mode}, (s, feature))
                    for size in self.sizes(mode[0], o):
                        depth = o.time_per_mm * abs(size - start)
                        assert depth % 10_000_000 == 0
                        rows.append((i, size, self._paid(o.rate, o.setup + o.time + depth // 10_000_000)))
                which = self.model.new_int_var(0, len(mine) - 1, "")
                for i, x in enumerate(self.pick[s]):
                    self.model.add(which == i).only_enforce_if(x)
                final = self.model.new_int_var(min(r[1] for r in rows), max(r[1] for r in rows), "")
                paid = self.model.new_int_var(0, max(r[2] for r in rows), "")
                self.model.add_allowed_assignments([which, final, paid], rows)
                self.size[s, feature] = final
                self.cost.append(paid)

    def _paid(self, rate: str, time: int) -> int:
        per_hour = self.rates.get(rate, 0)
        assert per_hour % EXACT == 0
        return time * per_hour // EXACT

    def _side(self, seat: str, mode: Any, feature: str) -> Any:
        """What a rule sees: a settled fact, or the slack of a cut."""
        o = self._cut(mode, feature)
        return (o.tolerance or 0) if o is not None else self._fact({seat: mode}, (seat, feature), {}, None)

    def _alike_modes(self, seat: str, features: tuple[str, ...]) -> dict[Any, Any]:
        """A literal for each way in which these features of a seat can be seen; None: the seat is empty."""
        groups: dict[Any, list[Any]] = {}
        for x, mode in zip(self.pick[seat], self.modes[seat], strict=True):
            seen = None if mode[0].source == "empty" else tuple(self._side(seat, mode, f) for f in features)
            groups.setdefault(seen, []).append(x)
        out = {}
        for seen, members in groups.items():
            out[seen] = self.model.new_bool_var("")
            self.model.add(sum(members) == out[seen])
        return out

    def _rule_held(self, rule: Rule) -> None:
        seats = [s for s in dict.fromkeys(s for s, _ in rule.operands) if s != "engine"]
        features = {s: tuple(dict.fromkeys(f for t, f in rule.operands if t == s)) for s in seats}
        classes = [self._alike_modes(s, features[s]) for s in seats]
        for combination in product(*(c.items() for c in classes)):
            literals = [x for _, x in combination]
            seen = {s: what for s, (what, _) in zip(seats, combination, strict=True)}
            if None in seen.values():
                said = self._bare(rule)
                if said == "n" or (said == "?" and self.certain):
                    self.model.add_bool_or([x.negated() for x in literals])
                continue
            sides = [self.engine(f) if s == "engine" else seen[s][features[s].index(f)] for s, f in rule.operands]
            if not any(isinstance(side, int) for side in sides):
                said = self.rule(rule, tuple(sides))
                if said == "n" or (said == "?" and self.certain):
                    self.model.add_bool_or([x.negated() for x in literals])
                continue
            self._sum_held(literals, rule.operands, sides, *_window(rule))

    def _demand_held(self, d: Any) -> None:
        for seen, literal in self._alike_modes(d.seat, (d.feature,)).items():
            assert seen is not None
            (side,) = seen
            if not isinstance(side, int):
                said = self.demand(d, side, False)
                if said == "n" or (said == "?" and self.certain):
                    self.model.add(literal == 0)
            elif d.type == "same":
                self.model.add(self.size[d.seat, d.feature] == d.value.amount).only_enforce_if(literal)
            else:
                low = None if d.type == "at_most" else d.value.amount
                high = {"at_least": None, "at_most": d.value.amount, "between": d.value_to}[d.type]
                self._sum_held([literal], ((d.seat, d.feature),), [side], (1,), low, high)

    def _sum_held(self, when: list[Any], operands: Any, sides: list[Any], signs: Any, low: Any, high: Any) -> None:
        """signs * sizes within low..high wherever all of `when` are chosen: for all values, or for some."""
        if any(not isinstance(side, int) and not side.sure for side in sides) or (low is None and high is None):
            if self.certain:
                self.model.add_bool_or([x.negated() for x in when])
            return
        places = [((((None,),)) if isinstance(side, int) else side.places) for side in sides]
        for here in product(*places):
            fine = []
            for rivals in product(*here):
                least: Any = 0
                most: Any = 0
                for sign, operand, side, rival in zip(signs, operands, sides, rivals, strict=True):
                    at, slack = (self.size[operand], side) if isinstance(side, int) else (0, 0)
                    a, b = (at - slack, at + slack) if isinstance(side, int) else rival
                    least, most = (least + a, most + b) if sign > 0 else (least - b, most - a)
                ok = self.model.new_bool_var("")
                inner, outer = (least, most) if self.certain else (most, least)
                if low is not None:
                    self.model.add(inner >= low).only_enforce_if(ok)
                if high is not None:
                    self.model.add(outer <= high).only_enforce_if(ok)
                fine.append(ok)
            for enough in [[ok] for ok in fine] if self.certain else [fine]:
                self.model.add_bool_or([*(x.negated() for x in when), *enough])

    def _priced(self) -> None:
        """Parts, work other than cuts, services done once, and what is used up."""
        b = self.bundle
        self.cost.append(0 if b.core.own else (b.core.book_value or 0))
        triggers: dict[str, list[Any]] = {}
        happen: dict[str, list[Any]] = {}
        for s, mine in self.modes.items():
            place = b.layout.seat(s)
            assert place is not None
            for x, (choice, ops) in zip(self.pick[s], mine, strict=True):
                own = 0
                if choice.source == "new" and choice.part.price_new:
                    own += choice.part.price_new.price * place.quantity
                if choice.source == "donor":
                    own += choice.part.price_used.price * place.quantity if choice.part.price_used else 0
                    own += self._paid("shop", place.strip_time or 0)
                for o in ops:
                    if self._cut((choice, ops), o.feature) is not o:
                        own += self._paid(o.rate, o.setup + o.time)
                self.cost.append(own * x)
                changed = choice.source in ("new", "donor") or any(o.effect != "service" for o in ops)
                due = {d.operation for d in b.services if changed and d.when == s}
                for name in self._closed(due | {o.name for o in ops}):
                    triggers.setdefault(name, []).append(x)
                for name in {o.name for o in ops} | ({s} if changed else set()):
                    happen.setdefault(name, []).append(x)
        always = self._closed({d.operation for d in b.services if d.when == "always"})
        done = {}
        for name, o in self.operations.items():
            if o.effect != "service" or (name not in always and name not in triggers):
                continue
            done[name] = self.model.new_bool_var("")
            chosen = sum(happen.get(name, []))
            for x in ([1] if name in always else []) + triggers.get(name, []):
                self.model.add(done[name] >= x - chosen)
            if name in happen:
                for x in happen[name]:
                    self.model.add_implication(x, done[name].negated())
            if name not in always:
                self.model.add(done[name] <= sum(triggers[name]))
            self.cost.append(self._paid(o.rate, o.setup + o.time) * done[name])
        self._used_up(happen, done)

    def _used_up(self, happen: dict[str, list[Any]], done: dict[str, Any]) -> None:
        once: dict[str, Any] = {}
        for row in self.bundle.consumes:
            price = self.parts[row.part].price_new
            if price is None:
                continue
            times = [*happen.get(row.when, []), *([done[row.when]] if row.when in done else [])]
            times += [1] if row.when == "always" else []
            if row.per != "unit":
                self.cost.append(price.price * row.quantity * sum(times))
                continue
            if row.part not in once:
                once[row.part] = self.model.new_int_var(0, 99, "")
                self.cost.append(price.price * once[row.part])
            for x in times:
                self.model.add(once[row.part] >= row.quantity * x)

    def _closed(self, names: set[str]) -> set[str]:
        """The services that these bring with them, those named among them included."""
        done = set(names)
        while True:
            more = {n for name in done for n in self._brought(name)} - done
            if not more:
                return {n for n in done if self.operations[n].effect == "service"}
            done |= more

    def _brought(self, name: str) -> Iterator[str]:
        o = self.operations[name]
        for other in o.follows:
            if self.operations[other].effect == "service":
                yield other
        for other in o.needs:
            needed = self.operations.get(other)
            if needed is not None and needed.effect == "service" and not needed.kind:
                yield other


def _window(rule: Rule) -> tuple[tuple[int, ...], int | None, int | None]:
    """A rule on numbers as signs and a window for their sum."""
    n = len(rule.right)
    match rule.type:
        case "clearance" | "stack":
            return (1, *[-1] * n), rule.min, rule.max
        case "interference":
            return (-1, *[1] * n), rule.min, rule.max
        case "at_most":
            return ((-1, 1), rule.min or 0, None) if n else ((1,), None, rule.max)
        case "at_least":
            return ((1, -1), rule.min or 0, None) if n else ((1,), rule.min, None)
        case "same":
            return (1, -1), -(rule.max or 0), rule.max or 0
    raise AssertionError(rule.type)
