"""The curl lines of docs/changes.md and docs/events.md, sent to the demo shop as they stand."""

import json
import re
from pathlib import Path

from starlette.testclient import TestClient

DOCS = Path(__file__).resolve().parents[2] / "docs"
LINE = re.compile(r"curl (?P<words>.*?)\$S(?P<path>/[^\s\"']*)", re.DOTALL)
BODY = re.compile(r"-d '(?P<body>.*?)'", re.DOTALL)


def lines(page: str) -> list[tuple[str, str]]:
    """Address and body of each curl line that sends JSON, or nothing."""
    text = (DOCS / page).read_text()
    found = []
    for block in re.findall(r"```\n(curl.*?)```", text, re.DOTALL):
        for match in LINE.finditer(block):
            body = BODY.search(match["words"])
            if body or "-X POST" in match["words"]:
                found.append((match["path"], body["body"] if body else ""))
    return found


def test_the_lines_of_changes_lead_from_nothing_to_a_commit(here: TestClient) -> None:
    change, head, asked = "", 0, lines("changes.md")
    assert [path for path, _ in asked] == [
        "/v1/changes", "/v1/changes/$ID/rows", "/v1/changes/$ID/check", "/v1/changes/$ID/commit",
    ]  # fmt: skip
    for path, body in asked:
        said = json.loads(body) if body else None
        if path.endswith("commit"):
            said = {**said, "version": 2}  # the page adds a workbook in between
        sent = {"If-Match": f'"{head}"'} if path.endswith("commit") else {}
        answer = here.post(path.replace("$ID", change), json=said, headers=sent)
        assert answer.status_code < 300, answer.text
        told = answer.json()
        change = change or told["id"]
        head = told.get("head", head)
    assert told["change_set"]["author"] == "ina"


def test_the_line_of_events_watches_a_part(here: TestClient) -> None:
    ((path, body),) = lines("events.md")
    answer = here.post(path, json=json.loads(body))
    assert answer.status_code == 201, answer.text
    assert answer.json()["word"] in ("on hand", "promised to others", "not on hand")


def test_every_scope_and_event_is_in_the_documents() -> None:
    from graph.ledger.keys import SCOPES
    from graph.ledger.outbox import TYPES
    from graph.model.jobs import FOLLOWS

    keys, events = (DOCS / "keys.md").read_text(), (DOCS / "events.md").read_text()
    assert [s for s in SCOPES if f"| `{s}` |" not in keys] == []
    assert [t for t in TYPES if f"| `{t}` |" not in events] == []
    for stage, may in FOLLOWS.items():
        assert f"| {stage} | {', '.join(may) or 'nothing'} |" in keys
