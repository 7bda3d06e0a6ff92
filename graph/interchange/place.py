"""A seat of a layout with the rules that touch it, and whether one part may take another's place there."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from graph.interchange.follows import Ends, Side, compared, duty, ends, side, spread, weighed
from graph.interchange.mend import Mend, code_mend, cut_mend
from graph.model.claim import Claim
from graph.model.fact import Fact
from graph.model.interchange import Derived, Keeps, RuleKept
from graph.model.record import Feature, Kind, Layout, Operation, Part, Rule, Seat
from graph.model.verdict import Missing, Verdict
from graph.rules.decide import CODES, Pairs, flaw, set_name, signs, window
from graph.rules.facts import settle
from graph.rules.judge import Accepted, how_to_settle
from graph.rules.spoken import fact_text, in_words

SETS = ("accepted", "control")
"""The rules that may be kept with several codes, so that keeping one with another is worth a word."""


@dataclass(frozen=True, slots=True)
class Touch:
    """A rule with the places of its operands that are this seat's, and the features there."""

    rule: Rule
    own: tuple[int, ...]
    features: tuple[str, ...]
    pairs: Pairs
    sets: bool  # whether the partner may have several codes at once
    low: bool  # whether the window bounds the signed sum from below
    high: bool
    wide: int | None

    def side(self, facts: Sequence[Fact]) -> Side:
        """What these facts of a part bring to the rule."""
        return side(self.rule, self.own, facts, self.pairs)

    def compared(self, first: Side, second: Side) -> Keeps:
        """Whether the second side keeps the rule wherever the first one does."""
        return compared(first, second, low=self.low, high=self.high, wide=self.wide, sets=self.sets)

    @property
    def alone(self) -> bool:
        """Whether the rule looks at nothing but this seat."""
        return len(self.own) == len(self.rule.operands)

    def bounds(self) -> tuple[bool, bool]:
        """For a rule with one operand here: whether its window bounds the size from below, and from above."""
        return (self.low, self.high) if signs(self.rule)[self.own[0]] > 0 else (self.high, self.low)


@dataclass(frozen=True, slots=True)
class Sitting:
    """A part as a seat sees it: its side of each rule, and of each duty feature that is stated or looked at.

    Parts with equal sittings are the same to the seat.
    """

    sides: tuple[Side, ...]
    duties: tuple[tuple[str, Side], ...]


class Facts:
    """What is known of one part, settled when it is first asked for."""

    __slots__ = ("_features", "_settled", "key", "stated")

    def __init__(self, part: Part, features: Mapping[str, Feature]) -> None:
        self.key = part.key
        self.stated: dict[str, list[Claim]] = {}
        for claim in part.claims:
            self.stated.setdefault(claim.feature, []).append(claim)
        self._features = features
        self._settled: dict[str, Fact] = {}

    def of(self, feature: str) -> Fact:
        """One feature of it, new."""
        if feature not in self._settled:
            known = self._features.get(feature) or Feature(feature, feature, "text")
            self._settled[feature] = settle(self.stated.get(feature, ()), known, subject=self.key)
        return self._settled[feature]


