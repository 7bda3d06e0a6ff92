"""What the tests of a disk that fails share."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from power_cut import Disk, NoDisk


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    """A disk of its own, mounted."""
    try:
        made = Disk(tmp_path)
    except NoDisk as error:
        pytest.skip(f"NOT TESTED: no disk can be mounted here (takes root and a loop device): {error}")
    yield made
    made.close()
