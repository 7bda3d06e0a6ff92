"""Money is shown in the decimals of its currency (ISO 4217: JPY has none, EUR two, KWD three; from memory)."""

import pytest

from api.words import money
from graph.planning.explain import money_text
from ontology.currencies import amount_shown, money_shown, read_money


@pytest.mark.parametrize(
    ("minor", "currency", "shown", "grouped"),
    [
        (148050, "EUR", "1480.50 EUR", "1,480.50 EUR"),
        (148050, "JPY", "148050 JPY", "148,050 JPY"),
        (1480505, "KWD", "1480.505 KWD", "1,480.505 KWD"),
        (-5, "EUR", "-0.05 EUR", "-0.05 EUR"),
        (0, "JPY", "0 JPY", "0 JPY"),
    ],
)
def test_a_sum_has_the_decimals_of_its_currency(minor: int, currency: str, shown: str, grouped: str) -> None:
    assert money_shown(minor, currency) == shown
    assert money(minor, currency) == money_text(minor, currency) == grouped


@pytest.mark.parametrize("currency", ["EUR", "JPY", "KWD"])
@pytest.mark.parametrize("minor", [0, 7, 99, 100, 123456789])
def test_what_is_shown_is_read_back(minor: int, currency: str) -> None:
    assert read_money(amount_shown(minor, currency), currency) == minor
