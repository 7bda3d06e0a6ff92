"""What the index gives back, against the rows that went in."""

import contextlib
import threading
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from store_rows import code, minutes, mm, money, part, row, shop

from graph.errors import BadPartNumber, NotFound
from graph.identifiers import spelling
from graph.index.catalogue import Catalogue
from graph.index.compile import compile_all, content_digest
from graph.index.store import Store
from graph.ledger.draft import Retraction
from graph.model.claim import Rank
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement, subject
from graph.model.value import Amount
from graph.publish import publish_statements


def open_(store: Store) -> Catalogue:
    return store.snapshot()[0]


def publish(store: Store, *changes: Statement | Retraction) -> Catalogue:
    publish_statements(store, changes, author="Ada", time="t")
    return open_(store)


def test_every_catalogue_row_is_in_the_index_once(shop_store: Store) -> None:
    rows = [s for s in shop() if BY_NAME[s.sheet].clock == "catalogue"]
    assert sorted(s.id for s in open_(shop_store).statements()) == sorted(s.id for s in rows)


@pytest.mark.parametrize("sheet", sorted(name for name, sheet in BY_NAME.items() if sheet.clock == "catalogue"))
def test_a_sheet_comes_back_as_it_was_read(shop_store: Store, sheet: str) -> None:
    found = sorted(open_(shop_store).sheet(sheet), key=lambda s: s.id)
    assert found == sorted((s for s in shop() if s.sheet == sheet), key=lambda s: s.id)


def test_a_part_has_its_claims_with_the_rank_of_their_source(shop_store: Store) -> None:
    wheel = open_(shop_store).part("part/Ostrel/OS-201")
    assert [(c.source, c.rank, c.value.text, c.tolerance) for c in wheel.claims] == [
        ("drawing 7", Rank.DRAWING, "57.5", None),
        ("bench", Rank.SHOP, "57.4", 500_000),  # 0.05 mm in quanta of 100 pm
    ]
    assert {c.subject for c in wheel.claims} == {"part/Ostrel/OS-201"}


def test_the_rank_of_a_row_beats_that_of_its_source(store: Store) -> None:
    heard = row("values", "drawing 7", rank="heard", maker="Ostrel", number="OS-100", feature="bore", value=mm(1))
    catalogue = publish(store, *shop(), heard)
    ranks = {c.id: c.rank for c in catalogue.part("part/Ostrel/OS-100").claims}
    assert ranks[heard.id] is Rank.HEARD


def test_a_claim_of_nobody_counts_as_the_shops_own(shop_store: Store) -> None:
    (claim,) = open_(shop_store).unit("unit/Ostrel/OU%2010").claims
    assert (claim.source, claim.rank) == ("", Rank.SHOP)


def test_limits_and_weaknesses_are_found_by_the_number(shop_store: Store) -> None:
    catalogue = open_(shop_store)
    (limit,) = catalogue.part("part/Ostrel/OS-100").limits
    assert (limit.feature, limit.condition, limit.min, limit.max) == ("bore", "used", None, 600_000_000)
    assert catalogue.limits("part/Ostrel/OS-100") == (limit,)
    (weakness,) = catalogue.weaknesses("part/Ostrel/OS-100")
    assert (weakness.seen, weakness.of) == (3, 20)


def test_a_limit_without_a_maker_counts_only_where_the_number_is_one_things(store: Store) -> None:
    limit = row("limits", unit_or_part="OS-100", feature="bore", min=mm(1))
    catalogue = publish(store, *part("OS-100", "cover"), limit)
    assert [one.said for one in catalogue.part("part/Ostrel/OS-100").limits] == [limit.id]
    catalogue = publish(store, row("parts", maker="Quenby", number="OS-100", kind="cover"))
    assert catalogue.part("part/Ostrel/OS-100").limits == ()
    assert catalogue.part("part/Quenby/OS-100").limits == ()


def test_a_layout_has_its_seats_joints_and_rules(shop_store: Store) -> None:
    layout = open_(shop_store).layout("plain")
    assert [(s.name, s.kind, s.quantity, s.may_be_empty) for s in layout.seats] == [
        ("cover", "cover", 1, False),
        ("gasket", "gasket", 2, True),
        ("wheel", "wheel", 1, False),
    ]
    assert layout.seats[0].strip_time == 600_000
    gap = next(r for r in layout.rules if r.name == "gap")
    assert (gap.left, gap.right) == (("cover", "bore"), (("wheel", "exducer"),))
    assert (gap.min, gap.max, gap.safety) == (4_000_000, 8_000_000, True)
    assert [j.seats for j in layout.joints] == [("cover", "wheel"), ("cover", "engine")]


