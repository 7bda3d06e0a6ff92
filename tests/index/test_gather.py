"""Bundles: complete for the question, nothing it cannot use, the same every time. Witness: the rows themselves."""

import pytest
from store_rows import mm, money, part, row

from graph.errors import BadQuestion, NotFound
from graph.index.gather import fits_evidence, plan_bundle
from graph.index.store import Store
from graph.model.bundle import Bundle, PlanQuestion
from graph.model.claim import Rank
from graph.model.codec import from_json, to_json
from graph.model.fits import FitsEvidence, FitsQuestion
from graph.model.statement import Statement
from graph.publish import publish_statements, record

CORE, BUILD, ENGINE = "core/C-1", "build/stage%201", "engine/Brackmoor/B5"
UNIT = "unit/Ostrel/OU%2010"


def bundle(store: Store, *wishes: str, day: str = "2025-06-01") -> Bundle:
    return plan_bundle(*store.snapshot(), PlanQuestion(CORE, BUILD, ENGINE, day=day, wishes=wishes))


def evidence(store: Store, question: FitsQuestion) -> FitsEvidence:
    return fits_evidence(*store.snapshot(), question)


def numbers(made: Bundle | FitsEvidence) -> list[str]:
    return [p.number for p in made.parts]


def publish(store: Store, *rows: Statement) -> None:
    publish_statements(store, rows, author="Ada", time="t")


def test_a_bundle_has_the_parts_of_the_seats_kinds_and_what_is_consumed(shop_store: Store) -> None:
    """OS-950 is a bolt like the consumed OS-900, but no seat takes one and no work uses it up."""
    assert numbers(bundle(shop_store)) == ["OS-100", "OS-101", "OS-200", "OS-201", "OS-300", "OS-900"]


def test_a_bundle_has_the_sets_and_operations_of_its_layout_only(shop_store: Store) -> None:
    made = bundle(shop_store)
    assert [name for name, _ in made.accepted] == ["flanges"]
    assert [o.name for o in made.operations] == ["balance", "bore cover"]
    assert [s.name for s in made.sources] == ["bench", "drawing 7"]


def test_a_core_is_as_its_plate_says_unless_something_else_was_found(shop_store: Store) -> None:
    core = bundle(shop_store).core
    assert [(f.seat, f.part, f.state) for f in core.found] == [
        ("cover", "part/Ostrel/OS-100", "present"),
        ("gasket", "part/Ostrel/OS-300", "present"),
        ("wheel", "part/Ostrel/OS-200", "scrap"),
    ]
    (reading,) = core.found[0].readings
    assert (reading.subject, reading.rank, reading.tolerance) == ("core/C-1/cover", Rank.MEASURED, 100_000)
    assert core.book_value == 8000


def test_a_state_alone_leaves_the_part_of_the_plate(shop_store: Store) -> None:
    record(shop_store, [row("found_parts", tag="C-1", seat="cover", state="cracked")], author="Ada", time="t")
    found = {f.seat: f for f in bundle(shop_store).core.found}
    assert (found["cover"].part, found["cover"].state) == ("part/Ostrel/OS-100", "cracked")
    assert found["cover"].readings != ()


def test_only_cores_that_may_donate_something_usable_are_donors(shop_store: Store) -> None:
    assert [d.tag for d in bundle(shop_store).donors] == ["C-2"]
    assert bundle(shop_store, "no-donor").donors == ()
    gone = [row("found_parts", tag="C-2", seat=seat, state="missing") for seat in ("cover", "wheel")]
    record(shop_store, gone, author="Ada", time="t")
    assert bundle(shop_store).donors == ()


def test_the_core_itself_is_no_donor(shop_store: Store) -> None:
    question = PlanQuestion("core/C-2", BUILD, ENGINE)
    assert plan_bundle(*shop_store.snapshot(), question).donors == ()


def test_without_new_parts_only_found_renewed_and_consumed_ones_are_there(shop_store: Store) -> None:
    publish(shop_store, *part("OS-301", "gasket"), *part("OS-102", "cover"))
    made = bundle(shop_store, "no-new", "no-donor")
    assert numbers(made) == ["OS-100", "OS-200", "OS-300", "OS-301", "OS-900"]


def test_prices_stock_and_supersession_stand_with_the_part(shop_store: Store) -> None:
    parts = {p.number: p for p in bundle(shop_store).parts}
    wheel = parts["OS-201"]
    assert wheel.price_new is not None
    assert wheel.price_used is not None
    assert (wheel.price_new.price, wheel.price_new.lead_days, wheel.price_used.price) == (12050, 4, 6000)
    assert [(s.place, s.quantity) for s in wheel.stock] == [("A3", 1)]
    assert [s.new for s in parts["OS-200"].superseded_by] == ["part/Ostrel/OS-201"]
    assert parts["OS-100"].price_new is None


