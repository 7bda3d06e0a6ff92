"""Small shelves with a few jobs by a seed, and every way to serve them by trying everything.

The exhaustive witness prices and judges single plans by `check_brute` (written from docs/semantics.md alone) and
joins them by plain loops: it shares no code with the allocation.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from random import Random

from check_brute import Brute, TooLarge
from check_random import Maker, random_bundle

from graph.model.bundle import Bundle, PlanQuestion
from graph.model.record import Build, Core, Part, Price, Stock
from graph.model.yard import Job, Promise, ShelfQuestion


class Tagged(tuple):  # type: ignore[type-arg]
    """An option of `check_brute`, with the tag of the core it comes from and the seat it sits in."""

    tag = ""


class Traced(Brute):
    """Brute force that also knows what a plan takes: from which donor, and how many new parts."""

    def values(self, seat: str) -> list:  # type: ignore[type-arg]
        out = []
        for donor in (None, *self.b.donors):
            own = replace(self.b, donors=() if donor is None else (donor,))
            for option, names in Brute(own, self.certain).values(seat):
                if (option[0] == "donor") == (donor is not None):
                    made = Tagged(option)
                    made.tag = donor.tag if donor else ""
                    out.append((made, names))
        return out

    def ways(self) -> list[tuple[int, frozenset[tuple[str, str]], tuple[tuple[str, int], ...], int]]:
        """(cost, donors' parts taken, new parts taken, strip labour of each) of every certain plan."""
        seats = [s.name for s in self.b.layout.seats]
        found = {}
        for row in product(*(self.values(s) for s in seats)):
            chosen = dict(zip(seats, row, strict=True))
            cost = self.cost(chosen)
            if cost is None:
                continue
            taken = frozenset((o.tag, s) for s, (o, _) in chosen.items() if o[0] == "donor")
            new: dict[str, int] = {}
            for s, (o, _) in chosen.items():
                if o[0] == "new":
                    place = self.b.layout.seat(s)
                    new[o[1]] = new.get(o[1], 0) + (place.quantity if place else 1)
            for part, quantity in self.consumed(chosen).items():
                new[part] = new.get(part, 0) + quantity
            key = taken, tuple(sorted(new.items()))
            found[key] = min(cost, found.get(key, cost))
        return [(cost, taken, new) for (taken, new), cost in found.items()]

    def consumed(self, chosen: dict) -> dict[str, int]:  # type: ignore[type-arg]
        """What the work uses up, counted from the prices: each part priced one at a time, all else for nothing."""
        out = {}
        for part in {row.part for row in self.b.consumes}:
            one = self._only(part)
            quantity = one.money(chosen, {}, {})
            if quantity:
                out[part] = quantity
        return out

    @cache  # noqa: B019 - one small bundle
    def _only(self, part: str) -> Brute:
        """The same bundle in which nothing costs anything but this part, one unit each, when used up."""
        parts = tuple(
            replace(p, price_new=replace(p.price_new or _PRICE, price=int(p.key == part)), price_used=None)
            if p.kind == "spare"
            else replace(p, price_new=None, price_used=None)
            for p in self.b.parts
        )
        core = replace(self.b.core, own=True)
        rates = tuple(replace(r, per_hour=0) for r in self.b.rates)
        return Brute(replace(self.b, parts=parts, core=core, rates=rates), True)


_PRICE = Price(0, "EUR", "2026-01-01")


@dataclass(frozen=True)
class Yard:
    """A shelf, its jobs, and the evidence for each plan question."""

    base: Bundle
    cores: tuple[Core, ...]
    builds: dict[str, Build]
    question: ShelfQuestion
    promised: tuple[Promise, ...] = ()

    def evidence(self, question: PlanQuestion) -> Bundle:
        core = next(c for c in self.cores if c.key == question.core)
        donors = tuple(c for c in self.cores if c.may_donate and c.key != core.key)
        return replace(self.base, question=question, core=core, donors=donors, build=self.builds[question.build])


def yard(seed: int) -> Yard:
    """Three or four cores and two or three jobs, with scarce stock more often than not."""
    r = Random(seed * 7 + 1)
    base = random_bundle(seed)
    cores = [replace(c, may_donate=r.random() < 0.8, own=r.random() < 0.15) for c in (base.core, *base.donors)]
    while len(cores) < 3:
        twin = r.choice(cores)
        found = tuple(replace(f, readings=()) if r.random() < 0.5 else f for f in twin.found)
        cores.append(replace(twin, key=f"core/t{len(cores)}", tag=f"t{len(cores)}", found=found, own=False))
    cores.sort(key=lambda c: c.tag)
    maker = Maker(seed + 5000)
    seats = [s.name for s in base.layout.seats]
    builds = {"build/b": base.build, "build/x": Build("build/x", "x", "l", demands=tuple(maker.demands(seats)))}
    parts = tuple(
        replace(
            p,
            stock=(Stock("", r.randint(0, 3)),),
            price_new=p.price_new and replace(p.price_new, lead_days=r.choice([None, 3, 9])),
        )
        for p in base.parts
    )
    own = [c.key for c in cores if c.own]
    jobs = []
    for i in range(r.choice([2, 2, 3])):
        core = own.pop() if own and r.random() < 0.7 else ""
        due = r.choice(["", "", "2026-01-05", "2026-01-20"])
        jobs.append(Job(f"j{i}", r.choice(["build/b", "build/b", "build/x"]), "engine/e", core, due))
    question = ShelfQuestion(
        tuple(jobs),
        "2026-01-01",
        by=r.choice(["", "", "2026-01-12"]),
        only_stock=r.random() < 0.3,
        torn_down_once=r.random() < 0.4,
    )
    return Yard(replace(base, parts=parts), tuple(cores), builds, question)


def exhaustive(case: Yard, first: str = "") -> tuple[int, int] | None:
    """(most jobs done, least cost of so many) by trying everything; None when there are too many ways."""
    stock = {p.key: sum(s.quantity for s in p.stock) for p in case.base.parts}
    named = {j.core for j in case.question.jobs if j.core}
    ways: list[list] = []  # type: ignore[type-arg]
    for job in case.question.jobs:
        mine = []
        scarce = {p.key for p in case.base.parts if not _in_time(p, job, case.question)}
        for core in case.cores:
            if core.key != job.core if job.core else (core.own or core.key in named):
                continue
            bundle = case.evidence(PlanQuestion(core.key, job.build, "engine/e", 1, "2026-01-01"))
            bundle = replace(bundle, donors=tuple(d for d in bundle.donors if d.key not in named))
            brute = Traced(bundle, True)
            try:
                found = brute.ways()
            except TooLarge:
                return None
            for cost, taken, new in found:
                strips = {place: _strip(bundle, place[1]) for place in taken}
                mine.append((cost, core.tag, strips, [(p, q) for p, q in new if p in scarce]))
        ways.append([None, *mine])
        if len(mine) > 3000:
            return None
    best: tuple[bool, int, int] | None = None
    for row in _combined(ways, stock):
        count = sum(w is not None for w in row)
        cost = sum(w[0] for w in row if w)
        if case.question.torn_down_once:
            strips: dict[str, list[int]] = {}
            for way in row:
                for (tag, _), labour in (way[2] if way else {}).items():
                    strips.setdefault(tag, []).append(labour)
            cost -= sum(sum(s) - max(s) for s in strips.values())
        has_first = any(w and j.name == first for w, j in zip(row, case.question.jobs, strict=True))
        key = (not has_first if first else False, -count, cost)
        if best is None or key < best:
            best = key
    assert best is not None
    return -best[1], best[2]


def _in_time(part: Part, job: Job, question: ShelfQuestion) -> bool:
    """Whether the part can be ordered and is here in time; days are counted by hand from the first of January."""
    last = min([int(d[-2:]) for d in (job.due, question.by) if d], default=None)
    if question.only_stock:
        return False
    days = part.price_new.lead_days if part.price_new else None
    return last is None or (days is not None and 1 + days <= last)


def _strip(bundle: Bundle, seat: str) -> int:
    place = bundle.layout.seat(seat)
    ms = (place.strip_time or 0) if place else 0
    return (2 * ms * bundle.rates[0].per_hour + 3_600_000) // 7_200_000


def _combined(ways: list, stock: dict[str, int]) -> Iterator[list]:  # type: ignore[type-arg]
    def walk(i: int, row: list, starts: set, taken: set, left: dict) -> Iterator[list]:  # type: ignore[type-arg]
        if i == len(ways):
            yield row
            return
        for way in ways[i]:
            if way is None:
                yield from walk(i + 1, [*row, None], starts, taken, left)
                continue
            _, tag, strips, new = way
            donors = {t for t, _ in taken}
            if tag in starts or tag in donors or taken & set(strips) or starts & {t for t, _ in strips}:
                continue
            if any(left.get(p, 0) < q for p, q in new):
                continue
            after = {**left, **{p: left.get(p, 0) - q for p, q in new}}
            yield from walk(i + 1, [*row, way], starts | {tag}, taken | set(strips), after)

    return walk(0, [], set(), set(), dict(stock))
