"""A saved answer: the answer with its evidence and a digest, read strictly and judged by itself."""

import json
from collections.abc import Callable
from typing import Any

from graph.errors import BadFile
from graph.model.codec import from_json, to_json
from graph.model.depth import Objectives, WhyAnswer
from graph.model.plan import PlanAnswer
from graph.model.statement import canonical, digest
from graph.planning.check import Refusal, check
from graph.planning.check.clash import check_why
from graph.planning.check.weighed import check_weighed

Saved = PlanAnswer | WhyAnswer | Objectives
"""An answer that can be saved with its evidence."""

KINDS: dict[str, type[Saved]] = {"": PlanAnswer, "why": WhyAnswer, "weigh": Objectives}
"""What stands as `kind` in the file; a plan's file has none."""

FORMAT = 1
LARGEST = 64 * 1024 * 1024
"""Bytes of the largest answer that is read."""


def saved(answer: Saved) -> bytes:
    """The answer as a file: `{"answer": …, "digest": …, "format": 1}`, one spelling for one answer.

    An answer to why not has `"kind": "why"` beside it, one that weighs plans `"kind": "weigh"`.
    """
    content = to_json(answer)
    whole = {"format": FORMAT, "answer": content, "digest": digest(content)}
    kind = next(name for name, made in KINDS.items() if isinstance(answer, made))
    return (canonical(whole | ({"kind": kind} if kind else {})) + "\n").encode()


def answer_of(data: bytes) -> PlanAnswer:
    """The plan answer in a saved file.

    Raises
    ------
    BadFile
        It is no JSON (or has a key twice, or a number that is not finite), is of another format or kind, has
        unknown or missing fields, or its digest is not that of its content.
    """
    answer = any_answer_of(data)
    if not isinstance(answer, PlanAnswer):
        raise BadFile("this saved answer is no plan", fix="name a saved answer of `plan`")
    return answer


def any_answer_of(data: bytes) -> Saved:
    """The answer in a saved file, whichever kind it is.

    Raises
    ------
    BadFile
        As `answer_of`.
    """
    if len(data) > LARGEST:
        raise BadFile(f"the answer has {len(data)} bytes, more than {LARGEST}")
    try:
        content = json.loads(
            data.decode("utf-8"),
            object_pairs_hook=_once,
            parse_constant=_refused,
            parse_float=_refused,
        )
    except (UnicodeDecodeError, ValueError, RecursionError) as error:
        raise BadFile(f"the answer is no JSON: {error}") from error
    if not isinstance(content, dict) or set(content) - {"kind"} != {"format", "answer", "digest"}:
        raise BadFile("a saved answer has the fields format, answer and digest")
    if content["format"] != FORMAT or isinstance(content["format"], bool):
        raise BadFile(f"format {content['format']!r} is not known here")
    kind = content.get("kind", "")
    if not isinstance(kind, str) or kind not in KINDS or ("kind" in content and not kind):
        raise BadFile(f"an answer of kind {kind!r} is not known here")
    if content["digest"] != digest(content["answer"]):
        raise BadFile("the digest is not that of the answer", fix="save the answer again; this file was altered")
    answer: Saved = from_json(KINDS[kind], content["answer"])
    if to_json(answer) != content["answer"]:
        raise BadFile("the answer leaves out fields, or spells a value in another way than it was saved")
    return answer


def judged(answer: Saved, stop: Callable[[], bool] | None = None) -> list[Refusal]:
    """Everything in an answer that the evidence it carries does not bear out; empty: confirmed."""
    if answer.bundle is None:
        return [Refusal("no-evidence", "bundle", "the answer carries no evidence to judge it by")]
    if isinstance(answer, WhyAnswer):
        return check_why(answer, answer.bundle, stop)
    if isinstance(answer, Objectives):
        return check_weighed(answer, answer.bundle, stop)
    return check(answer, answer.bundle, stop)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        names = [name for name, _ in pairs]
        raise ValueError(f"a key stands twice: {sorted({n for n in names if names.count(n) > 1})}")
    return made


def _refused(text: str) -> Any:
    raise ValueError(f"{text} is no whole number")
