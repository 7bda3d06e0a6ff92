"""Part numbers: one spelling to look up by, strangers refused, look-alikes only suggested."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from graph.errors import BadPartNumber
from graph.identifiers import spelling, suggest


@pytest.mark.parametrize(
    ("written", "spelled"),
    [
        (" os-100 007.b", "OS100007B"),
        ("0012345", "0012345"),
        ("1E5", "1E5"),
        ("ＯＳ\u3000１２", "OS12"),
        ("OS–12", "OS12"),
        ("OS\u22121\u00a02", "OS12"),
        ("12/34-A (B)", "1234AB"),
    ],
)
def test_dashes_spaces_and_case_do_not_part_one_number(written: str, spelled: str) -> None:
    assert spelling(written) == spelled


@pytest.mark.parametrize(
    ("written", "point"),
    [  # Unicode code points by the standard's own charts
        ("ОS-12", "U+041E"),
        ("OΤ-12", "U+03A4"),
        ("OS\u200b12", "U+200B"),
        ("OS\u00ad12", "U+00AD"),
        ("OS\u202e12", "U+202E"),
        ("OS-۱۲", "U+06F1"),
        ("OS\x0012", "U+0000"),
        ("OS\n12", "U+000A"),
        ("ÉS12", "U+00C9"),
    ],
)
def test_a_letter_of_another_alphabet_is_refused_with_its_code_point(written: str, point: str) -> None:
    with pytest.raises(BadPartNumber, match=point.replace("+", r"\+")):
        spelling(written)


@pytest.mark.parametrize("written", ["", "  ", "---"])
def test_a_number_of_nothing_is_refused(written: str) -> None:
    with pytest.raises(BadPartNumber):
        spelling(written)


@given(st.text(max_size=30))
def test_a_spelling_is_ascii_and_its_own_spelling(written: str) -> None:
    try:
        spelled = spelling(written)
    except BadPartNumber:
        return
    assert spelled
    assert set(spelled) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789")
    assert spelling(spelled) == spelled


def test_look_alikes_are_suggested_never_merged() -> None:
    assert spelling("OS-1O0") != spelling("OS-100")
    assert suggest("OS-1O0", {"OS100", "OS1O0", "QS100"}) == ("OS100",)
    assert suggest("I0I0I0I0I0I0I0", set()) == ()
