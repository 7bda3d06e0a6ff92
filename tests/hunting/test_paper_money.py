"""Quotes and claims: every sum on the paper is that of the lines that stand there, whatever is typed in.

The witness reads the page as a customer does, and adds up with `decimal`; none of our code is in it.
"""

import html
import re
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal

import pytest
from asked_shop import Book, Shop, added, book, without
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from api.app import create_app

QUERY = {"core": "K1", "build": "big", "as_of": "2026-11-28"}


def shown(client: TestClient, path: str, **asked: str) -> tuple[int, str]:
    """The status, and the words of the page with a bar between cells and a line for each row."""
    made = client.get(path, params={**QUERY, **asked})
    words = re.sub(r"</t[dh]>", " | ", re.sub(r"(?s)<form.*?</form>", "", made.text))
    return made.status_code, html.unescape(re.sub(r"<[^>]+>", "", re.sub(r"</tr>|</li>|</p>|</h\d>", "\n", words)))


def money(text: str) -> Decimal:
    (number,) = re.findall(r"-?[0-9,]+\.[0-9]{2}", text)
    return Decimal(number.replace(",", ""))


def row(page: str, name: str) -> str:
    (found,) = [line for line in page.splitlines() if "|" in line and line.strip().startswith(name)]
    return found


def lines(page: str) -> list[Decimal]:
    """The amounts in the tables of addends, those of no known price left out."""
    rows = [line.split("|") for line in page.splitlines() if line.count("|") == 4 and "amount" not in line]
    return [money(cells[3]) for cells in rows if "not known" not in cells[3]]


@pytest.fixture(scope="module")
def client() -> Iterator[TestClient]:
    with Shop(book()) as shop, TestClient(create_app(shop.path / "store", demo=True)) as opened:
        yield opened


@given(st.decimals(0, 100, places=2), st.one_of(st.none(), st.decimals(0, 99_999, places=2)))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_quote_adds_up_to_the_lines_that_stand_in_it(
    client: TestClient, rate: Decimal, elsewhere: Decimal | None
) -> None:
    away = {} if elsewhere is None else {"sublet": "balance", "price:balance": f"{elsewhere:f}"}
    status, page = shown(client, "/quote", tax=f"{rate:f}", **away)
    assert status == 200, page
    net, tax, total = (money(row(page, name).partition("|")[2]) for name in ("Net", "Tax", "Total"))
    assert net == sum(lines(page))
    assert tax == (net * rate / 100).quantize(Decimal("0.01"), ROUND_HALF_UP)
    assert total == net + tax
    if elsewhere is not None:
        assert elsewhere in lines(page)


@pytest.mark.parametrize(
    ("rows", "missing"),
    [(without(book(), "prices", number="W-2"), "W-2"), (without(book(), "rates", name="shop"), "balance")],
)
def test_a_line_without_a_price_makes_every_sum_at_least(rows: Book, missing: str) -> None:
    with Shop(rows) as shop, TestClient(create_app(shop.path / "store", demo=True)) as opened:
        status, page = shown(opened, "/quote", tax="19")
    assert status == 200
    assert "not known" in row(page, missing)
    for name in ("Net", "Tax", "Total"):
        assert "at least" in row(page, name)
    assert money(row(page, "Net").partition("|")[2]) == sum(lines(page))


@pytest.mark.parametrize(
    "asked",
    [
        {"sublet": "balance", "price:balance": "-5"},  # nobody is paid for sending work out
        {"price:balance": "50"},  # typed beside a work that is not sent out: it was passed over
        {"price:balancing": "50"},
        {"sublet": "balance", "price:balance": "1.400"},
        {"tax": "1_9"},
        {"tax": "-0"},
        {"tax": "1e1"},
        {"tax": "\u0663"},
        {"tax": "100.01"},
    ],
)
def test_what_cannot_be_meant_is_refused_and_never_passed_over(client: TestClient, asked: dict[str, str]) -> None:
    assert shown(client, "/quote", **asked)[0] == 422


@pytest.mark.parametrize(
    ("day", "term"), [("2025-03-01", "365 days"), ("2026-07-01", "180 days"), ("2024-01-01", "")]
)
def test_a_warranty_runs_as_the_shop_gave_it_at_the_hand_over(day: str, term: str) -> None:
    """Common practice, no source: a shop that shortens its warranty shortens none that it has given."""
    rows = added(book(), "figures", figure="warranty", days="365", as_of="2025-01-01", who="Ada")
    rows = added(rows, "jobs", job="J-1", tag="K1", build="big", engine_maker="Brackmoor", engine="E1")
    rows = added(rows, "job_stages", job="J-1", step="1", stage="collected", date=day)
    shorter = [rows["figures"][0], [{"365": "180", "2025-01-01": "2026-06-01"}.get(c, c) for c in rows["figures"][1]]]
    with Shop(rows) as shop:
        assert shop.report.published, shop.report.findings
        assert shop.publish({"figures": shorter}).published
        with TestClient(create_app(shop.path / "store", demo=True)) as opened:
            page = shown(opened, "/claim", job="J-1")[1]
    if term:
        assert f"{term} from the hand-over" in page
    else:
        assert "Not set: write down what was agreed." in page
    assert ("180 days" in page) is (term == "180 days")
