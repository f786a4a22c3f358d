"""The one place that imports experta, since the import needs help before it and a cleaning-up after it.

Before: its pinned frozendict 1.2 still looks for the abstract classes in `collections`, from where Python 3.10 took
them. After: experta calls `logging.basicConfig()`, which puts a handler on the root logger of whoever imports us.
Both are undone, so that importing this module leaves `collections` and the root logger as they were.
"""

import collections
import collections.abc
import logging
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def _old_collections() -> Iterator[None]:
    missing = [name for name in collections.abc.__all__ if not hasattr(collections, name)]
    for name in missing:
        setattr(collections, name, getattr(collections.abc, name))
    try:
        yield
    finally:
        for name in missing:
            delattr(collections, name)


@contextmanager
def _quiet_logging() -> Iterator[None]:
    handlers = list(logging.root.handlers)
    try:
        yield
    finally:
        for handler in [h for h in logging.root.handlers if h not in handlers]:
            logging.root.removeHandler(handler)
            handler.close()


with _old_collections(), _quiet_logging():
    from experta import NOT, Fact, InitialFact, KnowledgeEngine, Rule
    from experta.abstract import Matcher, Strategy
    from experta.activation import Activation
    from experta.agenda import Agenda
    from experta.factlist import FactList

__all__ = [
    "NOT",
    "Activation",
    "Agenda",
    "Fact",
    "FactList",
    "InitialFact",
    "KnowledgeEngine",
    "Matcher",
    "Rule",
    "Strategy",
]