def test_a_rule_without_a_set_uses_the_set_of_its_own_name(store: Store) -> None:
    rule = row("rules", layout="l", joint="j", rule="flanges", type="accepted", left="a.b", right=["c.d"])
    layout = publish(store, row("layouts", layout="l", seat="a", kind="k"), rule).layout("l")
    assert layout.rules[0].set == "flanges"


def test_accepted_pairs_stand_in_one_spelling(store: Store) -> None:
    catalogue = publish(store, row("accepted", set="s", left_value="Four-Stud  A", right_value="M12 × 1"))
    assert catalogue.accepted == (("s", (("four-stud a", "m12 x 1"),)),)


def test_an_operation_has_its_times_in_ms(shop_store: Store) -> None:
    bore = next(o for o in open_(shop_store).all_operations if o.name == "bore cover")
    assert (bore.setup, bore.time, bore.time_per_mm) == (1_800_000, 1_200_000, 300_000)
    assert (bore.rate, bore.wall_share, bore.follows) == ("shop", "full", ("balance",))


def test_a_kind_takes_the_operations_of_the_kinds_above_it(store: Store) -> None:
    turn = row("operations", operation="turn", label="t", kind="wheel", effect="service", setup_minutes=minutes(1),
               minutes=minutes(1))  # fmt: skip
    catalogue = publish(store, *shop(), turn)
    assert {o.name for o in catalogue.operations(["compressor wheel"])} == {"turn", "balance"}
    assert catalogue.kinds_below(["wheel"]) == ("compressor wheel", "wheel")


def test_a_build_has_its_demands(shop_store: Store) -> None:
    build = open_(shop_store).build("build/stage%201")
    assert [(d.seat, d.feature, d.type) for d in build.demands] == [
        ("cover", "", "keep"),
        ("wheel", "exducer", "at_least"),
    ]
    assert build.demands[1].value == Amount(570_000_000, "length", "57", "mm")
    assert build.engine == "engine/Brackmoor/B5"


def test_fitments_are_found_by_engine_unit_and_machine(shop_store: Store) -> None:
    catalogue = open_(shop_store)
    by_engine = catalogue.fitments(engine="engine/Brackmoor/B5")
    assert [(f.machine, f.year_to) for f in by_engine] == [("F1", "2012.5")]
    assert catalogue.fitments(unit="unit/Ostrel/OU%2010") == by_engine
    assert catalogue.fitments(machine="machine/Tarnholt/F1") == by_engine


def test_where_a_part_is_used(shop_store: Store) -> None:
    catalogue = open_(shop_store)
    uses = [(u.sheet, u.by, u.seat, u.quantity) for u in catalogue.where_used("part/Ostrel/OS-300")]
    assert uses == [("kits", "part/Ostrel/OS-950", "", 2), ("unit_seats", "unit/Ostrel/OU%2010", "gasket", 1)]
    assert [u.by for u in catalogue.where_used("part/Ostrel/OS-900")] == ["bore cover"]


def test_supersession_and_interchange_are_seen_from_both_ends(shop_store: Store) -> None:
    catalogue = open_(shop_store)
    old, new = "part/Ostrel/OS-200", "part/Ostrel/OS-201"
    assert catalogue.supersessions(old) == catalogue.supersessions(new)
    assert [(s.old, s.new) for s in catalogue.supersessions(old)] == [(old, new)]
    assert catalogue.interchange("part/Ostrel/OS-100") == catalogue.interchange("part/Ostrel/OS-101") != ()


def test_what_is_not_there_is_an_error_with_its_name(shop_store: Store) -> None:
    catalogue = open_(shop_store)
    for ask in (catalogue.part, catalogue.unit, catalogue.engine, catalogue.layout, catalogue.build):
        with pytest.raises(NotFound, match="nothing-here"):
            ask("nothing-here")


def test_a_part_that_is_only_named_is_not_a_part(store: Store) -> None:
    named = row("unit_seats", maker="Ostrel", unit="U", seat="s", part_maker="Ostrel", part_number="X 1")
    catalogue = publish(store, named)
    with pytest.raises(NotFound):
        catalogue.part("part/Ostrel/X%201")
    assert catalogue.numbers("parts", "part", "X1") == []


@pytest.mark.parametrize(
    ("text", "how", "name"),
    [("OS-100", "written", "OS-100"), ("os 1-0.0", "spelled", "OS-100"), ("os10", "begins", "OS-100"),
     ("S-10", "contains", "OS-100"), ("compressor wheel", "contains", "OS-200"), ("gasket", "contains", "OS-300")],
)  # fmt: skip
def test_a_part_is_found_by_what_is_typed(shop_store: Store, text: str, how: str, name: str) -> None:
    first = open_(shop_store).find_parts(text)[0]
    assert (first.how, first.name) == (how, name)


