"""A cue found in a message: what it says of the mentions in its reach, and which these are."""

from typing import NamedTuple

from spacy.tokens import Doc

from intake import grammar
from intake.mentions import Mention

STRANGER = "stranger"  # the category of what tells of somebody else's machine


class Modifier(NamedTuple):
    """A cue found at tokens start..end, reaching over `reach` (tokens, half-open)."""

    category: str
    start: int
    end: int
    reach: tuple[int, int]
    of_list: bool = False
    core: frozenset[int] = frozenset()  # the words that carry it: `not` of "not any"
    answers: bool = False  # it answers a question

    def touches(self, start: int, end: int) -> bool:
        """Tell whether its words or its reach stand among the tokens start..end: it covers nothing elsewhere."""
        return min(self.start, self.reach[0]) < end and start < max(self.end, self.reach[1])

    def covers(self, mention: Mention) -> bool:
        """Tell whether the mention is modified; never where the pattern names the cue's own words ("not {respond}")."""
        if self.category == "other" and self.start <= mention.start and mention.end <= self.end:
            return True  # "my daughter's laptop is fine" names a laptop, but not this one
        if self.category == "hypothetical" and self.start < mention.start == self.end - 1 < self.reach[0]:
            return True  # "when you clean inside": the cue ends with what it tells of
        over = self.category in ("past", "refuted") and self.start < mention.start < self.end
        if over and self.end < mention.end <= self.reach[1]:
            return True  # "the one that would not | turn on": the cue ends within what it tells of
        if mention.literal & self.core:
            return False
        if self.category == STRANGER and self.reach[0] <= mention.start < self.reach[1]:
            return True  # "a friend's goes off when he renders; mine only freezes": no sign of both together
        if mention.start <= self.start and self.end <= mention.end:
            return any(self.reach[0] <= token < self.reach[1] for token in mention.literal)
        token = mention.start if self.reach[0] >= self.end else mention.end - 1
        return self.reach[0] <= token < self.reach[1]

    def straddles(self, doc: Doc, mention: Mention) -> bool:
        """Tell whether a mention ends past the contrast to what is denied: "no crash in games, but it freezes"."""
        last = self.reach[1]
        begins = self.category == "negated" and self.start < mention.start < last
        return begins and last < mention.end and doc[last].text in grammar.CONTRASTS