class Place:
    """One seat. `fact` settles a part's features once and keeps them.

    `later`: of a number that its maker superseded for good, the numbers that took its place.
    """

    def __init__(
        self,
        layout: Layout,
        seat: Seat,
        *,
        features: Iterable[Feature],
        accepted: Accepted,
        kinds: Iterable[Kind] = (),
        operations: Iterable[Operation] = (),
    ) -> None:
        self.later: Mapping[str, frozenset[str]] = {}
        self.layout = layout
        self.seat = seat
        self.features = {f.name: f for f in features}
        self.words = {name: f.label for name, f in self.features.items()}
        self.joints = {j.name: j.label for j in layout.joints if j.label}
        self._parents = {k.name: k.parent for k in kinds}
        self.operations = tuple(o for o in operations if o.kind)
        self.touches = tuple(self._touch(rule, accepted) for rule in layout.rules if seat.name in rule.seats)
        self.looked_at = tuple(dict.fromkeys(f for t in self.touches for f in t.features))
        self.duty = tuple(f.name for f in self.features.values() if f.duty)
        self._known: dict[str, Facts] = {}

    def _touch(self, rule: Rule, accepted: Accepted) -> Touch:
        own = tuple(i for i, (seat, _) in enumerate(rule.operands) if seat == self.seat.name)
        pairs = accepted.get(set_name(rule), frozenset()) if rule.type in SETS else frozenset()
        others = [f for seat, f in rule.operands if seat != self.seat.name]
        kinds = {self.features[f].type if f in self.features else "text" for f in others}
        looked_at = tuple(rule.operands[i][1] for i in own)
        low, high = (end is not None for end in window(rule))
        return Touch(rule, own, looked_at, pairs, kinds != {"code"}, low, high, spread(rule))

    def lineage(self, kind: str) -> tuple[str, ...]:
        """The kind and those above it."""
        out: list[str] = []
        while kind and kind not in out:
            out.append(kind)
            kind = self._parents.get(kind, "")
        return tuple(out)

    def takes(self, part: Part) -> bool:
        """Whether a part of this kind goes into the seat at all."""
        return self.seat.kind in self.lineage(part.kind)

    def facts(self, part: Part) -> Facts:
        """What is known of a part, to be kept by the caller if at all."""
        return Facts(part, self.features)

    def fact(self, part: Part, feature: str) -> Fact:
        """A feature of a new part."""
        return self._of(part).of(feature)

    def _of(self, part: Part) -> Facts:
        if part.key not in self._known:
            self._known[part.key] = self.facts(part)
        return self._known[part.key]

    def duties(self, *parts: Facts) -> tuple[str, ...]:
        """The duty features that a rule here looks at or one of the parts states."""
        return tuple(f for f in self.duty if f in self.looked_at or any(f in part.stated for part in parts))

    def operations_for(self, part: Part) -> tuple[Operation, ...]:
        """What the shop can do to a part of this kind."""
        return self.works_on(part.kind)

    def works_on(self, kind: str) -> tuple[Operation, ...]:
        """What the shop can do to parts of a kind."""
        line = self.lineage(kind)
        return tuple(o for o in self.operations if o.kind in line)

    def given_up(self, first: str, second: str) -> bool:
        """Whether the maker gave up the second number for the first, and does not say that the way back is open."""
        return first in self.later.get(second, ())

    def fixed(self) -> tuple[Touch, ...]:
        """The rules of which no work on record changes a feature."""
        changed = {o.feature for o in self.operations}
        return tuple(t for t in self.touches if changed.isdisjoint(t.features))

    def sitting(self, facts: Facts, touches: Sequence[Touch]) -> Sitting:
        """A part as these rules of the seat and the duties see it."""
        return Sitting(
            tuple(touch.side([facts.of(f) for f in touch.features]) for touch in touches),
            tuple((f, duty(facts.of(f))) for f in self.duties(facts)),
        )

    def follows(self, first: Sitting, second: Sitting, touches: Sequence[Touch]) -> bool:
        """Whether the second keeps all of these rules that the first keeps, and is no worse; both as they see it."""
        # A duty that only one of them states is not known of the other.
        return (
            all(
                touch.compared(ours, theirs) is Keeps.KEPT
                for touch, ours, theirs in zip(touches, first.sides, second.sides, strict=True)
            )
            and [name for name, _ in first.duties] == [name for name, _ in second.duties]
            and all(
                weighed(self.features[name].better or "same", ours, theirs) is Keeps.KEPT
                for (name, ours), (_, theirs) in zip(first.duties, second.duties, strict=True)
            )
        )

    def admitted(self, facts: Facts) -> tuple[str, ...]:
        """What a part shows to each rule of a set that admits several codes."""
        return tuple(fact_text(facts.of(t.features[0])) for t in self.touches if t.rule.type in SETS)

    def conditions(self, first: Sequence[str], second: Sequence[str]) -> tuple[str, ...]:
        """The conditions of a sure edge, from what both show as `admitted` says it."""
        touches = [t for t in self.touches if t.rule.type in SETS]
        said = (self._condition(t, there, here) for t, there, here in zip(touches, first, second, strict=True))
        return tuple(dict.fromkeys(one for one in said if one))

    def _condition(self, touch: Touch, there: str, here: str) -> str:
        if there == here:
            return ""
        called = self.words.get(touch.features[0], touch.features[0])
        return f"{called}: {here} instead of {there}, which may stay so"

    def decide(self, first: Part, second: Part, *, told: bool = True) -> Derived:
        """Whether the second part may take the first one's place in this seat, with every reason.

        Without `told` the rules' texts and what is missing stay empty, which costs a third: verdict and conditions
        are all that is wanted of very many pairs.
        """
        if not self.takes(second) or not self.takes(first):
            stranger = second if not self.takes(second) else first
            text = f"a {in_words(stranger.kind)} does not go into a seat for a {in_words(self.seat.kind)}"
            said = RuleKept("", "kind", Keeps.BROKEN, text)
            return Derived(self.layout.name, self.seat.name, first.key, second.key, Verdict.NO, (), (said,))
        rules = [self._rule(touch, first, second, told=told) for touch in self.touches]
        rules = self._mended(rules, first, second)
        duties = self.duties(self._of(first), self._of(second))
        rules += [self._duty(feature, first, second, told=told) for feature in duties]
        if self.given_up(first.key, second.key):
            rules.append(_gone_back(self.seat.name, first, second))
        found = {r.keeps for r in rules}
        conditions = tuple(dict.fromkeys(r.condition for r in rules if r.condition))
        if Keeps.BROKEN in found:
            verdict, conditions = Verdict.NO, ()
        elif found & {Keeps.UNKNOWN, Keeps.IDLE} or not self.touches:
            verdict = Verdict.UNKNOWN
        else:
            verdict = Verdict.WITH_WORK if Keeps.MENDED in found else Verdict.YES
        missing = {(m.part, m.feature): m for r in rules for m in r.missing}
        return Derived(
            self.layout.name,
            self.seat.name,
            first.key,
            second.key,
            verdict,
            conditions,
            tuple(rules),
            tuple(missing.values()) if verdict is Verdict.UNKNOWN else (),
        )

    def _rule(self, touch: Touch, first: Part, second: Part, *, told: bool) -> RuleKept:
        rule = touch.rule
        ours = [self.fact(first, f) for f in touch.features]
        theirs = [self.fact(second, f) for f in touch.features]
        said = touch.compared(touch.side(ours), touch.side(theirs))
        condition = ""
        if said is Keeps.KEPT and rule.type in SETS:
            condition = self._condition(touch, fact_text(ours[0]), fact_text(theirs[0]))
        if not told:
            return RuleKept(rule.joint, rule.name, said, "", condition)
        missing: tuple[Missing, ...] = ()
        if said is Keeps.UNKNOWN:
            missing = self._missing(rule, touch.features, (first, ours), (second, theirs))
        return RuleKept(rule.joint, rule.name, said, self._text(touch, ours, theirs, said), condition, missing)

    def _text(self, touch: Touch, ours: Sequence[Fact], theirs: Sequence[Fact], said: Keeps) -> str:
        called = ", ".join(dict.fromkeys(self.words.get(f, f) for f in touch.features))
        joint = self.joints.get(touch.rule.joint, touch.rule.joint)
        there, here = " and ".join(map(fact_text, ours)), " and ".join(map(fact_text, theirs))
        lead = f"{called} ({joint})"
        why = flaw(touch.rule, touch.pairs)
        if why:
            return f"{lead}: {why}"
        if said is Keeps.IDLE:
            return f"{lead}: {there} keeps this rule with nothing, so nothing follows from it"
        if said is Keeps.KEPT:
            return f"{lead}: {here} suits all that {there} suits"
        if said is Keeps.BROKEN:
            return f"{lead}: {here} does not suit all that {there} suits"
        return f"{lead}: {here} against {there}; not known closely enough"

    def _duty(self, feature: str, first: Part, second: Part, *, told: bool) -> RuleKept:
        ours, theirs = self.fact(first, feature), self.fact(second, feature)
        better = self.features[feature].better or "same"
        said = weighed(better, duty(ours), duty(theirs))
        if not told:
            return RuleKept("", feature, said, "")
        called = self.words.get(feature, feature)
        word = {Keeps.KEPT: "is no worse than", Keeps.BROKEN: "is worse than"}.get(said, "against")
        if better == "same" and said in (Keeps.KEPT, Keeps.BROKEN):
            word = "is the same as" if said is Keeps.KEPT else "is another than"
        tail = "; not known closely enough" if said is Keeps.UNKNOWN else ""
        text = f"{called}: {fact_text(theirs)} {word} {fact_text(ours)}{tail}"
        missing: tuple[Missing, ...] = ()
        if said is Keeps.UNKNOWN:
            missing = self._missing(None, (feature,), (first, [ours]), (second, [theirs]))
        return RuleKept("", feature, said, text, "", missing)

    def _missing(
        self, rule: Rule | None, features: Sequence[str], *sides: tuple[Part, Sequence[Fact]]
    ) -> tuple[Missing, ...]:
        out = []
        for part, facts in sides:
            for feature, fact in zip(features, facts, strict=True):
                why = fact.why or ("" if fact.settles and _unsettled(sides) else "not known closely enough")
                if why:
                    measure = (rule.measure if rule else "") or how_to_settle(
                        self.seat.name, self.features.get(feature), feature, {}
                    )
                    out.append(Missing(self.seat.name, feature, part.key, why, measure))
        return tuple(out)

    def _mended(self, rules: list[RuleKept], first: Part, second: Part) -> list[RuleKept]:
        """The rules once the second part is machined: those that its cuts and code work can bring it to keep."""
        open_ = [i for i, r in enumerate(rules) if r.keeps in (Keeps.BROKEN, Keeps.UNKNOWN)]
        if not open_:
            return rules
        out = list(rules)
        for feature in dict.fromkeys(f for i in open_ for f in self.touches[i].features):
            concerned = [i for i, t in enumerate(self.touches) if feature in t.features]
            if any(len(self.touches[i].own) > 1 or self.touches[i].alone for i in concerned):
                continue
            if self.features.get(feature) is not None and self.features[feature].duty:
                continue
            mend = self._mend(feature, [self.touches[i] for i in concerned], first, second)
            if mend is None:
                continue
            for i in concerned:
                if mend.missing:
                    if rules[i].keeps is Keeps.BROKEN:
                        out[i] = RuleKept(rules[i].joint, rules[i].rule, Keeps.UNKNOWN, mend.text, "", mend.missing)
                elif rules[i].keeps is Keeps.KEPT:
                    out[i] = replace(rules[i], condition="")  # what it was kept with is machined away
                else:
                    out[i] = RuleKept(rules[i].joint, rules[i].rule, Keeps.MENDED, mend.text, mend.text)
        return out

    def _mend(self, feature: str, touches: Sequence[Touch], first: Part, second: Part) -> Mend | None:
        ours, theirs = self.fact(first, feature), self.fact(second, feature)
        if not ours.settles or not theirs.settles:
            return None
        offered = [o for o in self.operations_for(second) if o.feature == feature]
        if all(t.rule.type in CODES for t in touches) and theirs.low is None and ours.low is None:
            return code_mend(
                [(t.rule, t.own, t.pairs, t.sets) for t in touches],
                ours,
                theirs,
                offered,
                self.operations_for(second),
            )
        if ours.low is None or theirs.low is None or ours.quantity != theirs.quantity:
            return None
        low = [t for t in touches if t.bounds()[0]]
        high = [t for t in touches if t.bounds()[1]]
        wide: int | None = None
        if low and high:
            sole = low[0] if len(touches) == 1 else None
            both: Ends = ends(ours)
            wide = spread(sole.rule) if sole is not None else both[1] - both[0]
        partners = dict.fromkeys(s for t in touches for s in t.rule.seats if s != self.seat.name)
        return cut_mend(
            ours,
            theirs,
            offered,
            low=bool(low),
            high=bool(high),
            wide=wide,
            part=second,
            fact=lambda name: self.fact(second, name),
            suit=", ".join(s.replace("-", " ") for s in partners),
            seat=self.seat.name,
            words=self.words,
            mates=self.operations_for(second),
        )


def _gone_back(seat: str, first: Part, second: Part) -> RuleKept:
    """An older number in place of the one that superseded it: why the maker gave it up is in no feature."""
    newer, older = f"{first.maker} {first.number}", f"{second.maker} {second.number}"
    why = f"{newer} superseded {older}, one way"
    measure = f"ask {first.maker} why {older} was given up, and whether it still serves"
    missing = Missing(seat, "supersession", second.key, why, measure)
    return RuleKept(
        "", "supersession", Keeps.UNKNOWN, f"{why}: that the older one will do, nobody says", "", (missing,)
    )


def _unsettled(sides: Sequence[tuple[Part, Sequence[Fact]]]) -> bool:
    """Whether some fact settles nothing."""
    return any(not fact.settles for _, facts in sides for fact in facts)