def test_a_look_alike_letter_is_refused_when_nothing_is_found(shop_store: Store) -> None:
    with pytest.raises(BadPartNumber):
        open_(shop_store).find_parts("ОS-100")  # a Cyrillic O


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=st.text(st.characters(), max_size=12))
@example(text="00\0")
@example(text="\ud800 abc")
def test_no_text_breaks_the_search(shop_store: Store, text: str) -> None:
    with contextlib.suppress(BadPartNumber):
        open_(shop_store).find_parts(text)


def test_things_are_found_by_what_is_said_of_them(shop_store: Store) -> None:
    catalogue = open_(shop_store)
    assert catalogue.saying([("exducer", 570_000_000, 580_000_000)]) == ("part/Ostrel/OS-201",)
    assert catalogue.saying([("flange", "a4", "a4")]) == (
        "engine/Brackmoor/B5", "part/Ostrel/OS-100", "part/Ostrel/OS-101", "unit/Ostrel/OU%2010",
    )  # fmt: skip


def test_many_threads_read_one_catalogue(shop_store: Store) -> None:
    catalogue = open_(shop_store)
    expected = catalogue.part("part/Ostrel/OS-201")
    wrong: list[object] = []

    def work() -> None:
        for _ in range(50):
            found = catalogue.part("part/Ostrel/OS-201")
            if found != expected:
                wrong.append(found)

    threads = [threading.Thread(target=work) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


def test_equal_content_has_one_id_whatever_the_way(store: Store, shop_store: Store) -> None:
    first = open_(shop_store).id
    extra = row("kinds", kind="seal", label="seal")
    assert publish(shop_store, extra).id != first
    assert publish(shop_store, Retraction(extra.id)).id == first


NUMBERS = st.sampled_from(["A 1", "A-1", "B2"])
ROWS = st.one_of(
    st.builds(lambda n, k, t: row("parts", maker="Ostrel", number=n, kind=k, label=t), NUMBERS,
              st.sampled_from(["cover", "wheel"]), st.sampled_from(["x label", "y label"])),
    st.builds(lambda n, v: row("values", maker="Ostrel", number=n, feature="bore", value=mm(v)), NUMBERS,
              st.integers(1, 3)),
    st.builds(lambda n, v: row("values", maker="Ostrel", number=n, feature="flange",
                               value={"codes": ["a", v], "text": f"a|{v}"}), NUMBERS, st.sampled_from("bc")),
    st.builds(lambda n, m: row("supersession", maker="Ostrel", old=n, new=m), NUMBERS, NUMBERS),
    st.builds(lambda n: row("unit_seats", maker="Ostrel", unit="U", seat="s", part_maker="Ostrel", part_number=n),
              NUMBERS),
    st.builds(lambda n: row("limits", unit_or_part=n, feature="bore", max=mm(1)), NUMBERS),
    st.builds(lambda n: row("kinds", kind="cover", label=str(n)), st.integers(1, 3)),
    st.builds(lambda n: row("rates", name="shop", per_hour=money(n), currency="EUR"), st.integers(1, 3)),
)  # fmt: skip


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.lists(ROWS, max_size=6), st.integers(0, 5)), min_size=2, max_size=5))
def test_a_file_that_was_patched_holds_what_a_full_compile_holds(
    tmp_path_factory: pytest.TempPathFactory, sets: list[tuple[list[Statement], int]]
) -> None:
    store = Store.create(tmp_path_factory.mktemp("s") / "store")
    said: list[Statement] = []
    for rows, back in sets:
        taken = [Retraction(s.id) for s in said[:back]]
        publish(store, *taken, *rows)
        said += rows
        catalogue = open_(store)
        again = store.folder / "again.sqlite"
        with store.ledger.reading() as reading:
            compile_all(again, catalogue.index.state, reading.contents(reading.head().n))
        assert content_digest(again) == content_digest(catalogue.index.place)
        for spelled in {spelling(s.fields["number"]) for s in said if s.sheet == "parts"}:
            fresh = Catalogue.open(again)
            assert fresh.find_parts(spelled) == catalogue.find_parts(spelled)
            assert fresh.find_parts("label") == catalogue.find_parts("label")
    store.close()


def test_the_digest_of_a_file_sees_one_changed_claim(store: Store) -> None:
    one = publish(store, *shop())
    digest = content_digest(one.index.place)
    two = publish(store, row("values", maker="Ostrel", number="OS-100", feature="flange", value=code("b")))
    assert content_digest(two.index.place) != digest


def test_keys_are_those_of_the_statements(shop_store: Store) -> None:
    catalogue = open_(shop_store)
    assert catalogue.part(subject("part", "Ostrel", "OS-100")).number == "OS-100"
    assert catalogue.units()[0].parts == (
        ("cover", "part/Ostrel/OS-100"), ("gasket", "part/Ostrel/OS-300"), ("wheel", "part/Ostrel/OS-200"),
    )  # fmt: skip
    assert replace(catalogue.units()[0], parts=()).layout == "plain"
