"""Bytes that try to reach out, to hang or to crash: each is a finding, and the process lives.

The cases are those measured against both parsers in November 2026: nested brackets (rdflib stops with a recursion
error), triple terms and deep JSON (pyoxigraph ends the process), contexts that are fetched (rdflib), IRIs that
break later writers (rdflib), entities that expand without end (both).
"""

import json
import subprocess
import sys
from typing import Any

import pytest
from random_rows import good_row

from graph.model.finding import Finding
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement
from graph.triples import serialise, statements
from graph.triples.guard import MAX_DEPTH, MAX_LITERAL
from graph.triples.serial import context
from ontology.terms import CONTEXT, NS

TURTLE, QUADS, TRIPLES, JSON = "text/turtle", "application/n-quads", "application/n-triples", "application/ld+json"
A = "<https://x.example/a> <https://x.example/p> "


def found(data: bytes | str, media: str, **more: Any) -> list[str]:
    body = data.encode() if isinstance(data, str) else data
    read = list(statements(body, media, **more))
    assert not any(isinstance(one, Statement) for one in read)
    return [one.code for one in read if isinstance(one, Finding)]


CHILD = """
import json, sys
from graph.triples import statements
reached = []
def watch(event, args):
    fetched = event in ("socket.connect", "socket.getaddrinfo", "urllib.Request")
    if fetched or (event == "open" and str(args[0]).endswith("passwd")):
        reached.append(event)
sys.addaudithook(watch)
for name, body, media in json.load(sys.stdin):
    said = [getattr(one, "code", type(one).__name__) for one in statements(body.encode(), media)]
    print(json.dumps([name, reached + said]), flush=True)
"""


def in_child(bodies: dict[str, tuple[str, str]]) -> dict[str, list[str]]:
    """What a process of its own says of each body, in order; where it ends, the rest is missing."""
    given = json.dumps([[name, body, media] for name, (body, media) in bodies.items()])
    command = [sys.executable, "-c", CHILD]
    done = subprocess.run(command, input=given, capture_output=True, text=True, timeout=120, check=False)
    return dict(json.loads(line) for line in done.stdout.splitlines())


TERM = A + f"<<( {A}" * 20_000 + '"x"' + " )>>" * 20_000 + " ."
DEEP = {
    "closed brackets": (A + "[ <https://x.example/p> " * 50_000 + "1" + "]" * 50_000 + " .", TURTLE),
    "open lists": (A + "(" * 100_000, TURTLE),
    "closed lists": (A + "(" * 50_000 + ")" * 50_000 + " .", TURTLE),
    "a row with lists in lists": (f"[] a <{NS}JointStatement> ; <{NS}seats> {'(' * 50_000}{')' * 50_000} .", TURTLE),
    "triple terms in Turtle": (TERM, TURTLE),
    "triple terms in N-Quads": (TERM, QUADS),
    "triple terms in N-Triples": (TERM, TRIPLES),
    "lists in JSON": ("[" * 100_000 + "]" * 100_000, JSON),
    "objects in JSON": ('{"https://x.example/p":' * 4_000 + "1" + "}" * 4_000, JSON),
    "quotes that never end": ('"""' * 100_000, TURTLE),
}

CONTEXTS = [
    "http://127.0.0.1:9/context.jsonld",
    "file:///etc/passwd",
    {"@import": "http://127.0.0.1:9/context.jsonld"},
    [CONTEXT, "http://127.0.0.1:9/context.jsonld"],
    {"@vocab": NS, "kind": {"@id": "sw:kind", "@context": "file:///etc/passwd"}},
    {"@vocab": "https://other.example/"},
    None,
    5,
    [],
]


@pytest.mark.slow
def test_deep_nesting_never_ends_the_process() -> None:
    said = in_child(DEEP)
    assert set(said) == set(DEEP)
    expected = {"not-read", "no-statements", "bad-rdf", "wrong-type", "rdf-triple-term", "json-too-deep"}
    assert all(codes and set(codes) <= expected for codes in said.values()), said


@pytest.mark.slow
def test_no_context_but_our_own_is_read_and_none_is_fetched() -> None:
    row = {"@id": "https://x.example/a", "@type": "KindStatement", "kind": "x"}
    bodies = {str(i): (json.dumps({"@context": c} | row), JSON) for i, c in enumerate(CONTEXTS)}
    bodies["address"] = ("http://127.0.0.1:9/x.ttl", TURTLE)
    bodies["path"] = ("file:///etc/passwd", TURTLE)
    said = in_child(bodies)
    expected = {str(i): ["json-context"] for i in range(len(CONTEXTS))}
    assert said == expected | {"address": ["bad-rdf"], "path": ["bad-rdf"]}


@pytest.mark.parametrize("given", [CONTEXT, [CONTEXT], None])
def test_our_own_context_may_be_named_listed_or_written_out(given: Any) -> None:
    row = {"@id": "https://x.example/a", "@type": "KindStatement", "kind": "x"}
    document = row | {
        "@context": given if given is not None else context()
    }  # last, to show that order does not count
    [back] = statements(json.dumps(document).encode(), JSON)
    assert back == Statement("kinds", {"kind": "x"})


