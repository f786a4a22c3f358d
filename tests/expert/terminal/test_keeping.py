"""What a session keeps, held against what stands in the store."""

from expert.store import Store
from expert.terminal.keeping import Keeper
from tests.expert.terminal.talk import after, begun


def ticking():
    """Give a clock that is a second later at each look."""
    seconds = iter(range(60))
    return lambda: f"2026-03-14T10:00:{next(seconds):02d}Z"


def test_the_times_are_those_of_the_store(tmp_path):
    """What the session knows of its entries is what another terminal reads, times included."""
    with Store.open(tmp_path, ticking()) as store:
        keeper, now = Keeper(store), begun()
        keeper.keep(now)
        keeper.keep(after(now, "note the owner calls back at six"))
        assert keeper.number is not None
        assert keeper.stamped == store.stamped(keeper.number)
        assert len({at for at, _ in keeper.stamped}) == 2


def test_a_case_that_was_deleted_elsewhere_is_not_said_to_be_kept(tmp_path):
    """Another terminal deletes it while the session is open."""
    with Store.open(tmp_path, ticking()) as store:
        keeper = Keeper(store)
        keeper.keep(begun())
        assert "is kept, 1 entry;" in keeper.opened
        store.delete(1)
        assert "no longer in the store" in keeper.opened
