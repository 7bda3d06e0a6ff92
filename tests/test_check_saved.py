"""The saved form of an answer is read strictly."""

import json
from dataclasses import replace

import check_cases
import pytest
from alone import judged_alone

from graph.errors import BadFile
from graph.model.statement import canonical, digest
from graph.planning.saved import answer_of, saved


def rewritten(change: dict[str, object], *, answer: dict[str, object] | None = None) -> bytes:
    content = json.loads(saved(check_cases.answer(1)))
    if answer:
        content["answer"] |= answer
        content["digest"] = digest(content["answer"])
    return canonical(content | change).encode()


def test_a_saved_answer_reads_back_to_the_same_answer() -> None:
    answer = check_cases.answer()
    assert answer_of(saved(answer)) == answer
    assert saved(answer_of(saved(answer))) == saved(answer)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"[]",
        b"null",
        b"\xff\xfe",
        b"{" * 100_000,
        b"[" * 100_000,
        b"9" * 10_000,
        rewritten({"format": 2}),
        rewritten({"format": True}),
        rewritten({"digest": "0" * 64}),
        rewritten({"more": 1}),
        rewritten({}, answer={"discount": 5}),
        rewritten({}, answer={"plans": 5}),
        rewritten({}, answer={"bound": True}),
        rewritten({}, answer={"verdict": "fits nicely"}),
        saved(check_cases.answer(1)).replace(b'"cost":34830', b'"cost":34831'),
        saved(check_cases.answer(1)).replace(b'"cost":34830', b'"cost":34830.0'),
        saved(check_cases.answer(1)).replace(b'"cost":34830', b'"cost":NaN'),
        saved(check_cases.answer(1)).replace(b'"cost":34830', b'"cost":1,"cost":34830'),
    ],
)
def test_a_file_that_is_not_as_it_was_saved_is_refused(data: bytes) -> None:
    with pytest.raises(BadFile):
        answer_of(data)
    assert [r.code for r in judged_alone(data)] == ["bad-file"]


def test_an_answer_that_leaves_out_a_field_is_refused_though_a_default_would_do() -> None:
    content = json.loads(saved(check_cases.answer(1)))
    del content["answer"]["plans"][0]["steps"][0]["caution"]
    content["digest"] = digest(content["answer"])
    assert [r.code for r in judged_alone(canonical(content).encode())] == ["bad-file"]


def test_an_answer_without_its_evidence_cannot_be_judged() -> None:
    bare = replace(check_cases.answer(1), bundle=None)
    assert [r.code for r in judged_alone(saved(bare))] == ["no-evidence"]


def test_evidence_altered_beside_the_plan_is_noticed() -> None:
    answer = check_cases.answer(1)
    assert answer.bundle is not None
    parts = tuple(
        replace(p, price_new=replace(p.price_new, price=1)) if p.price_new and p.number == "G2" else p
        for p in answer.bundle.parts
    )
    assert {"cost", "total"} <= {r.code for r in judged_alone(saved(check_cases.asked_with(answer, parts=parts)))}
