"""A copy of the demo shop behind the HTTP application, and callers of it: from this machine, from elsewhere, with
keys."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from starlette.testclient import TestClient

HERE = ("127.0.0.1", 50000)
ELSEWHERE = ("192.0.2.7", 50000)  # TEST-NET-1 of RFC 5737: an address that is nobody's


def caller(app: FastAPI, *, key: str = "", at: tuple[str, int] = HERE, host: str = "127.0.0.1") -> TestClient:
    """Someone who asks."""
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    return TestClient(app, raise_server_exceptions=False, client=at, base_url=f"http://{host}", headers=headers)


def key_for(client: TestClient, name: str, *scopes: str) -> str:
    """The text of a new key, made by a caller who may."""
    made = client.post("/v1/keys", json={"name": name, "scopes": list(scopes), "author": "Ada"})
    assert made.status_code == 201, made.text
    secret: str = made.json()["secret"]
    return secret


def problem(response: Any) -> tuple[int, str]:
    """Status and code of problem details."""
    assert response.headers["content-type"] == "application/problem+json", response.text
    body: Mapping[str, Any] = response.json()
    assert body["status"] == response.status_code
    return response.status_code, body["code"]


def shop_app(folder: Path, *, demo: bool = False) -> FastAPI:
    """The application."""
    from api.app import create_app

    return create_app(folder, demo=demo)
