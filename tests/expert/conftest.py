"""The case store as a fixture: new, with a clock that stands; and with three cases."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from expert.store import Store
from tests.expert.stores import Clock, fill


@pytest.fixture
def clock() -> Clock:
    """Stand at nine on the first of March."""
    return Clock()


@pytest.fixture
def store(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    """Open a new store."""
    with Store.open(tmp_path / "data", clock) as opened:
        yield opened


@pytest.fixture
def three(store: Store, clock: Clock) -> Store:
    """A store with three cases."""
    return fill(store, clock)