def test_a_price_of_a_later_day_does_not_count_yet(shop_store: Store) -> None:
    def price(day: str) -> int | None:
        found = shop_store.snapshot()[1].price("part/Ostrel/OS-201", "new", day)
        return found.price if found else None

    later = row("prices", maker="Ostrel", number="OS-201", price=money(13000), currency="EUR", as_of="2026-01-01")
    record(shop_store, [later], author="Ada", time="t")
    assert (price("2024-12-31"), price("2025-06-01"), price("2026-01-01"), price("")) == (None, 12050, 13000, 13000)
    wrong = row("prices", maker="Ostrel", number="OS-201", price=money(1), currency="EUR", as_of="2026-02-01")
    record(shop_store, [wrong], author="Ada", time="t")
    record(shop_store, [later], author="Ada", time="t")  # the correction goes back to the earlier list
    assert price("2026-03-01") == 13000


def test_a_shelf_write_is_in_the_next_bundle_and_leaves_the_catalogue(shop_store: Store) -> None:
    before = bundle(shop_store).snapshot
    record(shop_store, [row("rates", name="shop", per_hour=money(7000), currency="EUR")], author="Ada", time="t")
    after = bundle(shop_store)
    assert [r.per_hour for r in after.rates] == [7000]
    assert (after.snapshot.catalogue, after.snapshot.shelf) == (before.catalogue, before.shelf + 1)


def test_a_question_can_be_asked_again_as_of_then(shop_store: Store) -> None:
    question = PlanQuestion(CORE, BUILD, ENGINE, day="2025-06-01")
    then = plan_bundle(*shop_store.snapshot(), question)
    for size in range(5):  # more versions than index files are kept
        publish(shop_store, row("values", maker="Ostrel", number="OS-100", feature="bore", value=mm(50 + size)),
                row("rates", name="shop", per_hour=money(100 + size), currency="EUR"))  # fmt: skip
    assert plan_bundle(*shop_store.snapshot(), question) != then
    assert plan_bundle(*shop_store.as_of(1), question) == then


def test_a_bundle_survives_its_own_json(shop_store: Store) -> None:
    made = bundle(shop_store)
    assert from_json(Bundle, to_json(made)) == made


def test_what_is_not_there_is_not_found(shop_store: Store) -> None:
    for core, build, engine in (("core/X", BUILD, ENGINE), (CORE, "build/X", ENGINE), (CORE, BUILD, "engine/a/X")):
        with pytest.raises(NotFound):
            plan_bundle(*shop_store.snapshot(), PlanQuestion(core, build, engine))


def test_fits_evidence_has_the_originals_and_all_their_parts(shop_store: Store) -> None:
    made = evidence(shop_store, FitsQuestion("unit/Ostrel/OU%2011", ENGINE))
    assert [u.key for u in made.originals] == [UNIT]
    assert numbers(made) == ["OS-100", "OS-101", "OS-200", "OS-201", "OS-300"]
    assert [(s.old, s.new) for s in made.supersessions] == [("part/Ostrel/OS-200", "part/Ostrel/OS-201")]
    assert len(made.interchanges) == 1
    assert from_json(FitsEvidence, to_json(made)) == made


def test_the_mend_of_a_unit_has_its_own_parts_and_no_donor(shop_store: Store) -> None:
    mend = evidence(shop_store, FitsQuestion(UNIT, ENGINE)).mend
    assert mend is not None
    assert (mend.core.key, mend.core.own, mend.donors, mend.build.demands) == (UNIT, True, (), ())
    assert [(f.seat, f.part, f.state) for f in mend.core.found] == [
        (seat, f"part/Ostrel/{name}", "present")
        for seat, name in (("cover", "OS-100"), ("gasket", "OS-300"), ("wheel", "OS-200"))
    ]
    assert numbers(mend) == ["OS-100", "OS-200", "OS-300", "OS-900"]
    assert mend.question.wishes == ("no-donor", "no-new")
    assert not any(f.wears for f in mend.features)


def test_an_asked_part_takes_its_seat_in_the_mend(shop_store: Store) -> None:
    asked = FitsQuestion(UNIT, seat="wheel", part="part/Ostrel/OS-201")
    made = evidence(shop_store, asked)
    assert "OS-201" in numbers(made)
    assert made.mend is not None
    assert {f.seat: f.part for f in made.mend.core.found}["wheel"] == "part/Ostrel/OS-201"
    assert [j.name for j in made.mend.layout.joints] == ["contour"]  # no engine was named
    assert [j.name for j in made.layout.joints] == ["contour", "outlet"]


def test_a_seat_that_the_layout_lacks_is_a_bad_question(shop_store: Store) -> None:
    with pytest.raises(BadQuestion):
        evidence(shop_store, FitsQuestion(UNIT, seat="nozzle", part="part/Ostrel/OS-201"))
    with pytest.raises(BadQuestion):
        evidence(shop_store, FitsQuestion(UNIT, seat="wheel"))


def test_a_bundle_takes_few_queries_however_many_parts_there_are(
    shop_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    from graph.index.file import IndexFile

    asked = 0
    real = IndexFile.ask

    def counted(self: IndexFile, query: str, names: tuple[object, ...] = ()) -> object:
        nonlocal asked
        asked += 1
        return real(self, query, names)

    monkeypatch.setattr(IndexFile, "ask", counted)
    counts = []
    for first in (1000, 1100):
        publish(shop_store, *(s for i in range(100) for s in part(f"N-{first + i}", "cover", bore=mm(i + 1))))
        asked = 0
        bundle(shop_store)
        counts.append(asked)
    assert counts[0] == counts[1] < 40
