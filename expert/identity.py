"""A key for caches that hold one thing for each knowledge base."""

from knowledge.models import KnowledgeBase


class ByIdentity:
    """A base as the very object it is: comparing whole bases would cost more than the cache saves."""

    def __init__(self, base: KnowledgeBase) -> None:
        self.base = base

    def __hash__(self) -> int:  # noqa: D105  # the class says it
        return id(self.base)

    def __eq__(self, other: object) -> bool:  # noqa: D105
        return isinstance(other, ByIdentity) and self.base is other.base
