"""The fewest measurements that settle a question, by asking it again with what they might show.

Rule 1: nothing here knows what is measured: outcomes are tried, and the question itself says what follows.
Rule 2: a size is tried at its points and then halved between every two that differ, down to what the instrument can
tell apart; each stretch is the same answer as far as it was tried.
Rule 3: sets are tried from the smallest; whatever the time did not allow is said.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product

from graph.model.bench import Reach, Result, Settling
from graph.model.value import Amount, Value
from graph.model.verdict import VERDICT_ORDER, Verdict
from graph.rules.spoken import as_written, number


@dataclass(frozen=True, slots=True)
class Measurable:
    """A fact that can be found out. `points` are values it may show, sizes in rising order.

    `step` is how near two sizes may come before the instrument cannot tell them apart; 0: try the points alone.
    No points: only a person can state it, and no outcome is tried.
    """

    seat: str
    feature: str
    label: str
    position: str
    part: str
    measure: str
    why: str
    points: tuple[Value, ...]
    step: int = 0


@dataclass(frozen=True, slots=True)
class Searched:
    """What was found; `together` are the outcomes of the smallest set."""

    measurements: tuple[Settling, ...]
    smallest: tuple[int, ...]
    always: bool
    together: tuple[Reach, ...]
    proof: str
    exact: bool


@dataclass(frozen=True, slots=True)
class Stretch:
    """Neighbouring values with one answer; `first` and `last` of all, `stepped` where values between were halved."""

    values: tuple[Value, ...]
    result: Result
    first: bool
    last: bool
    stepped: bool

    @property
    def width(self) -> int:
        """From the least to the greatest size that was tried in it."""
        low, high = self.values[0], self.values[-1]
        return high.amount - low.amount if isinstance(low, Amount) and isinstance(high, Amount) else 0


Ask = Callable[[Mapping[int, Value]], Result]
"""What the question answers if these measurables (by number) show these values."""

OPEN = Verdict.UNKNOWN.value
GOOD = (Verdict.YES.value, Verdict.WITH_WORK.value)


class _Asking:
    """Asks each case once, until told to stop."""

    def __init__(self, ask: Ask, stop: Callable[[], bool]) -> None:
        self._ask = ask
        self._stop = stop
        self._known: dict[frozenset[tuple[int, Value]], Result] = {}

    def __call__(self, shown: Mapping[int, Value]) -> Result | None:
        key = frozenset(shown.items())
        if key not in self._known:
            if self._stop():
                return None
            result = self._ask(shown)
            if self._stop():
                return None  # the question itself may have been cut short
            self._known[key] = result
        return self._known[key]


def search(measurables: Sequence[Measurable], ask: Ask, now: Result, stop: Callable[[], bool]) -> Searched:
    """What each measurement would mean by itself, and the fewest that settle the question together."""
    asking = _Asking(ask, stop)
    tries = [_Tries(place, one, asking) for place, one in enumerate(measurables)]
    for one in tries:
        one.begin()
    smallest, always, together, proof, exact = _smallest([t for t in tries if t.one.points], measurables, asking)
    for one in tries:
        one.refine()
    measurements = tuple(_settling(m, t.stretches, now, t.whole) for m, t in zip(measurables, tries, strict=True))
    return Searched(measurements, smallest, always, together, proof, exact and all(t.whole for t in tries))


class _Tries:
    """What one measurement was tried with, in rising order; `whole` until the time was up."""

    def __init__(self, place: int, one: Measurable, asking: _Asking) -> None:
        self.place, self.one, self.asking = place, one, asking
        self.tried: list[tuple[Value, Result]] = []
        self.whole = bool(one.points)

    def begin(self) -> None:
        """Try the points."""
        for value in self.one.points:
            result = self.asking({self.place: value})
            if result is None:
                self.whole = False
                return
            self.tried.append((value, result))

    def refine(self) -> None:
        """Halve between every two sizes that differ, down to the step."""
        at = 0
        while self.one.step and at + 1 < len(self.tried):
            (low, below), (high, above) = self.tried[at], self.tried[at + 1]
            assert isinstance(low, Amount) and isinstance(high, Amount)
            if _same(below, above) or high.amount - low.amount <= self.one.step:
                at += 1
                continue
            middle = Amount((low.amount + high.amount) // 2, low.quantity)
            result = self.asking({self.place: middle})
            if result is None:
                self.whole = False
                return
            self.tried.insert(at + 1, (middle, result))

    @property
    def stretches(self) -> list[Stretch]:
        """Neighbours with one answer."""
        return _joined(self.tried, bool(self.one.step))


def _same(one: Result, other: Result) -> bool:
    return (one.verdict, one.cost, one.at_least) == (other.verdict, other.cost, other.at_least)


def _joined(tried: Sequence[tuple[Value, Result]], stepped: bool) -> list[Stretch]:
    out: list[Stretch] = []
    for place, (value, result) in enumerate(tried):
        last = place == len(tried) - 1
        if out and _same(out[-1].result, result):
            out[-1] = Stretch((*out[-1].values, value), result, out[-1].first, last, stepped)
        else:
            out.append(Stretch((value,), result, place == 0, last, stepped))
    return out


def _representatives(stretches: Sequence[Stretch]) -> list[tuple[str, Value]]:
    """The values that a set is tried with: all of a code, of a size one of each stretch (of a single one its ends).

    Narrow stretches (see `narrow`) stand for a reading too close to call.
    """
    if not stretches[0].stepped:
        return [(_shown(value), value) for one in stretches for value in one.values]
    if len(stretches) == 1:
        values = stretches[0].values
        return [(_shown(value), value) for value in dict.fromkeys((values[0], values[-1]))]
    skip = narrow(stretches)
    return [
        (words(stretches, place), s.values[len(s.values) // 2])
        for place, s in enumerate(stretches)
        if place not in skip
    ]


NARROW = 0.05
"""A stretch that leaves the question open between two that decide it counts as too close to call up to this share."""


def narrow(stretches: Sequence[Stretch]) -> frozenset[int]:
    """The stretches in which a reading lies too near the turning point to decide: a surer one leaves them."""
    first, last = stretches[0].values[0], stretches[-1].values[-1]
    if not isinstance(first, Amount) or not isinstance(last, Amount):
        return frozenset()
    most = (last.amount - first.amount) * NARROW
    return frozenset(
        place
        for place in range(1, len(stretches) - 1)
        if stretches[place].stepped
        and stretches[place].result.verdict == OPEN
        and stretches[place].width <= most
        and OPEN not in (stretches[place - 1].result.verdict, stretches[place + 1].result.verdict)
    )


def words(stretches: Sequence[Stretch], place: int) -> str:
    """A stretch as a person says it: "6.2 mm or more", "13.964 mm to less than 13.97 mm", or its values."""
    one = stretches[place]
    first = one.values[0]
    if len(stretches) == 1 and len(one.values) > 1:
        return "whatever it shows"
    if not one.stepped:
        return " or ".join(_shown(value) for value in one.values)
    if one.last:
        return f"{_shown(first)} or more"
    after = stretches[place + 1].values[0]
    if one.first:
        return f"less than {_shown(after)}"
    return f"{_shown(first)} to less than {_shown(after)}"


def _shown(value: Value) -> str:
    if not isinstance(value, Amount):
        return as_written(value)
    # a length is read to a micrometre at best, and a halved one has digits that nobody can read
    amount = round(value.amount, -4) if value.quantity == "length" else value.amount
    return number(amount, value.quantity)


def rank(result: Result) -> tuple[int, int, int]:
    """Orders results from worst to best: the verdict, then the cost (none is worst), then a full price."""
    verdict = next(i for i, v in enumerate(VERDICT_ORDER) if v.value == result.verdict)
    return verdict, -(1 << 60) if result.cost is None else -result.cost, int(not result.at_least)


def _settling(one: Measurable, stretches: Sequence[Stretch], now: Result, whole: bool) -> Settling:
    close = narrow(stretches) if stretches else frozenset()
    outcomes = tuple(
        Reach(words(stretches, i) + (", too close to call" if i in close else ""), s.result)
        for i, s in enumerate(stretches)
    )
    results = [s.result for s in stretches] or [now]
    return Settling(
        one.seat,
        one.feature,
        one.label,
        one.position,
        one.measure,
        one.why,
        outcomes,
        max(results, key=rank),
        min(results, key=rank),
        whole and bool(stretches),
    )


def _smallest(
    tries: Sequence[_Tries], measurables: Sequence[Measurable], asking: _Asking
) -> tuple[tuple[int, ...], bool, tuple[Reach, ...], str, bool]:
    """The smallest set that settles whatever it shows; failing that, the smallest that can settle it well."""
    if not all(t.whole for t in tries):
        return (), False, (), f"stopped by the time limit: at least 1 and at most {len(tries)} would settle it", False
    well: tuple[tuple[int, ...], tuple[Reach, ...]] | None = None
    for size in range(1, len(tries) + 1):
        for chosen in combinations(tries, size):
            met = _met(chosen, measurables, asking)
            if met and all(r.result.verdict != OPEN for r in met):
                for one in chosen:
                    one.refine()
                met = _met(chosen, measurables, asking)
            if met is None:
                proof = f"stopped by the time limit: at least {size} and at most {len(tries)} would settle it"
                return well[0] if well else (), False, well[1] if well else (), proof, False
            places = tuple(t.place for t in chosen)
            if all(r.result.verdict != OPEN for r in met):
                return places, True, met, f"no set smaller than {size} settles it whatever it shows", True
            if well is None and any(r.result.verdict in GOOD for r in met):
                well = places, met
    if well:
        proof = f"no set settles it whatever it shows; none smaller than {len(well[0])} can settle it well"
        return well[0], False, well[1], proof, True
    return (), False, (), "no set of these measurements settles it", True


def _met(chosen: Sequence[_Tries], measurables: Sequence[Measurable], asking: _Asking) -> tuple[Reach, ...] | None:
    """What a set leads to, outcome by outcome; None when the time was up."""
    values = {t.place: _representatives(t.stretches) for t in chosen}
    reached = list(_outcomes(sorted(values), values, measurables, asking))
    return None if None in reached else tuple(r for r in reached if r is not None)


def _outcomes(
    chosen: Sequence[int],
    values: Mapping[int, Sequence[tuple[str, Value]]],
    measurables: Sequence[Measurable],
    asking: _Asking,
) -> Iterator[Reach | None]:
    for shown in product(*(values[place] for place in chosen)):
        result = asking({place: value for place, (_, value) in zip(chosen, shown, strict=True)})
        if result is None:
            yield None
            return
        called = [f"{_called(measurables[p])}: {text}" for p, (text, _) in zip(chosen, shown, strict=True)]
        yield Reach(" and ".join(called), result)


def _called(one: Measurable) -> str:
    return f"{one.label} at {one.position}" if one.position else one.label
