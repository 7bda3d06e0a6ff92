"""Every plan of a tiny bundle by trying everything, whole sizes one by one: written from docs/semantics.md alone.

It knows what `check_random` makes: amounts of length, codes without spelling, one rate, no kinds above kinds,
no wishes, no supersession, one quantum of depth costing a whole number of milliseconds.
"""

from itertools import chain, combinations, product
from math import prod

from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.record import Operation
from graph.model.value import Amount, Code

REACH = 14  # quanta that a cut without a known limit is tried for

Alternatives = list[tuple[int, int] | str] | None  # None: settles nothing


def settle(claims: list[Claim], kind: bool) -> tuple[Alternatives, int | None, int | None]:
    """Alternatives, tightest limit_min and limit_max."""
    last: dict[object, list[Claim]] = {}
    for c in sorted(claims, key=lambda c: c.date):
        said_by = c.source if kind else (c.source, c.who, c.instrument)
        if not (c.source if kind else c.who):
            said_by = c  # nobody's word replaces it
        last[said_by] = [x for x in last.get(said_by, []) if x.date == c.date] + [c]
    left = list(chain(*last.values()))
    rank = {id(c): 6 if kind and c.rank == 1 else int(c.rank) for c in left}
    best = min(rank.values(), default=6)
    left = [c for c in left if rank[id(c)] == best]
    if not left or best == Rank.HEARD:
        return None, None, None
    made: list[tuple[int, int] | str] = []
    stated: list[tuple[int, int]] = []
    for c in left:
        if not isinstance(c.value, Amount):
            made.append(c.value.code)  # type: ignore[union-attr]
            continue
        slack = c.resolution if c.tolerance is None else c.tolerance
        made.append((c.value.amount - slack, c.value.amount + slack))
        stated += [made[-1]] if c.tolerance is not None else []  # type: ignore[list-item]
    if not kind and all(isinstance(m, tuple) for m in made):
        sizes = [(m, (m[0] + m[1]) / 2, (m[1] - m[0]) / 2) for m in made]  # type: ignore[misc, operator]
        if all(abs(a - b) <= max(s, t) for _, a, s in sizes for _, b, t in sizes):
            made = [m for m in made if not any(set(range(a, b + 1)) < set(range(m[0], m[1] + 1)) for a, b in stated)]  # type: ignore[arg-type, operator]
    low = max([c.limit_min for c in left if c.limit_min is not None], default=None)
    high = min([c.limit_max for c in left if c.limit_max is not None], default=None)
    return made, low, high


class TooLarge(Exception):
    """More sizes than are worth trying."""


