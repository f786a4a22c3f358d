"""How a trial ended: "swapped the lead, no change" gives `lead-swapped` the detail "no change".

The outcome is looked for from the trial on, in the same sentence or the next; else before it in the same sentence ("no
change with another lead"). What to look for are the concepts `outcome-...` of the base; the detail is the rest of the
concept's name in words, so that a rule can ask for it. Some of these concepts are no ends themselves: the trouble is
back, which makes a cure one for a while; it is better in part, or what was put in was taken out again, which ends what
is told of the trial; and words that only look like an outcome, such as that of another machine, count for nothing.
A cure of several trials is told of the last, no change of them all. Where nothing is said in words, a sign that was
told before the trial and again right after it tells that nothing has changed.
Needs the scope and the second look. Changes `doc._.mentions` and `doc._.proposals`.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from spacy.language import Language
from spacy.tokens import Doc, Span, Token

from intake import grammar
from intake.mentions import Mention
from intake.replies import replies

if TYPE_CHECKING:
    from intake.lexicon import Lexicon

_CURED, _FOR_A_WHILE, _NO_CHANGE = "cured", "for a while", "no change"
_BACK, _IN_PART, _UNDONE, _NOT_IT = "back", "in part", "undone", "not it"
_GOOD = frozenset([_CURED, _FOR_A_WHILE])
_DENIED = {_CURED: _NO_CHANGE, _FOR_A_WHILE: _NO_CHANGE, _BACK: _CURED}
_TRIALS = frozenset(["outcome", _CURED])  # what the detail of a trial's wording may be
# Between an outcome and the trial after it these tell that it is not the outcome of that one: "no picture, so I tried".
_PARTS = grammar.CONTRASTS | grammar.SEQUENCE | grammar.UNTIL | frozenset(["so", "before", "because", ";"])
_BARE = grammar.DENIALS | {"still"}  # by itself: "Nope.", "another lead, still."
_DENIAL_NEAR = 3  # words from a denial to the cure that it denies, at most: "that has not | really | fixed it"
_SENTENCES_ON = 2  # how far a cure is followed to see whether it lasted


class Told(NamedTuple):
    """An outcome told at tokens start..end (half-open)."""

    start: int
    end: int
    outcome: str


class Outcomes:
    """Fills in the detail of mentions that carry an outcome."""

    def __init__(self, lexicon: "Lexicon") -> None:
        self.lexicon = lexicon

    def __call__(self, doc: Doc) -> Doc:
        """Give each trial its outcome where one is told."""
        mentions, proposals = doc._.mentions, doc._.proposals or []
        trials = [mention for mention in (*mentions, *proposals) if self._is_trial(mention)]
        if not trials:
            return doc
        story = _Story(doc, trials, self.lexicon)
        ended = {trial: detail for trial in trials if (detail := story.outcome(trial))}
        shown = {mention for mention in mentions if self._is_shown_by_trial(mention, trials, story.starts)}
        doc._.mentions = [_with(mention, ended) for mention in mentions if mention not in shown]
        doc._.proposals = [_with(mention, ended) for mention in proposals]
        return doc

    def _is_trial(self, mention: Mention) -> bool:
        finding = self.lexicon.findings[mention.finding]
        proposed = mention.detail_kind is None and mention.polarity == "present"
        return finding.detail == "outcome" and (mention.detail_kind in _TRIALS or proposed)

    def _is_shown_by_trial(self, mention: Mention, trials: list[Mention], starts: list[int]) -> bool:
        """Tell whether a sign only came with a trial before it in the sentence: "with his card I got a picture"."""
        if mention.polarity != "present" or not self.lexicon.findings[mention.finding].ends_trials:
            return False
        first = starts[bisect_right(starts, mention.start) - 1]
        return any(trial.polarity == "present" and first <= trial.start < mention.start for trial in trials)


class _Story:
    """The trials of a message, and what is told of their ends."""

    def __init__(self, doc: Doc, trials: list[Mention], lexicon: "Lexicon") -> None:
        self.doc = doc
        self.trials = trials
        self.lexicon = lexicon
        self.sentences = list(doc.sents)
        self.starts = [sentence.start for sentence in self.sentences]
        kinds = {id_: finding.kind for id_, finding in lexicon.findings.items()}
        self.dangers = [mention for mention in doc._.mentions if kinds[mention.finding] == "danger"]
        self.signs = [mention for mention in doc._.mentions if kinds[mention.finding] == "sign"]
        self._told: dict[int, list[Told]] = {}

    def outcome(self, trial: Mention) -> str | None:
        """The outcome of a trial in words, as a rule asks for it."""
        number = bisect_right(self.starts, trial.start) - 1
        here = self._ends(number)
        after = [told for told in here if told.start >= trial.start]  # "another lead made no difference" tells both
        if after:
            return None if self._is_undoing(trial, number, after[0]) else self._verdict(trial, after[0])
        before = [told for told in here if told.start < trial.start]
        if before and (detail := self._told_before(trial, before[-1])):
            return detail
        if self._is_awaited(trial, number):
            return _CURED
        return self._told_next(trial, number) or self._told_by_sign(trial, number)

    def told(self, number: int) -> list[Told]:
        """The outcomes told in a sentence, in its order; none in one past the last."""
        if number >= len(self.sentences):
            return []
        if number not in self._told:
            found = _told(self.sentences[number], self.lexicon)
            self._told[number] = [told for told in found if told.outcome != _NOT_IT]
        return self._told[number]

    def _ends(self, number: int) -> list[Told]:
        """The outcomes told in a sentence that a trial may have."""
        return [told for told in self.told(number) if told.outcome != _UNDONE]

    def _others(self, trial: Mention, start: int, end: int) -> list[Mention]:
        """The other trials that begin at tokens start..end; one in words of the trial itself is the same one."""
        return [
            other
            for other in self.trials
            if start <= other.start < end and other.finding != trial.finding and not other.overlaps(trial)
        ]

    def _verdict(self, trial: Mention, first: Told) -> str | None:
        """What the outcome told first makes of a trial, with what is told after it."""
        if first.outcome in _GOOD and self._others(trial, trial.start, first.start):
            return None  # which of them was it?
        if first.outcome == _CURED:
            return self._lasting(first)
        if first.outcome == _BACK:
            return _NO_CHANGE
        return first.outcome if first.outcome in (_NO_CHANGE, _FOR_A_WHILE) else None

    def _lasting(self, cure: Told) -> str | None:
        """Tell whether a cure lasted: cured, for a while, or neither where something is still wrong."""
        number = bisect_right(self.starts, cure.start) - 1
        for ahead in range(number, min(number + _SENTENCES_ON + 1, len(self.sentences))):
            for told in self.told(ahead):
                if told.start <= cure.start:
                    continue
                if told.outcome == _UNDONE or self._is_of_another(cure.end, told.start):
                    return _CURED
                if told.outcome in (_BACK, _FOR_A_WHILE):
                    return _FOR_A_WHILE
                if told.outcome in (_NO_CHANGE, _IN_PART) and ahead <= number + 1:
                    return None
        return _CURED

    def _is_of_another(self, start: int, end: int) -> bool:
        """Tell whether another trial, or a danger, is told of at tokens start..end: what follows is said of that."""
        return any(start <= other.start < end for other in (*self.trials, *self.dangers))

    def _told_before(self, trial: Mention, told: Told) -> str | None:
        between = {token.text for token in self.doc[told.end : trial.start]}
        if between & _PARTS:
            return None
        if told.outcome == _CURED and not self._others(trial, told.start, trial.start):
            return _CURED
        return told.outcome if told.outcome == _NO_CHANGE else None

    def _is_undoing(self, trial: Mention, number: int, told: Told) -> bool:
        """Tell whether what was there only went back: "then he put his card back in and it's black again"."""
        undone = [each for each in self.told(number) if each.outcome == _UNDONE]
        return told.outcome == _BACK and any(each.start < trial.end and trial.start < each.end for each in undone)

    def _is_awaited(self, trial: Mention, number: int) -> bool:
        """Tell whether a sign was there up to the trial: "no picture until I pushed the memory home"."""
        start = self.starts[number]
        near = {token.text for token in self.doc[max(trial.start - 3, start) : trial.start]}
        return bool(near & grammar.UNTIL) and any(start <= sign.start < trial.start for sign in self.signs)

    def _told_next(self, trial: Mention, number: int) -> str | None:
        """The outcome told in the next sentence, or after further trials in those after it: "neither helped"."""
        for ahead in range(number + 1, min(number + 2 + _SENTENCES_ON, len(self.sentences))):
            start = self.starts[ahead]
            first = next(iter(self._ends(ahead)), None)
            if first is None:
                if not self._others(trial, start, self.sentences[ahead].end):
                    return None
                continue
            if any(told.outcome == _UNDONE and told.start < first.start for told in self.told(ahead)):
                return None
            if not self._is_of_another(start, first.start) and ahead == number + 1:
                return self._verdict(trial, first)
            words = {word for token in self.doc[first.start : first.end + 2] for word in token.text.split(" ")}
            return _NO_CHANGE if first.outcome == _NO_CHANGE and words & grammar.OF_ALL else None
        return None

    def _told_by_sign(self, trial: Mention, number: int) -> str | None:
        """No change, where a sign told before the trial is told again after it, before anything else was tried."""
        if self.told(number + 1):
            return None
        end = self.sentences[min(number + 1, len(self.sentences) - 1)].end
        known = {(sign.finding, sign.polarity) for sign in self.signs if sign.end <= trial.start}
        for sign in self.signs:
            if trial.end <= sign.start < end and not sign.hedged and (sign.finding, sign.polarity) in known:
                return None if self._is_of_another(trial.end, sign.start) else _NO_CHANGE
        return None


def _with(mention: Mention, ended: dict[Mention, str]) -> Mention:
    """The mention with its outcome; where the wording itself tells of a cure, that can only have been for a while."""
    detail = ended.get(mention)
    if detail is None or (mention.detail is not None and detail != _FOR_A_WHILE):
        return mention
    return replace(mention, detail=detail)


def _told(sentence: Span, lexicon: "Lexicon") -> list[Told]:
    """The outcomes told in a sentence, in its order; the longest where they overlap, and in doubt no cure."""
    hits = list(_hits(sentence, lexicon))
    for reply in replies(sentence):
        if reply.denied and any(reply.start <= hit.start < reply.end for hit in hits):
            hits = [hit for hit in hits if hit.start >= reply.last] + [Told(reply.start, reply.last, _NO_CHANGE)]
    words = [token for token in sentence if token.tag_ == "WORD"]
    if words and words[-1].text in _BARE and (len(words) == 1 or _stands_alone(words[-1])):
        hits.append(Told(words[-1].i, words[-1].i + 1, _NO_CHANGE))  # "Nope.", "pressed the memory home, nothing"
    hits.sort(key=_rank)
    kept: list[Told] = []
    for hit in hits:
        if all(hit.end <= other.start or other.end <= hit.start for other in kept):
            kept.append(hit)
    return sorted(kept)


def _hits(sentence: Span, lexicon: "Lexicon") -> Iterator[Told]:
    doc = sentence.doc
    for pattern, match in lexicon.outcomes.find(sentence):
        if doc._.clause_of[match.start] in doc._.questions:
            continue
        outcome = pattern.owner.removeprefix("outcome-").replace("-", " ")
        denied = outcome in _DENIED and _is_denied(doc, match.start, match.end, match.literal)
        yield Told(match.start, match.end, _DENIED[outcome] if denied else outcome)


def _is_denied(doc: Doc, start: int, end: int, literal: frozenset[int]) -> bool:
    """Tell whether a cure is denied: "that has not fixed it"; not where the denial is part of it ("no crashes")."""
    if any(_denies(doc[i]) for i in range(start, end) if i not in literal):
        return True
    if any(_denies(doc[i]) for i in literal):
        return False
    for i in range(start - 1, max(start - 1 - _DENIAL_NEAR, -1), -1):
        if _denies(doc[i]):
            return True
        if doc[i].text not in grammar.FILLERS:
            return False
    return False


def _rank(hit: Told) -> tuple[bool, int, int, bool, str]:
    """That the trouble is back comes first, then the longest."""
    return hit.outcome != _BACK, hit.start - hit.end, hit.start, hit.outcome == _CURED, hit.outcome


def _denies(word: Token) -> bool:
    return not grammar.NEGATIVE.isdisjoint(word.text.split(" "))  # "can not" may be one term


def _stands_alone(word: Token) -> bool:
    return word.nbor(-1).text in (",", ":", "and", "n") or word.nbor(-1).text in grammar.DASHES


@Language.factory("outcomes", default_config={"lexicon": ""})
def make_outcomes(nlp: Language, name: str, lexicon: str) -> Outcomes:
    """Make the part of the pipeline; `lexicon` is the key of one in `intake.lexicon.LEXICONS`."""
    from intake.lexicon import LEXICONS

    return Outcomes(LEXICONS[lexicon])
