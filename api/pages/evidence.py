"""Who says so: the statements behind a verdict, looked up by id when a page shows them."""

from collections.abc import Iterable

from api.pages.wording import told
from api.words import named
from graph.desk import Desk
from graph.desk.showing import RANK_NAMES
from graph.model.claim import Claim
from graph.model.verdict import RuleVerdict
from graph.rules.spoken import as_written


class Evidence:
    """The claims of one desk by id; a subject's claims are read once a page."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._read: dict[str, dict[str, Claim]] = {}

    def lines(self, rule: RuleVerdict) -> list[tuple[str, str]]:
        """Each claim that the rule rests on, with its id: as written, rank, source, reader, instrument, date.

        A conflict is two lines of one fact.
        """
        out: list[tuple[str, str]] = []
        for operand in rule.operands:
            held = self._claims(operand.part)
            for name in operand.claims:
                claim = held.get(name)
                what = f"{named(operand.part) or operand.seat}, {operand.feature.replace('_', ' ')}"
                if claim is None:
                    out.append((f"{what}: {told(operand.shown)}", name))
                    continue
                who = (RANK_NAMES[claim.rank], claim.source, claim.who, claim.instrument, claim.date, claim.note)
                out.append((f"{what}: {as_written(claim.value)} ({', '.join(t for t in who if t)})", name))
        return list(dict.fromkeys(out))

    def _claims(self, key: str) -> dict[str, Claim]:
        if key not in self._read:
            self._read[key] = {claim.id: claim for claim in self._found(key)}
        return self._read[key]

    def _found(self, key: str) -> Iterable[Claim]:
        kind, catalogue = key.partition("/")[0], self._desk.catalogue
        if kind == "part":
            return [claim for part in catalogue.parts([key]) for claim in part.claims]
        if kind == "unit":
            return [claim for unit in catalogue.units([key]) for claim in unit.claims]
        if kind == "engine":
            return catalogue.engine(key).claims
        if kind == "core":
            tag = named(key).split(" ")[0]
            return [claim for found in self._desk.shelf.core(tag).found for claim in found.readings]
        return []
