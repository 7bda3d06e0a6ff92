import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient
from writing_desk import caller, shop_app


@pytest.fixture(name="folder")
def folder_fixture(demo_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_folder, tmp_path / "store"))


@pytest.fixture(name="app")
def app_fixture(folder: Path) -> FastAPI:
    return shop_app(folder)


@pytest.fixture(name="here")
def here_fixture(app: FastAPI) -> Iterator[TestClient]:
    with caller(app) as client:
        yield client
