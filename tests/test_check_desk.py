"""A demo answer as the desk saves it, altered in every consistent way, and judged as the command line does."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from random import Random

import pytest
import tamper

from demo_graph.tours import BUILD, CORE, DAY, ENGINE, demo_store
from graph.desk import Desk, open_desk
from graph.desk.judging import Judgement, judge
from graph.model.bundle import Bundle
from graph.model.claim import Claim
from graph.model.plan import PlanAnswer
from graph.model.record import Part
from graph.model.statement import subject
from graph.model.value import Amount
from graph.model.verdict import Proof
from graph.planning.answer import plan
from graph.planning.check import check
from graph.planning.saved import saved

pytestmark = pytest.mark.slow


def never() -> bool:
    return False


@pytest.fixture(scope="module")
def desk() -> Iterator[Desk]:
    with demo_store() as folder:
        opened = open_desk(folder)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def answer(desk: Desk) -> PlanAnswer:
    """The tour's answer with two plans: boring, sleeving, bought parts, services and used-up parts are in it."""
    return desk.plan(CORE, BUILD, ENGINE, best=2, day=DAY)


def by_store(desk: Desk, answer: PlanAnswer) -> Judgement:
    return judge(saved(answer), [desk.evidence_again], never)


def by_evidence(answer: PlanAnswer) -> Judgement:
    return judge(saved(answer), [], never)


def kind_of(name: str) -> str:
    """What an alteration does, whichever line, step or rule it does it to."""
    words = [w for w in name.split() if not set(w) & set("./0123456789")]
    return " ".join((words[0], *words[2:])) if words[0] == "seat" else " ".join(words)


def test_the_answer_as_it_was_given_is_confirmed(desk: Desk, answer: PlanAnswer) -> None:
    held = by_store(desk, answer)
    assert (held.refusals, held.against) == ((), "store")
    assert by_evidence(answer).stands


def drawn(answer: PlanAnswer) -> list[tuple[str, PlanAnswer]]:
    """One alteration of each kind, drawn from all lines, steps, seats and rules; sums and digests follow."""
    kinds: dict[str, list[tuple[str, PlanAnswer]]] = {}
    for name, altered in tamper.alterations(answer, 3):
        kinds.setdefault(kind_of(name), []).append((name, altered))
    random = Random(3)
    return [random.choice(mine) for _, mine in sorted(kinds.items())]


def test_every_kind_of_alteration_of_the_plan_is_refused(answer: PlanAnswer) -> None:
    altered = drawn(answer)
    assert len(altered) >= 100
    assert answer.bundle is not None
    assert [name for name, wrong in altered if not check(wrong, answer.bundle)] == []


def test_alterations_of_price_size_part_and_operation_are_refused_as_files(desk: Desk, answer: PlanAnswer) -> None:
    """Saved with a right digest and judged against the store; refused by the evidence, which was left as it is."""
    wanted = {
        *("cost line price", "cost line quantity", "seat part", "seat source", "step deeper", "step cost"),
        *("step operation", "step part", "step target", "rule margin", "total cost"),
    }
    altered = [(name, wrong) for name, wrong in drawn(answer) if kind_of(name) in wanted]
    assert len(altered) == len(wanted)
    for name, wrong in altered:
        refusals = by_store(desk, wrong).refusals
        assert refusals, name
        assert not any(r.code.startswith("evidence") for r in refusals), name


def test_a_valid_but_dearer_plan_is_not_proved_cheapest(desk: Desk, answer: PlanAnswer) -> None:
    dearer = answer.plans[1]
    assert dearer.cost > answer.plans[0].cost
    question = replace(answer.question, best=1)
    assert answer.bundle is not None
    evidence = replace(answer.bundle, question=question)
    alone = replace(answer, question=question, bundle=evidence, plans=(dearer,), bound=dearer.cost)
    assert {r.code for r in by_store(desk, alone).refusals} == {"optimality"}
    found = replace(alone, proof=Proof.FOUND, bound=answer.plans[0].cost)
    assert by_store(desk, found).stands


def bought(answer: PlanAnswer) -> str:
    """A part that the first plan buys."""
    return next(c.part for c in answer.plans[0].seats if c.source == "new")


def with_part(bundle: Bundle, key: str, change: Callable[[Part], Part]) -> Bundle:
    assert any(p.key == key for p in bundle.parts)
    return replace(bundle, parts=tuple(change(p) if p.key == key else p for p in bundle.parts))


