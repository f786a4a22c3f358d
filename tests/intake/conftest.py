"""What the tests of the reading share."""

from collections.abc import Iterator

import pytest

from intake.read import reader
from knowledge import shipped_base
from tests.intake.small import BASE


@pytest.fixture
def wordings_alone() -> Iterator[None]:
    """Leave the model out of the reading; `test_second_look.py` says how little it may take back."""
    looks = {"disable": "second_look"}
    with reader(shipped_base()).select_pipes(**looks), reader(BASE).select_pipes(**looks):
        yield
