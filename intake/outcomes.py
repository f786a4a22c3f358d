"""How a trial ended: "swapped the lead, no change" gives `lead-swapped` the detail "no change".

The outcome is looked for from the trial on, in the same sentence or the next; else before it in the same sentence ("no
change with another lead"). What to look for are the concepts `outcome-...` of the base; the detail is the rest of the
concept's name in words, so that a rule can ask for it. Needs the scope. Changes `doc._.mentions`.
"""

from bisect import bisect_right
from dataclasses import replace
from typing import TYPE_CHECKING

from spacy.language import Language
from spacy.tokens import Doc, Span, Token

from intake import grammar
from intake.mentions import Mention
from intake.replies import replies

if TYPE_CHECKING:
    from intake.lexicon import Lexicon

_NO_CHANGE = "outcome-no-change"


class Outcomes:
    """Fills in the detail of mentions that carry an outcome."""

    def __init__(self, lexicon: "Lexicon") -> None:
        self.lexicon = lexicon

    def __call__(self, doc: Doc) -> Doc:
        """Give each trial its outcome where one is told."""
        trials = [mention for mention in doc._.mentions if mention.detail_kind == "outcome"]
        if not trials:
            return doc
        sentences = list(doc.sents)
        starts = [sentence.start for sentence in sentences]
        ended = {
            trial: self._outcome(doc, trial, trials, sentences, bisect_right(starts, trial.start) - 1)
            for trial in trials
        }
        shown = {mention for mention in doc._.mentions if self._is_shown_by_trial(mention, trials, starts)}
        doc._.mentions = [
            replace(mention, detail=ended.get(mention, mention.detail))
            for mention in doc._.mentions
            if mention not in shown
        ]
        return doc

    def _is_shown_by_trial(self, mention: Mention, trials: list[Mention], starts: list[int]) -> bool:
        """Tell whether a sign only came with a trial before it in the sentence: "with his card I got a picture"."""
        if mention.polarity != "present" or not self.lexicon.findings[mention.finding].ends_trials:
            return False
        first = starts[bisect_right(starts, mention.start) - 1]
        return any(trial.polarity == "present" and first <= trial.start < mention.start for trial in trials)

    def _dangers(self, doc: Doc) -> list[Mention]:
        return [mention for mention in doc._.mentions if self.lexicon.findings[mention.finding].kind == "danger"]

    def _outcome(
        self, doc: Doc, trial: Mention, trials: list[Mention], sentences: list[Span], number: int
    ) -> str | None:
        same = self._told(sentences[number])
        after = [told for told in same if told[0] >= trial.start]  # "another lead made no difference" tells both
        if after:
            return after[0][1]
        before = [told for told in same if told[0] < trial.start]
        if before and not any(
            before[-1][0] < other.start < trial.start for other in trials if not other.overlaps(trial)
        ):
            return before[-1][1]
        for told in self._told(sentences[number + 1]) if number + 1 < len(sentences) else []:
            start = sentences[number + 1].start
            other_things = (*trials, *self._dangers(doc))  # "there was a smell, but it is gone now" tells of the smell
            return None if any(start <= other.start < told[0] for other in other_things) else told[1]
        return None

    def _told(self, sentence: Span) -> list[tuple[int, str]]:
        """The outcomes told in a sentence: first token, and the outcome in words; the longest where they overlap."""
        asked = sentence.doc._.questions
        hits = [
            (match.start, match.end, pattern.owner)
            for pattern, match in self.lexicon.outcomes.find(sentence)
            if sentence.doc._.clause_of[match.start] not in asked
        ]
        for reply in replies(sentence):
            if reply.denied and any(reply.start <= start < reply.end for start, _, _ in hits):
                hits = [hit for hit in hits if hit[0] >= reply.last] + [(reply.start, reply.last, _NO_CHANGE)]
        words = [token for token in sentence if token.tag_ == "WORD"]
        if words and words[-1].text in grammar.DENIALS and (len(words) == 1 or _stands_alone(words[-1])):
            hits.append((words[-1].i, words[-1].i + 1, _NO_CHANGE))  # "Nope.", "pressed the memory home, nothing"
        hits.sort(key=lambda hit: (hit[0] - hit[1], hit[0], hit[2]))
        kept: list[tuple[int, int, str]] = []
        for hit in hits:
            if all(hit[1] <= other[0] or other[1] <= hit[0] for other in kept):
                kept.append(hit)
        return sorted((start, owner.removeprefix("outcome-").replace("-", " ")) for start, _, owner in kept)


def _stands_alone(word: Token) -> bool:
    return word.nbor(-1).text in (",", ":") or word.nbor(-1).text in grammar.DASHES


@Language.factory("outcomes", default_config={"lexicon": ""})
def make_outcomes(nlp: Language, name: str, lexicon: str) -> Outcomes:
    """Make the part of the pipeline; `lexicon` is the key of one in `intake.lexicon.LEXICONS`."""
    from intake.lexicon import LEXICONS

    return Outcomes(LEXICONS[lexicon])
