from collections.abc import Iterator
from pathlib import Path

import pytest
import store_postgres

from graph.ledger.ledger import Ledger


@pytest.fixture(scope="session")
def postgres() -> str:
    if not store_postgres.PROGRAMS:
        pytest.skip("NOT TESTED: PostgreSQL is not installed (Debian's package postgresql)")
    return store_postgres.shared()


@pytest.fixture(params=["sqlite", "postgresql"])
def target(request: pytest.FixtureRequest, tmp_path: Path) -> Path | str:
    if request.param == "sqlite":
        return tmp_path / "ledger.sqlite"
    url: str = request.getfixturevalue("postgres")
    store_postgres.empty(url)
    return url


@pytest.fixture
def ledger(target: Path | str) -> Iterator[Ledger]:
    made = Ledger(target)
    made.create()
    yield made
    made.close()
