"""The domain as data, and the small code that loads and validates it.

base/*.toml ──load──▶ KnowledgeBase (frozen records of models.py)
                          │ references: every id that is used exists

Imports nothing of ours.
"""

from knowledge.load import load, shipped_base
from knowledge.models import KnowledgeBase

__all__ = ["KnowledgeBase", "load", "shipped_base"]
