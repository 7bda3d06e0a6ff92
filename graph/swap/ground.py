"""The evidence of one question looked up by name, and what it shares with every question about its layout."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from graph.errors import BadQuestion
from graph.model.fits import FitsEvidence
from graph.model.record import Engine, Feature, Layout, Part, Unit
from graph.rules.judge import Ruling
from graph.rules.kept import Kept
from graph.rules.settled import Settled, settled
from graph.rules.spoken import ENGINE

UNIT = "unit"  # the seat word for claims about the unit as a whole


@dataclass(frozen=True, slots=True)
class Placed:
    """A rule with the seats that it looks at; `operands` have no feature where none of that name is on record."""

    ruling: Ruling
    seats: frozenset[str]
    operands: tuple[tuple[str, str, Feature | None], ...]  # seat, feature, feature's record
    outer: bool  # it looks at the engine


@dataclass(frozen=True, slots=True)
class Ruled:
    """A joint with the rules that decide it."""

    rules: tuple[Placed, ...]
    seats: tuple[str, ...]  # that they look at, each once
    outer: bool  # one of them looks at the engine


@dataclass(frozen=True, slots=True)
class Frame:
    """What a layout, the features and the kinds of part come to: the same for every question about the layout."""

    features: Mapping[str, Feature]
    parents: Mapping[str, str]
    words: Mapping[str, str]
    joined: Mapping[str, str]  # what the joints are called
    free: frozenset[str]  # seats that may be empty
    joints: Mapping[str, Ruled]  # those that have any rule, in the layout's order
    outer: Mapping[str, Ruled]  # those of which a rule looks at the engine
    order: Mapping[str, int]  # of the joints; those that only rules name come after the layout's


@dataclass(frozen=True, slots=True)
class Ground:
    """The evidence, looked up by name."""

    evidence: FitsEvidence
    kept: Kept
    frame: Frame
    seats: Mapping[str, str]  # seat → part key, as asked
    parts: Mapping[str, Part]
    keys: Mapping[str, str]  # what fills a seat, the unit and the engine included
    empty: frozenset[str]
    facts: dict[str, Settled | None]  # by seat, as far as they were asked for

    def settled(self, seat: str) -> Settled | None:
        """The facts of what fills a seat; None: nothing on record does."""
        if seat not in self.facts:
            thing = self._thing(seat)
            self.facts[seat] = settled(thing, self.kept) if thing is not None else None
        return self.facts[seat]

    def _thing(self, seat: str) -> Part | Unit | Engine | None:
        if seat == ENGINE:
            return self.evidence.engine
        return self.evidence.unit if seat == UNIT else self.parts.get(self.seats.get(seat, ""))


def ground_of(evidence: FitsEvidence, kept: Kept) -> Ground:
    """The ground of one question.

    Raises
    ------
    BadQuestion
        A seat that the layout lacks, a seat without a part or the reverse, or an engine or part that the evidence
        does not hold.
    """
    asked, layout = evidence.question, evidence.layout
    parts = {p.key: p for p in evidence.parts}
    if bool(asked.seat) != bool(asked.part):
        raise BadQuestion("a seat and a part are asked together or not at all", fix="name both, or neither")
    if asked.seat and layout.seat(asked.seat) is None:
        raise BadQuestion(f"the layout {layout.name} has no seat {asked.seat!r}", fix="name one of its seats")
    if asked.part and asked.part not in parts:
        raise BadQuestion(f"{asked.part!r} is not in the evidence", fix="publish the part first")
    if asked.engine and evidence.engine is None:
        raise BadQuestion(f"{asked.engine!r} is not in the evidence", fix="publish the engine first")
    seats = {**dict(evidence.unit.parts), **({asked.seat: asked.part} if asked.seat else {})}
    seats = {seat: part for seat, part in seats.items() if part}
    frame = kept.get(("frame", layout.name)) or kept.put(("frame", layout.name), _frame(evidence, layout))
    return Ground(
        evidence=evidence,
        kept=kept,
        frame=frame,
        seats=seats,
        parts=parts,
        keys={**seats, UNIT: evidence.unit.key, ENGINE: evidence.engine.key if evidence.engine else ""},
        empty=frozenset(s.name for s in layout.seats if s.name not in seats),
        facts={},
    )


def _frame(evidence: FitsEvidence, layout: Layout) -> Frame:
    features = {f.name: f for f in evidence.features}
    accepted = {name: frozenset(pairs) for name, pairs in evidence.accepted}
    joined = {j.name: j.label or spoken(j.name) for j in layout.joints}
    # A joint that is called like a feature (`bore`) leaves the word to the feature; its own label is in `joined`.
    words = {
        **joined,
        **{f.name: f.label or spoken(f.name) for f in evidence.features},
        **{s.name: spoken(s.name) for s in layout.seats},
        ENGINE: "engine",
    }
    joints: dict[str, list[Placed]] = {}
    for rule in layout.rules:
        sides = tuple((seat, name, features.get(name)) for seat, name in rule.operands)
        seats = frozenset(rule.seats)
        placed = Placed(Ruling(rule, accepted, words), seats, sides, ENGINE in seats)
        joints.setdefault(rule.joint, []).append(placed)
    ruled = {name: _ruled(rules) for name, rules in joints.items()}
    return Frame(
        features=features,
        parents={k.name: k.parent for k in evidence.kinds},
        words=words,
        joined=joined,
        free=frozenset(s.name for s in layout.seats if s.may_be_empty),
        joints=ruled,
        outer={name: one for name, one in ruled.items() if one.outer},
        order={name: place for place, name in enumerate(dict.fromkeys([*(j.name for j in layout.joints), *joints]))},
    )


def _ruled(rules: Sequence[Placed]) -> Ruled:
    seats = dict.fromkeys(seat for one in rules for seat, _, _ in one.operands)
    return Ruled(tuple(rules), tuple(seats), any(one.outer for one in rules))


def spoken(name: str) -> str:
    """A key as a person says it.

    >>> spoken("compressor_wheel")
    'compressor wheel'
    """
    return name.replace("_", " ").replace("-", " ")
