"""Sentences of the core that can be said in another language: to everything else they are the English text."""

import json
import pickle
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

import pytest

from api.pages.wording import marked
from graph.desk import Desk
from graph.model.said import Said, joined, say

DAY = "2026-11-20"
GERMAN = {
    "{values}; {asks}: {verdict}.": "{values}; {asks}: {verdict}!",
    "at most {size} is allowed": "höchstens {size} ist erlaubt",
    "fits": "passt",
    "{one} against {other}": "{one} gegen {other}",
}


def in_german(text: str) -> str:
    return GERMAN.get(text, text)


def sentences(value: Any) -> Iterator[Said]:
    """All sentences in an answer, those within sentences too."""
    if isinstance(value, Said):
        yield value
        yield from (one for inner in value.fields.values() for one in sentences(inner))
    elif is_dataclass(value):
        for field in fields(value):
            yield from sentences(getattr(value, field.name))
    elif isinstance(value, list | tuple):
        for one in value:
            yield from sentences(one)


def test_a_sentence_is_its_english_text() -> None:
    made = say("at most {size} is allowed", size="3 mm")
    assert made == "at most 3 mm is allowed"
    assert hash(made) == hash("at most 3 mm is allowed")
    assert json.dumps({"why": made}) == '{"why": "at most 3 mm is allowed"}'
    again = pickle.loads(pickle.dumps(made))  # as it goes to a worker and back
    assert (again, again.told(in_german)) == (made, "höchstens 3 mm ist erlaubt")


def test_sentences_within_a_sentence_are_said_in_the_other_language_too() -> None:
    values = say("{one} against {other}", one="bore 3.1 mm", other=say("not known"))
    whole = say("{values}; {asks}: {verdict}.", values=values, asks=say("at most {size} is allowed", size="3 mm"),
                verdict=say("fits"))  # fmt: skip
    assert whole == "bore 3.1 mm against not known; at most 3 mm is allowed: fits."
    assert whole.told(in_german) == "bore 3.1 mm gegen not known; höchstens 3 mm ist erlaubt: passt!"


def test_braces_in_data_are_no_fields() -> None:
    made = say("at most {size} is allowed", size="{n} {0} {{")
    assert made.told(in_german) == "höchstens {n} {0} {{ ist erlaubt"
    assert joined("; ", ["{a}", made]).told(in_german) == "{a}; höchstens {n} {0} {{ ist erlaubt"  # type: ignore[attr-defined]


@pytest.mark.slow
def test_what_a_fit_and_a_plan_say_can_be_said_in_another_language(demo_desk: Desk) -> None:
    """Every template is in the catalogue, and says in English what stands in the answer."""
    swaps = [("OV46-220", "BR6-C"), ("QN48-25", "BR6-F"), ("OT38-104", "BR5-A"), ("OV46-140", "BR6-C")]
    answers: list[Any] = [demo_desk.fits(unit, engine, both=True, day=DAY)[0] for unit, engine in swaps]
    own = {rule.measure for layout in demo_desk.catalogue.layouts for rule in layout.rules}  # the shop's own words
    for answer in answers:
        told = [answer.sentence, *(c.text for c in answer.cautions if c.code != "operation")]
        told += [rule.reason for joint in answer.joints for rule in joint.rules]
        told += [
            text
            for joint in answer.joints
            for rule in joint.rules
            for m in rule.missing
            for text in (m.why, m.measure)
            if text not in own
        ]
        assert [text for text in told if not isinstance(text, Said)] == []
    builds = [("HB-017", "larger-wheels"), ("HB-017", "largest-own-cover"), ("HB-013", "stock-101")]
    for core, build in builds:
        plan = demo_desk.plan(core, build, day=DAY)
        assert isinstance(plan.sentence, Said)
        assert [
            text
            for joint in (plan.plans[0].joints if plan.plans else ())
            if not isinstance(text := joint.reason, Said)
        ] == []
        answers.append(plan)
    texts = {text for _file, text in marked()}
    found = {id(one): one for answer in answers for one in sentences(answer)}.values()
    assert len({one.template for one in found}) > 30
    for one in found:
        assert one.told(str) == one
        signs_alone = not re.search(r"\w", re.sub(r"\{\w+\}", "", one.template))
        assert signs_alone or one.template in texts
