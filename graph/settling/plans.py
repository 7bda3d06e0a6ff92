"""What would settle a plan question: open facts of the core, of donors, of kinds and of the engine, tried in turn."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from graph.model.bench import Result, SettleAnswer
from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.plan import PlanAnswer
from graph.model.record import Core, Feature, FoundPart, Operation
from graph.model.value import Value
from graph.model.verdict import Missing, Verdict
from graph.planning.answer import plan
from graph.rules.facts import settle
from graph.rules.spoken import in_words
from graph.settling.points import (
    CLOSE,
    WIDE,
    codes_of,
    disputed_points,
    interval_points,
    kind_points,
    sizes_of,
    step_of,
    wide_points,
)
from graph.settling.search import Measurable, Searched, search
from graph.settling.witness import witnessed

ENGINE = "engine"
KEPT, DONOR = "kept", "donor"
NEVER_BEFORE = "9999-12-31T23:59:59"
"""The date of a reading that nobody has taken yet: it counts after all that are on record."""
ROUNDS = 3
"""How often open facts that come up once others are settled are added."""


def settle_plan(bundle: Bundle, sureness: Mapping[str, int], stop: Callable[[], bool]) -> SettleAnswer:
    """The fewest measurements after which it is known whether the core becomes the build.

    `sureness` is the least uncertainty, in quanta, with which a feature can be read here.
    """
    answer = plan(bundle, stop=stop)
    now = _result(answer)
    question = f"core {bundle.core.tag} into {bundle.build.name}"
    if answer.verdict is not Verdict.UNKNOWN:
        sentence = f"Nothing more need be measured: {answer.sentence}"
        return SettleAnswer(question, now, (), (), True, (), "nothing is open", sentence, bundle.snapshot)
    facts = _Facts(bundle, sureness)
    measurables = facts.of(answer)
    for _ in range(ROUNDS):
        ask = _asking(bundle, facts, measurables, stop)
        favourable = {i: m.points[-1] for i, m in enumerate(measurables) if m.points}
        further = [m for m in facts.of(ask.answer(favourable)) if _place(m) not in {_place(x) for x in measurables}]
        if not further or stop():
            break
        measurables += further
    found = search(measurables, _asking(bundle, facts, measurables, stop), now, stop)
    return said(question, now, found, bundle)


def said(question: str, now: Result, found: Searched, bundle: Bundle) -> SettleAnswer:
    """The search as an answer, with its sentence."""
    return SettleAnswer(
        question,
        now,
        found.measurements,
        found.smallest,
        found.always,
        found.together,
        found.proof,
        sentence(found),
        bundle.snapshot,
    )


def sentence(found: Searched) -> str:
    """What to measure, in one or two plain sentences."""
    if not found.smallest:
        tried = "; ".join(dict.fromkeys(m.measure for m in found.measurements))
        return f"It was not found which measurements settle it ({found.proof}). Open: {tried or 'nothing was named'}."
    todo = "; ".join(
        f"{m.measure} ({m.label}{f' at {m.position}' if m.position else ''})"
        for m in (found.measurements[i] for i in found.smallest)
    )
    whatever = "settles it, whatever it shows" if found.always else "settles it if it turns out well"
    return f"{todo[:1].upper()}{todo[1:]}: that {whatever}."


class _asking:  # noqa: N801 - used as a function
    """The plan question with hypothetical values."""

    def __init__(
        self, bundle: Bundle, facts: "_Facts", measurables: list[Measurable], stop: Callable[[], bool]
    ) -> None:
        self.bundle, self.facts, self.measurables, self.stop = bundle, facts, measurables, stop

    def answer(self, shown: Mapping[int, Value]) -> PlanAnswer:
        bundle = self.bundle
        for place, value in sorted(shown.items(), key=lambda item: item[0]):
            bundle = self.facts.with_value(bundle, self.measurables[place], value)
        return witnessed(plan(bundle, stop=self.stop))

    def __call__(self, shown: Mapping[int, Value]) -> Result:
        return _result(self.answer(shown))


def _result(answer: PlanAnswer) -> Result:
    sure = answer.verdict in (Verdict.YES, Verdict.WITH_WORK) and answer.plans
    cost = answer.plans[0].cost if sure else None
    return Result(answer.verdict.value, cost, bool(sure and answer.plans[0].at_least), answer.sentence)


def _place(one: Measurable) -> tuple[str, str, str, str]:
    return one.seat, one.feature, one.position, one.part


class _Facts:
    """Open facts as measurables, and bundles in which they have a value."""

    def __init__(self, bundle: Bundle, sureness: Mapping[str, int]) -> None:
        self.bundle = bundle
        self.sureness = sureness
        self.features = {f.name: f for f in bundle.features}
        self.parts = {p.key: p for p in bundle.parts}
        self.lots: dict[tuple[str, str, str, str], str] = {}  # where a measurable's part is: a core's tag

    def of(self, answer: PlanAnswer) -> list[Measurable]:
        """What the first plan of an answer waits for."""
        if answer.verdict is not Verdict.UNKNOWN or not answer.plans:
            return []
        sources = {c.seat: (c.source, c.lot) for c in answer.plans[0].seats}
        out: list[Measurable] = []
        for missing in answer.open:
            source, lot = sources.get(missing.seat, ("", ""))
            for one in self._measurables(missing, source, lot):
                if source in (KEPT, DONOR):
                    self.lots[_place(one)] = lot or self.bundle.core.tag
                out.append(one)
        return out

    def _measurables(self, missing: Missing, source: str, lot: str) -> Iterator[Measurable]:
        feature = self.features.get(missing.feature)
        if feature is None or "limit" in missing.why or "least wall" in missing.why or "no tolerance" in missing.why:
            yield self._made(missing, feature, "", ())
            return
        found = self._found(missing.seat, lot) if source in (KEPT, DONOR) else None
        if found is None:
            part = self.parts.get(missing.part)
            points, share = self._kind_points(missing, feature)
            made = self._made(missing, feature, "", points, share)
            yield replace(made, label=f"{made.label} of a new {part.number}") if part else made
            return
        readings = [c for c in found.readings if c.feature == missing.feature]
        read = sorted({c.position for c in readings})
        unread = [p for p in self._wall_positions(missing.feature) if p not in read]
        if unread or not readings:
            for position in unread or [""]:
                yield self._made(missing, feature, position, self._unread_points(missing, feature, readings), WIDE)
            return
        for position in read:
            fact = settle(
                (), feature, subject=found.part, used=True, readings=[c for c in readings if c.position == position]
            )
            if fact.status == "disputed":
                yield self._made(missing, feature, position, disputed_points(fact))
            elif fact.low is not None and fact.high is not None and fact.low < fact.high:
                yield self._made(
                    missing, feature, position, interval_points(fact.low, fact.high, fact.quantity), CLOSE
                )

    def _made(
        self, missing: Missing, feature: Feature | None, position: str, points: tuple[Value, ...], share: int = 0
    ) -> Measurable:
        label = f"{in_words(missing.seat)} {feature.label if feature else missing.feature}".strip()
        step = step_of(points, self.sureness.get(missing.feature, 0), share) if share else 0
        return Measurable(
            missing.seat, missing.feature, label, position, missing.part, missing.measure, missing.why, points, step
        )

    def _found(self, seat: str, lot: str) -> FoundPart | None:
        core = self._core(lot)
        return next((f for f in core.found if f.seat == seat), None) if core else None

    def _core(self, lot: str) -> Core | None:
        if lot in ("", self.bundle.core.tag):
            return self.bundle.core
        return next((d for d in self.bundle.donors if d.tag == lot), None)

    def _wall_positions(self, feature: str) -> list[str]:
        def of(operation: Operation) -> tuple[str, ...]:
            return operation.wall_positions if operation.wall_feature == feature else ()

        return sorted({p for o in self.bundle.operations for p in of(o)})

    def _unread_points(self, missing: Missing, feature: Feature, readings: list[Claim]) -> tuple[Value, ...]:
        part = self.parts.get(missing.part)
        own = part.claims if part else ()
        sizes = sizes_of([*readings, *own], feature.name) or sizes_of(self._all_readings(), feature.name)
        if sizes:
            return wide_points((s for s, _ in sizes), sizes[0][1])
        return self._codes(feature)

    def _all_readings(self) -> list[Claim]:
        cores = (self.bundle.core, *self.bundle.donors)
        return [c for core in cores for f in core.found for c in f.readings]

    def _kind_points(self, missing: Missing, feature: Feature) -> tuple[tuple[Value, ...], int]:
        """Of a kind or the engine: rival claims, else what a tolerance leaves open, else what like things have."""
        claims = self.bundle.engine.claims if missing.seat == ENGINE else ()
        part = self.parts.get(missing.part)
        claims = claims or (part.claims if part else ())
        like = [c for p in self.bundle.parts if part is not None and p.kind == part.kind for c in p.claims]
        return kind_points(missing.part, feature, claims, like, lambda: self._codes(feature))

    def _codes(self, feature: Feature) -> tuple[Value, ...]:
        b = self.bundle
        if feature.type not in ("code", "set", "text"):
            return ()
        return codes_of(feature.name, b.engine.claims, b.parts, b.layout, b.accepted, feature.type == "set")

    def with_value(self, bundle: Bundle, one: Measurable, value: Value) -> Bundle:
        """The bundle in which the measurable was found to have this value."""
        lot = self.lots.get(_place(one), "")
        if lot:
            off = self.sureness.get(one.feature, 0) if not _remeasured(one) else 0
            return _with_reading(bundle, lot, one, value, off)
        stated = Claim("supposed", one.part, one.feature, value, "supposed", Rank.DRAWING, NEVER_BEFORE)
        if one.seat == ENGINE:
            kept = tuple(c for c in bundle.engine.claims if c.feature != one.feature)
            return replace(bundle, engine=replace(bundle.engine, claims=(*kept, stated)))
        parts = tuple(
            replace(p, claims=(*(c for c in p.claims if c.feature != one.feature), stated))
            if p.key == one.part
            else p
            for p in bundle.parts
        )
        return replace(bundle, parts=parts)


def _remeasured(one: Measurable) -> bool:
    """Whether it was read before, so that a surer instrument is meant."""
    return "closely enough" in one.why or "disputed" in one.why


def _with_reading(bundle: Bundle, lot: str, one: Measurable, value: Value, off: int) -> Bundle:
    reading = Claim(
        "supposed", one.part, one.feature, value, "supposed", Rank.MEASURED, NEVER_BEFORE, off, position=one.position
    )

    def read(core: Core) -> Core:
        if core.tag != lot:
            return core
        found = tuple(
            replace(
                f,
                readings=(
                    *(c for c in f.readings if (c.feature, c.position) != (one.feature, one.position)),
                    reading,
                ),
            )
            if f.seat == one.seat
            else f
            for f in core.found
        )
        return replace(core, found=found)

    return replace(bundle, core=read(bundle.core), donors=tuple(read(d) for d in bundle.donors))
