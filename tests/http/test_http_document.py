"""The OpenAPI document held against outside tools: schemathesis fuzzes all of it, a generated client does the job."""

import importlib
import json
import subprocess
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from http_store import copied
from hypothesis import HealthCheck, Phase, given, settings
from openapi_spec_validator import validate
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from starlette.testclient import TestClient

from api.app import create_app
from api.openapi import document

DAY = "2026-11-20"
EXAMPLES = 2
"""Requests an operation; with some hundred operations more than a minute would go by with many more."""

schemathesis.serializer.alias("application/x-ndjson", "text/plain")  # lines of text, as the fuzzer sees them
CHECKS = [status_code_conformance, content_type_conformance, response_schema_conformance]
SAID = {(503, "undecided"), (503, "busy"), (503, "query-stopped")}
"""Refusals above 499 that pass by themselves and say when to ask again; any other is a fault."""

WHOLE_SHELF = ("/v1/keep-in-stock", "/v1/shelf/rush")
"""Asked on purpose in their own tests: any sound question to them takes many seconds, whatever it says."""

LONG = ("/v1/shelf/", "/v1/keep-in-stock", "/v1/rank", "/v1/export")
"""Addresses that look at the whole shelf: two requests each are enough of a wait."""


def test_the_document_is_openapi_3_1_and_valid() -> None:
    made = document()
    assert made["openapi"].startswith("3.1")
    validate(made)
    assert "itemSchema" not in json.dumps(made), "a word of 3.2"


def test_every_operation_tells_its_refusals_as_problems() -> None:
    for path, item in document()["paths"].items():
        for method, operation in item.items():
            for status, answer in operation["responses"].items():
                if int(status) >= 400 and path.startswith("/v1/"):
                    assert list(answer["content"]) == ["application/problem+json"], (method, path, status)


@pytest.fixture(scope="module")
def served(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A server over a store of its own: what is made up may also be written."""
    with TestClient(
        create_app(copied(demo_folder, tmp_path_factory.mktemp("fuzzed")), demo=True), raise_server_exceptions=False
    ) as opened:
        yield opened


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_no_made_up_request_breaks_the_server_or_gets_an_untold_status(served: TestClient) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        schema = schemathesis.openapi.from_asgi("/v1/openapi.json", served.app)
    faults: list[str] = []
    asked: list[str] = []
    for found in schema.get_all_operations():
        operation = found.ok()
        told = operation.definition.raw["responses"].get("200", {}).get("content", {})
        if "text/event-stream" in told or operation.path in WHOLE_SHELF:
            continue
        most = 1 if operation.path.startswith(LONG) else EXAMPLES

        def one(case: Any) -> None:
            asked.append(case.path)
            case.headers.pop("Spoolwright-At-Least", None)  # it would refuse before the route is reached
            if len(asked) % 4:
                case.query.pop("as-of", None)
            response = case.call(session=served, timeout=90)
            case.validate_response(response, checks=CHECKS)
            if response.status_code >= 500:
                told = json.loads(response.content)
                assert (response.status_code, told["code"]) in SAID, told

        try:
            run(operation, one, most)
        except BaseException as error:
            faults.append(f"{operation.label}: {error}")
    assert len(asked) > 150
    assert not faults, "\n\n".join(faults)


def run(operation: Any, test: Any, most: int) -> None:
    """So many made-up requests of one operation, the same on every machine."""
    chosen = settings(
        max_examples=most,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    chosen(given(case=operation.as_strategy())(test))()


@pytest.mark.slow
def test_a_generated_client_does_the_main_job(served: TestClient, tmp_path: Path) -> None:
    told = tmp_path / "openapi.json"
    told.write_text(json.dumps(document()))
    done = subprocess.run(
        [
            str(Path(sys.executable).parent / "openapi-python-client"),
            "generate",
            "--path",
            str(told),
            "--output-path",
            str(tmp_path / "made"),
            "--meta",
            "none",
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    sys.path.insert(0, str(tmp_path))
    try:
        client_of = importlib.import_module("made").Client
        fits = importlib.import_module("made.api.questions.get_fits_v1_fits_get")
        plan = importlib.import_module("made.api.questions.ask_plan_v1_plans_post")
        asked = importlib.import_module("made.models").PlanAsked
        client = client_of(base_url="http://testserver", raise_on_unexpected_status=True)
        client.set_httpx_client(served)
        answers = fits.sync(client=client, unit="OV46-220", engine="BR6-C", as_of=DAY)
        assert answers[0].verdict == "does not fit"
        body = asked(core="HB-017", build="larger-wheels", engine="BR6-C", as_of=DAY)
        saved = plan.sync(client=client, body=body)
        assert saved.answer.plans[0].cost is not None
    finally:
        sys.path.remove(str(tmp_path))
