"""If-Match and If-None-Match, held against RFC 9110: examples of sections 8.8.3 and 13.1, the table of 8.8.3.2."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from api.app import create_app
from api.http.preconditions import MATCH, NONE_MATCH, Preconditions, Tags, preconditions
from api.http.refusals import BadCondition

DAY = "2026-11-20"
FITS = {"unit": "OV46-220", "engine": "BR6-D", "as_of": DAY}


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


def named(text: bytes) -> Tags:
    read = preconditions([(MATCH, text)]).match
    assert read is not None
    return read


# RFC 9110 section 8.8.3.2, the table of comparisons.
@pytest.mark.parametrize(
    ("one", "other", "strong", "weak"),
    [
        (b'W/"1"', b'W/"1"', False, True),
        (b'W/"1"', b'W/"2"', False, False),
        (b'W/"1"', b'"1"', False, True),
        (b'"1"', b'"1"', True, True),
    ],
)
def test_tags_compare_as_the_table_has_it(one: bytes, other: bytes, strong: bool, weak: bool) -> None:
    for given, there in ((one, other), (other, one)):
        assert named(given).strongly(there) is strong
        assert named(given).weakly(there) is weak


# The examples of sections 8.8.3, 13.1.1 and 13.1.2, as they are printed.
@pytest.mark.parametrize(
    ("text", "read"),
    [
        (b'"xyzzy"', (b'"xyzzy"',)),
        (b'W/"xyzzy"', (b'W/"xyzzy"',)),
        (b'""', (b'""',)),
        (b'"xyzzy", "r2d2xxxx", "c3piozzzz"', (b'"xyzzy"', b'"r2d2xxxx"', b'"c3piozzzz"')),
        (b'W/"xyzzy", W/"r2d2xxxx", W/"c3piozzzz"', (b'W/"xyzzy"', b'W/"r2d2xxxx"', b'W/"c3piozzzz"')),
    ],
)
def test_the_examples_of_the_rfc_are_read(text: bytes, read: tuple[bytes, ...]) -> None:
    assert named(text) == Tags(read)


def test_a_star_stands_for_whatever_there_is() -> None:
    star = named(b" * ")
    assert star == Tags(any_=True)
    assert star.strongly(b'W/"1"') and star.weakly(b'"1"') and star.strongly(b"")
    assert not star.strongly(None) and not star.weakly(None)


# Section 8.8.3: etagc is %x21 / %x23-7E / obs-text, so a comma and a backslash belong to a tag; section 5.6.1.2:
# a recipient passes over empty members; section 5.3: lines of one field are one list.
def test_a_list_is_read_by_its_grammar_and_not_cut_at_commas() -> None:
    assert named(b'"a,b" ,, "c\\"\t,W/"\xe4!"') == Tags((b'"a,b"', b'"c\\"', b'W/"\xe4!"'))
    assert named(b"") == Tags() == named(b" , ,")
    both = preconditions([(NONE_MATCH, b'"1"'), (MATCH, b'"9"'), (NONE_MATCH, b'"2", "3"')])
    assert both == Preconditions(Tags((b'"9"',)), Tags((b'"1"', b'"2"', b'"3"')))


@pytest.mark.parametrize(
    "text",
    [b"12", b"xyzzy", b'"a', b'a"', b'w/"1"', b'W/ "1"', b'W/1', b'"a" "b"', b'"a b"', b'"1", *', b"*, *", b'"1";q=1',
     b"'1'", b'"1"\x00', b'"\x7f"', b'"a", b'],
)  # fmt: skip
def test_what_is_no_list_of_tags_is_refused(text: bytes) -> None:
    with pytest.raises(BadCondition):
        preconditions([(NONE_MATCH, text)])


def test_a_reader_who_has_the_answer_under_any_of_its_tags_gets_304(client: TestClient) -> None:
    first = client.get("/v1/fits", params=FITS)
    etag = first.headers["etag"]
    assert etag.startswith('W/"')
    for given in (etag, etag.removeprefix("W/"), f'"a,b", {etag}', f",{etag},", "*"):
        for told in (client.get, client.head):
            again = told("/v1/fits", params=FITS, headers={"if-none-match": given})
            assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", etag), given
    for given in ('"a,b"', f'"{etag[3:-1]}x"', ""):
        assert client.get("/v1/fits", params=FITS, headers={"if-none-match": given}).content == first.content
    lines = [("if-none-match", '"one"'), ("if-none-match", etag)]
    assert client.get("/v1/fits", params=FITS, headers=lines).status_code == 304


def test_a_reader_may_ask_for_the_very_answer_that_is_known(client: TestClient) -> None:
    weak, strong = "/v1/fits?unit=OV46-220&engine=BR6-D", "/v1/context.jsonld"
    tag = client.get(strong).headers["etag"]
    assert client.get(strong, headers={"if-match": f'"x", {tag}'}).status_code == 200
    for _ in range(2):  # made, then given again
        for path, given in (
            (strong, f"W/{tag}"),
            (weak, client.get(weak).headers["etag"]),
            (weak, '"x"'),
            (weak, ""),
        ):
            refused = client.get(path, headers={"if-match": given})
            assert (refused.status_code, refused.json()["code"]) == (412, "version-mismatch"), (path, given)
            assert refused.headers["etag"], "what there is now"
            assert refused.headers["content-type"] == "application/problem+json"
    assert client.get(weak, headers={"if-match": "*"}).status_code == 200
    # Section 13.2.2: If-Match goes before If-None-Match.
    assert client.get(strong, headers={"if-match": '"x"', "if-none-match": tag}).status_code == 412


@pytest.mark.parametrize("name", ["if-match", "if-none-match"])
def test_a_condition_that_cannot_be_read_is_told_wherever_it_is_sent(client: TestClient, name: str) -> None:
    for method, path in (
        ("GET", "/v1/fits?unit=OV46-220&engine=BR6-D"),
        ("HEAD", "/v1/parts"),
        ("POST", "/v1/fits"),
        ("PUT", "/v1/stock?part=x"),
        ("DELETE", "/v1/watches/x"),
        ("GET", "/v1/sparql?query=ASK%20%7B%7D"),
    ):
        refused = client.request(method, path, headers={name: "12"})
        assert refused.status_code == 400, (method, path)
        if method != "HEAD":
            assert refused.json()["code"] == "bad-condition"
            assert name in refused.json()["detail"] and "'12'" in refused.json()["detail"]


def test_a_question_that_is_posted_has_no_versions_and_is_answered(client: TestClient) -> None:
    plain = client.post("/v1/fits", json=FITS)
    for _ in range(2):
        asked = client.post("/v1/fits", json=FITS, headers={"if-none-match": plain.headers.get("etag", '"x"')})
        assert (asked.status_code, asked.content) == (200, plain.content)
