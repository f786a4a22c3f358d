"""How many tests run at once."""

import os


def pytest_xdist_auto_num_workers() -> int:
    """Give one more than the processors: the pseudo-terminals and the clusters mostly wait."""
    return (os.cpu_count() or 1) + 1