class Brute:
    """All plans of one bundle, solved for certain or for possible."""

    def __init__(self, bundle: Bundle, certain: bool) -> None:
        self.b, self.certain = bundle, certain
        self.parts = {p.key: p for p in bundle.parts}
        self.ops = {o.name: o for o in bundle.operations}
        self.wears = {f.name for f in bundle.features if f.wears}
        self.facts: dict = {}  # type: ignore[type-arg]
        self.refused = {"worn": 0, "left out": 0}  # how often nothing but this rule spoke against it

    def plans(self) -> dict[tuple, int]:  # type: ignore[type-arg]
        """The cheapest cost of every identity."""
        found: dict[tuple, int] = {}  # type: ignore[type-arg]
        seats = [s.name for s in self.b.layout.seats]
        for row in product(*(self.values(s) for s in seats)):
            chosen = dict(zip(seats, row, strict=True))
            cost = self.cost(chosen)
            if cost is not None:
                seats_of = ((s, o[0] != "kept", o[1], o[0], tuple(sorted(ops))) for s, (o, ops) in chosen.items())
                identity = tuple(sorted(seats_of))
                found[identity] = min(cost, found.get(identity, cost))
        return found

    def silent(self) -> bool:
        """Whether some joint has no rule, or the engine none."""
        layout = self.b.layout
        ruled = [r.joint for r in layout.rules]
        onto = [r for r in layout.rules for s, _ in (r.left, *r.right) if s == "engine"]
        return not onto or any(ruled.count(j.name) == 0 for j in layout.joints)

    def values(self, seat: str) -> list:  # type: ignore[type-arg]
        """((source, part, readings or None), operations) of a seat."""
        place = self.b.layout.seat(seat)
        assert place is not None
        made = [("empty", "", None)] if place.may_be_empty else []
        for source, core in [("kept", self.b.core), *(("donor", d) for d in self.b.donors)]:
            for f in core.found:
                if f.seat == seat and f.state == "present":
                    made.append((source, f.part, f.readings))  # type: ignore[arg-type]
        made += [("new", p.key, None) for p in self.b.parts if p.kind == place.kind]
        rows = []
        if self.certain and self.silent():
            return []
        if self.certain and not any(seat in (r.left[0], *(s for s, _ in r.right)) for r in self.b.layout.rules):
            # No rule looks here: another part goes in for certain only if the core has one of its number here.
            had = {f.part for f in self.b.core.found if f.seat == seat}
            made = [o for o in made if o[0] in ("kept", "empty") or o[1] in had]
            return [(o, s) for o in made for s in self.services_alone(place.kind) if self.coherent(o, s)]
        for option in made:
            mine = [o for o in self.b.operations if o.kind == place.kind] if option[0] != "empty" else []
            for size in range(len(mine) + 1):
                rows += [(option, s) for s in combinations([o.name for o in mine], size) if self.coherent(option, s)]
        return rows

    def services_alone(self, kind: str) -> list[tuple[str, ...]]:
        """The sets of operations that alter nothing."""
        mine = [o.name for o in self.b.operations if o.kind == kind and o.effect == "service"]
        return [s for size in range(len(mine) + 1) for s in combinations(mine, size)]

    def fact(self, option: tuple, feature: str) -> tuple[Alternatives, int | None, int | None]:  # type: ignore[type-arg]
        key = (option, feature)
        if key not in self.facts:
            self.facts[key] = self._fact(option, feature)
        return self.facts[key]

    def _fact(self, option: tuple, feature: str) -> tuple[Alternatives, int | None, int | None]:  # type: ignore[type-arg]
        source, part, readings = option
        if source == "engine":
            return settle([c for c in self.b.engine.claims if c.feature == feature], True)
        if readings is not None:
            mine = [c for c in readings if c.feature == feature]
            if mine:
                return settle(mine, False)
            if feature in self.wears:
                return None, None, None
        return settle([c for c in self.parts[part].claims if c.feature == feature], True)

    def result(self, operation: Operation) -> str:
        return "none" if operation.effect == "remove_feature" else operation.to_value.code  # type: ignore[union-attr]

    def coherent(self, option: tuple, names: tuple[str, ...]) -> bool:  # type: ignore[type-arg]
        ops = [self.ops[n] for n in names]
        kind = ops[0].kind if ops else ""
        features = [o.feature for o in ops if o.effect != "service"]
        if len(features) != len(set(features)):
            return False
        for o in ops:
            if set(o.excludes) & set(names):
                return False
            for need in o.needs:
                other = self.ops[need]
                if other.kind == kind and need not in names:
                    if other.effect not in ("set_code", "add_feature", "remove_feature"):
                        return False
                    there = self.fact(option, other.feature)[0]
                    if there is None or any(x != self.result(other) for x in there):
                        return False
            if o.effect == "service":
                if not any(o.name in p.needs for p in ops):
                    return False
                continue
            before = self.fact(option, o.feature)[0]
            if before is None:
                if self.certain:
                    return False
                continue
            if o.effect.endswith("to_suit"):
                continue
            made = self.result(o)
            if o.effect == "add_feature":
                permits = [x == "none" for x in before]
            elif o.effect == "remove_feature":
                permits = [x != "none" for x in before]
            else:
                permits = [x not in ("none", made) for x in before]
            if not (all(permits) if self.certain else any(permits)):
                return False
        worn = self.worn(option, names)
        self.refused["worn"] += worn
        return not worn

    def worn(self, option: tuple, names: tuple[str, ...], only: str = "") -> bool:  # type: ignore[type-arg]
        """Whether a used part breaks a limit on record for it (on one feature `only`), value by value."""
        source, part, _ = option
        if source not in ("kept", "donor"):
            return False
        walls = {o.wall_feature for o in self.ops.values()}
        changed = {self.ops[n].feature for n in names if self.ops[n].effect != "service"}
        rows = [x for x in self.parts[part].limits if x.condition in ("", "used") and x.rank != 6]
        for feature in ({only} if only else {x.feature for x in rows}) - walls - changed:
            mine = [x for x in rows if x.feature == feature and (x.min, x.max) != (None, None)]
            if not mine:
                continue
            there = self.fact(option, feature)[0]
            cases = []
            for low, high in there or []:
                ok = [
                    all((x.min is None or v >= x.min) and (x.max is None or v <= x.max) for x in mine)
                    for v in range(low, high + 1)
                ]
                cases.append((all(ok), any(ok)))
            said = self.said(cases) if there is not None else None
            if said is not True and (self.certain or said is False):
                return True
        return False

    def left_out(self, chosen: dict) -> bool:  # type: ignore[type-arg]
        """Whether some seat stays empty that its own part, as it is, could have filled."""
        cut = {
            (s, self.ops[n].feature)
            for s, (_, names) in chosen.items()
            for n in names
            if self.ops[n].effect.endswith("to_suit")
        }
        coded = {
            (s, self.ops[n].feature): self.result(self.ops[n])
            for s, (_, names) in chosen.items()
            for n in names
            if self.ops[n].effect in ("set_code", "add_feature", "remove_feature")
        }
        for seat, (option, _) in chosen.items():
            for f in self.b.core.found:
                if option[0] != "empty" or f.seat != seat or f.state != "present":
                    continue
                own = ("kept", f.part, f.readings)
                if self.worn(own, ()):
                    continue
                filled = {s: own if s == seat else o for s, (o, _) in chosen.items()}
                breaks = False
                for r in self.b.layout.rules:
                    away = any(s != "engine" and filled[s][0] == "empty" for s in r.seats)
                    if seat not in r.seats or away or cut & set(r.operands):
                        continue
                    facts = []
                    for s, feature in r.operands:
                        there = ("engine", "", None) if s == "engine" else filled[s]
                        known = self.fact(there, feature)[0]
                        facts.append([coded[s, feature]] if (s, feature) in coded else known)
                    said = self.rule(r, facts)
                    breaks = breaks or said is False or (said is None and self.certain)
                if not breaks:
                    return True
        return False

    def cost(self, chosen: dict) -> int | None:  # type: ignore[type-arg]
        cuts = {}  # place: (sizes to try, first is the smallest change; capability; operation)
        coded = {}
        lost = set()
        for seat, (option, names) in chosen.items():
            for o in (self.ops[n] for n in names):
                place = (seat, o.feature)
                if o.effect == "service":
                    continue
                if not o.effect.endswith("to_suit"):
                    coded[place] = self.result(o)
                    continue
                before, low, high = self.fact(option, o.feature)
                if before is None:
                    lost.add(place)
                    continue
                sign = 1 if o.effect == "widen_to_suit" else -1
                low, high = self.stated(option, o.feature, low, high)
                ends = [e for pair in before for e in pair]
                stops = [x for x in [high if sign > 0 else low] if x is not None]
                unknown = o.tolerance is None
                if o.limit_feature:
                    other = self.fact(option, o.limit_feature)[0]
                    if other is not None:
                        stops.append(min(x[0] for x in other) if sign > 0 else max(x[1] for x in other))
                if o.wall_feature:
                    room = self.wall(option, o)
                    if room is None:
                        unknown = True
                    else:
                        stops.append(min(ends) + room if sign > 0 else max(ends) - room)
                if self.certain and (unknown or not stops):
                    return None
                tolerance = o.tolerance or 0
                start = max(ends) + 1 if sign > 0 else min(ends) - 1
                if not stops:
                    far = start + sign * REACH
                else:
                    far = min(stops) - tolerance if sign > 0 else max(stops) + tolerance
                cuts[place] = (list(range(start, far + sign, sign)), tolerance, o, (min(ends) + max(ends)) // 2)
        if any(not sizes for sizes, *_ in cuts.values()):
            return None
        if prod(len(sizes) for sizes, *_ in cuts.values()) > 250:
            raise TooLarge
        if not self.holds(chosen, {}, cuts, coded, lost, None, cut=False):
            return None
        least = self.least(chosen, cuts, coded, lost)
        if least is None:
            return None
        if self.idle(chosen, cuts, coded, lost):
            return None
        if self.left_out(chosen):
            self.refused["left out"] += 1
            return None
        return self.money(chosen, cuts, least)

    def idle(self, chosen, cuts, coded, lost):  # type: ignore[no-untyped-def]
        """Whether some operation is not needed."""
        for place in [*cuts, *coded, *lost]:
            seat = place[0]
            mine = next(
                o for o in map(self.ops.get, chosen[seat][1]) if o and o.feature == place[1] and o.effect != "service"
            )
            if any(mine.name in self.ops[n].needs for n in chosen[seat][1] if n != mine.name):
                continue
            if self.worn(chosen[seat][0], (), only=place[1]):
                continue
            rest = {p: c for p, c in cuts.items() if p != place}
            if any(
                self.holds(chosen, dict(zip(rest, sizes, strict=True)), cuts, coded, lost, place)
                for sizes in product(*(c[0] for c in rest.values()))
            ):
                return True
        return False

    def stated(self, option, feature, low, high):  # type: ignore[no-untyped-def]
        """The limits with those that the claims about the kind state."""
        drawn, least, most = self.fact(("new", option[1], None), feature)
        lows = [x for x in (low, least if drawn else None) if x is not None]
        highs = [x for x in (high, most if drawn else None) if x is not None]
        return max(lows, default=None), min(highs, default=None)

    def wall(self, option: tuple, o: Operation) -> int | None:  # type: ignore[type-arg]
        _, part, readings = option
        thin = []
        for position in o.wall_positions or ("",):
            here = [c for c in readings or () if c.feature == o.wall_feature and c.position == position]
            seen = settle(here, False)[0]
            if seen is None:
                return None
            thin += [x[0] for x in seen]
        least = [
            x.min
            for x in self.parts[part].limits
            if x.feature == o.wall_feature and x.min is not None and x.rank != 6
        ]
        if not least or o.core_shift is None:
            return None
        return (2 if o.wall_share == "half" else 1) * (min(thin) - o.core_shift - max(least))

    def least(self, chosen, cuts, coded, lost):  # type: ignore[no-untyped-def]
        """The least sizes: none could be smaller alone, then cheapest, then least in the order of the rules."""
        named = [p for r in self.b.layout.rules for p in r.operands]
        order = sorted(cuts, key=lambda p: (named.index(p) if p in named else 999, p))
        good = [
            sizes
            for sizes in product(*(cuts[p][0] for p in order))
            if self.holds(chosen, dict(zip(order, sizes, strict=True)), cuts, coded, lost, None)
        ]
        if not good:
            return None
        if len(order) > 1:
            steps = {g: tuple(cuts[p][0].index(t) for p, t in zip(order, g, strict=True)) for g in good}
            index = set(steps.values())
            good = [
                g
                for g in good
                if not any(
                    (*steps[g][:i], smaller, *steps[g][i + 1 :]) in index
                    for i in range(len(order))
                    for smaller in range(steps[g][i])
                )
            ]

        def rank(sizes):  # type: ignore[no-untyped-def]
            depth = [abs(t - cuts[p][3]) for p, t in zip(order, sizes, strict=True)]
            cost = sum(
                d * cuts[p][2].time_per_mm * self.b.rates[0].per_hour for p, d in zip(order, depth, strict=True)
            )
            return cost, depth

        return dict(zip(order, min(good, key=rank), strict=True))

    def holds(self, chosen, sizes, cuts, coded, lost, undone, cut=True):  # type: ignore[no-untyped-def]
        """Whether every rule and demand lets the plan stand; without `cut`, those that look at no cut."""

        def look(seat, feature):  # type: ignore[no-untyped-def]
            place = (seat, feature)
            if place != undone:
                if place in sizes:
                    return [(sizes[place] - cuts[place][1], sizes[place] + cuts[place][1])]
                if place in coded:
                    return [coded[place]]
                if place in lost:
                    return None
            option = ("engine", "", None) if seat == "engine" else chosen[seat][0]
            return self.fact(option, feature)[0]

        for r in self.b.layout.rules:
            if any(s != "engine" and chosen[s][0][0] == "empty" for s in r.seats):
                said = self.bare(r)
                if not cut and said is not True and (self.certain or said is False):
                    return False
                continue
            if not cut and any(p in cuts for p in r.operands):
                continue
            said = self.rule(r, [look(*p) for p in r.operands])
            if said is not True and (self.certain or said is False):
                return False
        for d in self.b.build.demands:
            if chosen[d.seat][0][0] == "empty":
                return False
            if d.type == "keep":
                if d.feature == "" and chosen[d.seat][0][0] != "kept":
                    return False
                if d.feature and any(p == (d.seat, d.feature) for p in [*cuts, *coded, *lost]):
                    return False
                continue
            if not cut and (d.seat, d.feature) in cuts:
                continue
            exact = (d.seat, d.feature) in sizes and (d.seat, d.feature) != undone
            said = self.demand(d, look(d.seat, d.feature), sizes.get((d.seat, d.feature)) if exact else None)
            if said is not True and (self.certain or said is False):
                return False
        return True

    def said(self, cases: list[tuple[bool, bool]]) -> bool | None:
        """(holds for every value, for some value) of each alternative: True, False or None for not known."""
        if all(every for every, _ in cases):
            return True
        return None if any(some for _, some in cases) else False

    def bare(self, r):  # type: ignore[no-untyped-def]
        """Whether the one seat of the rule may stay empty before the engine; None: not known."""
        theirs = [[c for c in self.b.engine.claims if c.feature == f] for s, f in r.operands if s == "engine"]
        if len({s for s in r.seats if s != "engine"}) != 1 or not theirs:
            return True
        if r.type not in ("same", "thread", "accepted", "control"):
            return True
        if any(isinstance(c.value, Amount) for claims in theirs for c in claims):
            return True
        if not all(theirs):
            return None
        known = [settle(claims, True)[0] for claims in theirs]
        said = [set(k) if k else {c.value.code for c in claims} for k, claims in zip(known, theirs, strict=True)]  # type: ignore[union-attr]
        if None not in known and all(codes == {"none"} for codes in said):
            return True
        if None in known or any("none" in codes and len(codes) > 1 for codes in said):
            return None
        rest = iter(known)
        return self.rule(r, [next(rest) if s == "engine" else ["none"] for s, _ in r.operands])

    def rule(self, r, facts):  # type: ignore[no-untyped-def]
        if any(f is None for f in facts):
            return None
        pairs = dict(self.b.accepted).get(r.set, ())
        if r.type == "accepted" and not pairs:
            return None
        cases = []
        for row in product(*facts):
            if r.type == "accepted" or (r.type == "same" and isinstance(row[0], str)):
                ok = row in pairs if r.type == "accepted" else row[0] == row[1]
                cases.append((ok, ok))
                continue
            values = [range(a, b + 1) for a, b in row]
            sums = []
            for v in product(*values):
                if r.type == "clearance":
                    ok = self.between(r, v[0] - v[1])
                elif r.type == "interference":
                    ok = self.between(r, v[1] - v[0])
                elif r.type == "stack":
                    ok = self.between(r, v[0] - sum(v[1:]))
                elif r.type == "at_most":
                    ok = v[0] <= v[1] - (r.min or 0) if r.right else None if r.max is None else v[0] <= r.max
                elif r.type == "at_least":
                    ok = v[0] >= v[1] + (r.min or 0) if r.right else None if r.min is None else v[0] >= r.min
                else:
                    ok = abs(v[0] - v[1]) <= (r.max or 0)
                sums.append(ok)
            if None in sums:
                return None
            cases.append((all(sums), any(sums)))
        return self.said(cases)

    def between(self, r, value):  # type: ignore[no-untyped-def]
        if r.min is None and r.max is None:
            return None
        return (r.min is None or r.min <= value) and (r.max is None or value <= r.max)

    def demand(self, d, fact, size):  # type: ignore[no-untyped-def]
        if fact is None:
            return None
        if isinstance(d.value, Code):
            return self.said([(x == d.value.code, x == d.value.code) for x in fact])
        wanted = d.value.amount
        if d.type == "same":
            held = [size == wanted if size is not None else a <= wanted <= b for a, b in fact]
            return self.said([(h, h) for h in held])
        cases = []
        for a, b in fact:
            ok = [
                (d.type != "at_least" or v >= wanted)
                and (d.type != "at_most" or v <= wanted)
                and (d.type != "between" or wanted <= v <= d.value_to)
                for v in range(a, b + 1)
            ]
            cases.append((all(ok), any(ok)))
        return self.said(cases)

    def money(self, chosen, cuts, least):  # type: ignore[no-untyped-def]
        rate = self.b.rates[0].per_hour

        def labour(ms: int) -> int:
            return (2 * ms * rate + 3_600_000) // (2 * 3_600_000)

        core = self.b.core
        cost = 0 if core.own else core.book_value or 0
        changed, done = set(), set()
        for seat, (option, names) in chosen.items():
            place = self.b.layout.seat(seat)
            source, part, _ = option
            if source in ("new", "donor"):
                changed.add(seat)
                price = self.parts[part].price_new if source == "new" else self.parts[part].price_used
                cost += price.price * place.quantity if price else 0
                cost += labour(place.strip_time or 0) if source == "donor" else 0
            for o in (self.ops[n] for n in names):
                done.add(o.name)
                if o.effect != "service":
                    changed.add(seat)
                depth = 0
                cut = (seat, o.feature)
                if o.effect.endswith("to_suit") and cut in least:
                    depth = abs(least[cut] - cuts[cut][3]) * o.time_per_mm // 10_000_000
                cost += labour(o.setup + o.time + depth)
        services: set[str] = set()
        for _ in range(len(self.ops) + 1):
            for row in self.b.services:
                if row.when == "always" or row.when in changed:
                    services.add(row.operation)
            for name in [*done, *services]:
                o = self.ops[name]
                services |= set(o.follows)
                services |= {n for n in o.needs if self.ops[n].effect == "service" and not self.ops[n].kind}
        cost += sum(labour(self.ops[n].setup + self.ops[n].time) for n in services)
        used: dict[str, list[int]] = {}
        for row in self.b.consumes:
            times = sum(row.when in names for _, names in chosen.values())
            if row.when == "always" or row.when in changed or row.when in services:
                times = 1
            if times:
                entry = used.setdefault(row.part, [0, 0])
                if row.per == "unit":
                    entry[1] = max(entry[1], row.quantity)
                else:
                    entry[0] += row.quantity * times
        for part, (seats, unit) in used.items():
            price = self.parts[part].price_new
            cost += price.price * (seats + unit) if price else 0
        return cost