def test_a_context_deeper_down_is_held_to_the_same_rule() -> None:
    inner = {"@context": "file:///etc/passwd", "@id": "https://x.example/b"}
    assert found(json.dumps({"@context": CONTEXT, "@graph": [inner]}), JSON) == ["json-context"]


@pytest.mark.parametrize("depth", [MAX_DEPTH, MAX_DEPTH + 5])
def test_json_is_refused_just_beyond_its_depth(depth: int) -> None:
    codes = found("[" * depth + "]" * depth, JSON)
    assert ("json-too-deep" in codes) == (depth > MAX_DEPTH)


@pytest.mark.parametrize("media", ["application/rdf+xml", "text/html", "application/trig", "", "text/turtle-star"])
def test_other_media_are_refused_rdf_xml_above_all(media: str) -> None:
    laughs = '<!DOCTYPE r [<!ENTITY a "aaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><r>&b;</r>'
    assert found(laughs, media) == ["rdf-media"]


def test_a_medium_may_have_parameters() -> None:
    row = good_row(BY_NAME["kinds"])
    data = b"".join(serialise([row], TURTLE))
    assert list(statements(data, "Text/Turtle; charset=utf-8")) == [row]


X = "https://x.example/"
BAD_IRIS = [X + "a b", X + "<b>", X + "{b}", X + "\x00", "no-scheme"]


@pytest.mark.parametrize("iri", BAD_IRIS)
def test_an_iri_with_spaces_brackets_or_no_scheme_is_refused(iri: str) -> None:
    row = f'<{iri}> a <{NS}KindStatement> ; <{NS}kind> "x" .'
    assert found(row, TURTLE) == ["bad-rdf"]
    document = {"@context": CONTEXT, "@id": iri, "@type": "KindStatement", "kind": "x"}
    assert found(json.dumps(document), JSON) == ["bad-iri"]


def test_what_json_ld_would_drop_in_silence_is_said() -> None:
    assert found('{"@id": "https://x.example/a", "kind": "x"}', JSON) == ["json-context"]
    document = {"@context": CONTEXT, "@id": "https://x.example/a", "@type": "KindStatement"}
    assert found(json.dumps(document | {"a b": "x"}), JSON) == ["bad-iri"]
    assert found(json.dumps(document | {"@reverse": {"kind": "x"}}), JSON) == ["json-keyword"]
    assert found(json.dumps(document | {"kind": {"@value": "x", "@language": "en"}}), JSON) == ["json-keyword"]
    assert found(json.dumps(document | {"colour": "red"}), JSON) == ["unknown-column"]
    assert found(json.dumps(document | {"about": 5}), JSON) == ["bad-iri"]


def test_a_key_that_stands_twice_is_said() -> None:
    head = f'{{"@context": "{CONTEXT}", "@id": "https://x.example/a", "@type": "KindStatement", '
    assert found(head + '"kind": "x", "kind": "y"}', JSON) == ["json-key-twice"]


@pytest.mark.parametrize(
    "text",
    ["", "nonsense", "NaN", "[Infinity]", "[1e999]", "[" + "9" * 10_000 + "]", '["\\ud800"]', b"\xff\xfe[]", b"\x00"],
)
def test_what_is_not_json_is_refused(text: str | bytes) -> None:
    assert found(text, JSON) in (["bad-rdf"], ["bad-rdf", "no-statements"])


@pytest.mark.parametrize("media", [TURTLE, QUADS, TRIPLES])
@pytest.mark.parametrize("data", [b"\xff\xfe", b"\x00", A.encode() + b'"\xc3', b"PK\x03\x04"])
def test_bytes_that_are_no_text_are_refused(data: bytes, media: str) -> None:
    assert found(data, media) == ["bad-rdf"]


def test_a_body_beyond_the_limit_is_not_read() -> None:
    assert found("#" * 101, TURTLE, limit=100) == ["too-large"]


def test_a_text_beyond_the_limit_is_not_taken() -> None:
    row = f'[] a <{NS}KindStatement> ; <{NS}kind> "{"x" * MAX_LITERAL}y" .'
    assert found(row, TURTLE) == ["too-large"]


def test_a_property_with_endless_values_does_not_hang() -> None:
    values = ", ".join(f'"{i}"' for i in range(100_000))
    assert found(f"[] a <{NS}KindStatement> ; <{NS}kind> {values} .", TURTLE) == ["several-values"]


def test_two_angle_brackets_in_a_text_survive_our_own_writing() -> None:
    row = Statement("kinds", {"kind": "a", "label": "<<( x )>> << <<<"})
    for media in (TURTLE, QUADS, TRIPLES, JSON):
        assert list(statements(b"".join(serialise([row], media)), media)) == [row]


def test_a_link_that_would_run_in_a_browser_stays_text() -> None:
    row = f"[] a <{NS}KindStatement> ; <{NS}kind> <javascript:alert(1)> ."
    assert found(row, TURTLE) == ["wrong-type"]