def cheaper_part(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    def change(part: Part) -> Part:
        assert part.price_new is not None
        return replace(part, price_new=replace(part.price_new, price=part.price_new.price - 100))

    return with_part(bundle, bought(answer), change)


def cheaper_hour(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    return replace(bundle, rates=tuple(replace(r, per_hour=r.per_hour - 100) for r in bundle.rates))


def another_reading(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    """The size of the first cut, read 0.01 mm smaller."""
    step = next(s for s in answer.plans[0].steps if s.before is not None)

    def smaller(claim: Claim) -> Claim:
        if claim.feature != step.feature or not isinstance(claim.value, Amount):
            return claim
        return replace(claim, value=replace(claim.value, amount=claim.value.amount - 100_000))

    found = tuple(
        replace(f, readings=tuple(smaller(c) for c in f.readings)) if f.seat == step.seat else f
        for f in bundle.core.found
    )
    return replace(bundle, core=replace(bundle.core, found=found))


def another_drawing(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    """A bought part whose drawn sizes are held twice as closely."""

    def change(part: Part) -> Part:
        return replace(
            part, claims=tuple(replace(c, tolerance=c.tolerance and c.tolerance // 2) for c in part.claims)
        )

    numbered = [c.part for c in answer.plans[0].seats if c.source == "new"]
    held = {p.key for p in bundle.parts if any(c.tolerance for c in p.claims)}
    return with_part(bundle, next(key for key in numbered if key in held), change)


def another_part_found(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    """The core is said to lack a part that the plan replaces."""
    seat = next(c.seat for c in answer.plans[0].seats if c.source == "new")
    found = tuple(replace(f, state="missing" if f.seat == seat else f.state) for f in bundle.core.found)
    return replace(bundle, core=replace(bundle.core, found=found))


def part_left_out(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    """The part that makes the first plan the first is not offered."""
    return replace(bundle, parts=tuple(p for p in bundle.parts if p.key != bought(answer)))


def donor_left_out(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    assert bundle.donors
    return replace(bundle, donors=bundle.donors[1:])


def quicker_operation(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    name = next(s.operation for s in answer.plans[0].steps if s.before is not None)
    operations = tuple(replace(o, setup=o.setup // 2) if o.name == name else o for o in bundle.operations)
    return replace(bundle, operations=operations)


def operation_left_out(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    chosen = {s.operation for s in answer.plans[0].steps}
    unused = next(o.name for o in bundle.operations if o.name not in chosen and o.effect != "service")
    return replace(bundle, operations=tuple(o for o in bundle.operations if o.name != unused))


def looser_rule(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    rules = tuple(replace(r, max=r.max + 1000) if r.max is not None else r for r in bundle.layout.rules)
    return replace(bundle, layout=replace(bundle.layout, rules=rules))


def demand_left_out(answer: PlanAnswer, bundle: Bundle) -> Bundle:
    return replace(bundle, build=replace(bundle.build, demands=bundle.build.demands[1:]))


@pytest.mark.parametrize(
    ("alter", "where"),
    [
        (cheaper_part, "bundle.parts"),
        (another_drawing, "bundle.parts"),
        (part_left_out, "bundle.parts"),
        (cheaper_hour, "bundle.rates"),
        (another_reading, "bundle.core"),
        (another_part_found, "bundle.core"),
        (donor_left_out, "bundle.donors"),
        (quicker_operation, "bundle.operations"),
        (operation_left_out, "bundle.operations"),
        (looser_rule, "bundle.layout"),
        (demand_left_out, "bundle.build"),
    ],
)
def test_only_the_store_shows_that_the_evidence_was_altered(
    desk: Desk, answer: PlanAnswer, alter: Callable[[PlanAnswer, Bundle], Bundle], where: str
) -> None:
    """The whole answer is worked out anew from altered evidence, so that it agrees with itself in everything."""
    assert answer.bundle is not None
    evidence = replace(answer.bundle, question=replace(answer.question, best=1))
    altered = alter(answer, evidence)
    assert altered != evidence
    wrong = replace(plan(altered), bundle=altered)
    refusals = by_store(desk, wrong).refusals
    assert {r.code for r in refusals} <= {"evidence-altered", "evidence-left-out"}  # nothing of the checker's own
    assert {r.where for r in refusals} == {where}


def test_an_answer_of_another_store_is_held_against_its_evidence_and_says_so(desk: Desk, answer: PlanAnswer) -> None:
    later = replace(answer.snapshot, shelf=answer.snapshot.shelf + 1)
    assert answer.bundle is not None
    foreign = replace(answer, snapshot=later, bundle=replace(answer.bundle, snapshot=later))
    held = by_store(desk, foreign)
    assert (held.stands, held.against) == (True, "evidence")
    assert subject("core", CORE) == foreign.question.core
    assert "not at hand" in held.sentence
