"""What parts have to do with other parts, read of many at once, against every row of the two sheets."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from http_store import copied

from graph import publish
from graph.index.known import Known
from graph.index.links import links_of
from graph.index.store import Store
from graph.model.statement import Evidence, Statement, subject


@pytest.fixture(scope="module")
def store(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """The demo with a chain of three supersessions more, which runs into a circle."""
    store = Store.open(copied(demo_folder, tmp_path_factory.mktemp("links")))
    chain = [("46-30-220", "L-1"), ("L-1", "L-2"), ("L-2", "L-3"), ("L-3", "L-1")]
    rows = [
        Statement("supersession", {"maker": "Ostrel", "old": old, "new": new}, Evidence(source="MS-LIST"))
        for old, new in chain
    ]
    publish.publish_statements(store, rows, author="test", time="2026-11-21T08:00:00Z")
    yield store
    store.close()


def rows_of(store: Store) -> tuple[list[tuple[str, str, str]], list[tuple[str, str, str]]]:
    """Id and both ends of every row of `supersession` and of `interchange`, from the rows themselves."""
    catalogue = store.catalogue()
    replaced = [
        (s.id, subject("part", f["maker"], f["old"]), subject("part", f.get("maker", ""), f["new"]))
        for s in catalogue.sheet("supersession")
        for f in [s.fields]
    ]
    asserted = [
        (s.id, subject("part", f["maker"], f["number"]), subject("part", f["other_maker"], f["other_number"]))
        for s in catalogue.sheet("interchange")
        for f in [s.fields]
    ]
    return replaced, asserted


def test_many_parts_have_the_links_that_name_them_on_either_side(store: Store) -> None:
    replaced, asserted = rows_of(store)
    assert len(replaced) > 4 and len(asserted) > 4
    parts = [*store.catalogue().keys("part", most=10_000), "part/Ostrel/none-such"]
    found = links_of(store.catalogue().index, parts)
    assert list(found) == parts
    for part, links in found.items():
        assert sorted(s.said for s in links.supersessions) == sorted(i for i, *ends in replaced if part in ends)
        assert sorted(s.said for s in links.interchanges) == sorted(i for i, *ends in asserted if part in ends)
        assert list(links.supersessions) == sorted(links.supersessions, key=lambda s: (s.old, s.new, s.said))


def test_supersessions_are_followed_to_both_ends_and_round_a_circle(store: Store) -> None:
    replaced, _ = rows_of(store)
    known = Known(store.catalogue())
    for part in store.catalogue().keys("part", most=10_000):
        reached, ends = set[str](), {part}
        while more := {i for i, *both in replaced if ends.intersection(both)} - reached:
            reached |= more
            ends |= {end for i, *both in replaced if i in more for end in both}
        assert {s.said for s in known.supersessions([part])} == reached
    assert len(known.supersessions(["part/Ostrel/46-30-220"])) >= 4
    assert known.supersessions(["part/Ostrel/L-2"]) == known.supersessions(iter(["part/Ostrel/L-2"]))
