"""All facts of one kind of part, unit or engine: each settled when it is first asked for, then kept."""

from collections.abc import Collection, Iterable

from graph.model.claim import Claim
from graph.model.fact import Alternative, Fact
from graph.model.record import Engine, Feature, Part, Unit
from graph.model.verdict import Operand
from graph.rules.facts import settle
from graph.rules.judge import operand_of
from graph.rules.kept import Kept
from graph.rules.spoken import fact_text


class Settled:
    """What its claims come to, feature by feature."""

    __slots__ = ("_claims", "_facts", "_operands", "_texts", "subject")

    def __init__(self, subject: str, claims: Iterable[Claim]) -> None:
        self.subject = subject
        self._claims: dict[str, list[Claim]] = {}
        self._facts: dict[str, Fact] = {}
        self._operands: dict[tuple[str, str], Operand] = {}
        self._texts: dict[str, str] = {}
        for claim in claims:
            self._claims.setdefault(claim.feature, []).append(claim)

    @property
    def features(self) -> Collection[str]:
        """The names of the features that any claim is about."""
        return self._claims

    def fact(self, feature: Feature) -> Fact:
        """What is known of a feature."""
        found = self._facts.get(feature.name)
        if found is None:
            claims = self._claims.get(feature.name, ())
            found = self._facts[feature.name] = settle(claims, feature, subject=self.subject)
        return found

    def text(self, feature: Feature) -> str:
        """What is known of a feature, as a person reads it."""
        found = self._texts.get(feature.name)
        if found is None:
            found = self._texts[feature.name] = fact_text(self.fact(feature))
        return found

    def operand(self, seat: str, feature: Feature) -> Operand:
        """The fact as one side of a rule, the thing sitting in that seat."""
        asked = (seat, feature.name)
        found = self._operands.get(asked)
        if found is None:
            fact = self.fact(feature)
            if len(fact.alternatives) == 1:
                found = _alone(seat, fact, fact.alternatives[0], self.text(feature))
            else:
                found = operand_of(seat, feature.name, self.subject, fact)
            self._operands[asked] = found
        return found


def _alone(seat: str, fact: Fact, only: Alternative, text: str) -> Operand:
    """One side of a rule where one value is known, as of most features; what `operand_of` makes of it."""
    return Operand(
        seat,
        fact.feature,
        fact.subject,
        fact.status,
        only.low,
        only.high,
        fact.quantity,
        only.codes if len(only.codes) < 2 else tuple(sorted(set(only.codes))),
        text,
        only.claims if len(only.claims) < 2 else tuple(sorted(set(only.claims))),
    )


def settled(thing: Part | Unit | Engine, kept: Kept) -> Settled:
    """The facts of a thing; `kept` belongs to the version of the catalogue that the thing is from."""
    found: Settled | None = kept.get(("facts", thing.key))
    return found if found is not None else kept.put(("facts", thing.key), Settled(thing.key, thing.claims))
