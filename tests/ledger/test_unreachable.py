"""A store whose database server is not there says so and names what to do."""

from pathlib import Path

import pytest

from graph.errors import StoreUnreachable
from graph.index.store import ELSEWHERE, Store

NOWHERE = "postgresql+psycopg://shop:secret@/shop?host={}"


def test_a_server_that_is_not_there_is_named_without_its_password(tmp_path: Path) -> None:
    pytest.importorskip("psycopg")
    (tmp_path / "index").mkdir()
    (tmp_path / ELSEWHERE).write_text(NOWHERE.format(tmp_path))
    with pytest.raises(StoreUnreachable) as caught:
        Store.open(tmp_path)
    assert caught.value.status_hint == 503
    assert "database server" in caught.value.fix and "secret" not in caught.value.message
