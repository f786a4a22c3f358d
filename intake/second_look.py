"""A second look, by three models: they propose what the wordings miss, and take back what is found out of place.

A proposal is a guess, to be asked about. How likely a message says a finding is weighed (`intake.weighing`) by what the
models, which have learned from denials, other people's machines and old stories, make of its clauses and of the whole,
by what the wordings have found, and by what the context, which knows such things too, has dropped.
Taken back is what a wording tells and the message most likely does not say, or of which it rather says the opposite; a
danger, which is rather raised too often, only against long odds or where its denial is likely; and so is what stands
in a plain sentence, one that wordings and context explain to the last word. Of two findings of which one is guessed
and that exclude one another only the likelier is left.
Needs the scope. Changes `doc._.mentions`, adds an edge for each that is gone, and sets `doc._.proposals`.
"""

from bisect import bisect_left
from collections.abc import Collection, Iterable, Mapping
from typing import TYPE_CHECKING, cast

from spacy.lang.en.stop_words import STOP_WORDS
from spacy.language import Language
from spacy.tokens import Doc

from intake.evidence import evidence_of, opposite
from intake.language import language_of
from intake.likelihood import Likelihoods, likelihoods_of
from intake.mentions import Mention, Polarity
from intake.model import Label, columns_of, shipped_model
from intake.reading import Edge
from intake.resolve import resolve
from knowledge.models import Finding

if TYPE_CHECKING:
    from intake.lexicon import Lexicon

# How likely what is proposed or kept must be so; chosen on the held messages of the corpus.
_PROPOSED, _DANGER_PROPOSED = 0.45, 0.08  # a danger is asked about once too often rather than once too rarely
_TOLD, _DANGER_TOLD = 0.25, 0.02
_SURE, _DOUBTED = 0.95, 0.6  # for what is told in both states, the one likelier than the first
_PLAIN, _DANGER_PLAIN = 0.1, 0.01  # what stands in a plain sentence; a danger in one only where it is denied besides
_DENIED, _DANGER_DENIED = 0.85, 0.25  # for a danger whose contrary is likelier than the first
# How likely a proposal is not so, in steps, since odds are not the same to the last digit on another machine. A doubt
# of a half would say nothing.
_STEP = 0.05
_LEAST_DOUBT, _MOST_DOUBT = 0.05, 0.4


class SecondLook:
    """Adds to what the wordings found, and takes from it."""

    def __init__(self, lexicon: "Lexicon") -> None:
        self._dangers = frozenset(id for id, finding in lexicon.findings.items() if finding.kind == "danger")
        self._findings = lexicon.findings
        self._excluded = _excluded(lexicon.findings.values())

    def __call__(self, doc: Doc) -> Doc:
        """Take back what is out of place; propose one mention for a finding at most, of what is told already too: that
        is a guess where nothing is left of it, as within a longer wording (`intake.resolve.unsaid`).

        Of another language than English the models know nothing.
        """
        doc._.proposals = []
        if language_of(doc) != "en":
            return doc
        model = shipped_model()
        likelihoods = likelihoods_of(doc, model)
        told = {(mention.finding, mention.polarity) for mention in doc._.mentions}
        evidence = evidence_of(doc, model, likelihoods, self._dangers)
        chances = dict(zip(model.labels, model.weighing.chances(evidence).tolist(), strict=True))
        plain = self._plain(doc)
        weighed = (told & chances.keys()) - (plain & (_hedged(doc) | _denied_twice(doc)))
        gone = {label for label in weighed if self._is_out_of_place(label, told, plain, chances)}
        likely = self._likely(chances)
        stands = {(mention.finding, mention.polarity) for mention in self._settled(doc, gone)}
        contradicted = self._contradicted((weighed - gone) & stands, likely - told, chances)
        gone |= contradicted
        out = [mention for mention in doc._.mentions if (mention.finding, mention.polarity) in gone]
        doc._.mentions = [mention for mention in doc._.mentions if (mention.finding, mention.polarity) not in gone]
        doc._.proposals = _proposals(doc, columns_of(model.labels), likelihoods, likely - contradicted, chances)
        doc._.edges = [*(doc._.edges or ()), *(_edge(doc, mention) for mention in out)]
        return doc

    def _is_out_of_place(self, label: Label, told: set[Label], plain: set[Label], chances: dict[Label, float]) -> bool:
        chance, other = chances[label], opposite(label)
        if self._is_danger(label):
            return chance < _least_danger(label in plain, chances.get(other, 0) > _DENIED)
        if label in plain:
            return chance < _PLAIN
        if other in told:
            return chance < (_DOUBTED if chances.get(other, 0) > _SURE else _TOLD)
        return chance < _TOLD or chances.get(other, 0) > max(chance, _PROPOSED)

    def _plain(self, doc: Doc) -> set[Label]:
        """Give what stands in a sentence that wordings and context explain to the last word, of a danger but one."""
        left = _left_over(doc)
        labels = ((mention, (mention.finding, mention.polarity)) for mention in doc._.mentions)
        return {label for mention, label in labels if left[mention.start] <= self._is_danger(label)}

    def _is_danger(self, label: Label) -> bool:
        return label[0] in self._dangers and label[1] == "present"

    def _likely(self, chances: Mapping[Label, float]) -> set[Label]:
        """Give what may be guessed, of each finding the likelier state."""
        likely = [
            label
            for label, chance in chances.items()
            if label[0] in self._findings and chance > (_DANGER_PROPOSED if self._is_danger(label) else _PROPOSED)
        ]
        return set({label[0]: label for label in sorted(likely, key=lambda label: chances[label])}.values())

    def _settled(self, doc: Doc, gone: set[Label]) -> list[Mention]:
        """Give what would stand of what is told, without what is gone."""
        kept = (mention for mention in doc._.mentions if (mention.finding, mention.polarity) not in gone)
        return [mention for _, mention in resolve(kept, self._findings)[0]]

    def _contradicted(self, told: set[Label], guessed: set[Label], chances: Mapping[Label, float]) -> set[Label]:
        """Give what something likelier excludes, where one of the two is a guess; else the wordings judge."""
        left: set[Label] = set()
        for label in sorted(told | guessed, key=lambda label: (-chances[label], label)):
            rivals = left if label in guessed else left & guessed
            if not any(frozenset((label, other)) in self._excluded for other in rivals):
                left.add(label)
        return (told | guessed) - left


def _excluded(findings: Iterable[Finding]) -> set[frozenset[Label]]:
    """Give the pairs that are never said together."""
    pairs = ((finding.id, claim.partition("=")) for finding in findings for claim in finding.excludes)
    return {frozenset(((id, "present"), (other, state or "present"))) for id, (other, _, state) in pairs}


def _proposals(
    doc: Doc,
    columns: Mapping[Label, int],
    likelihoods: Likelihoods,
    guesses: Collection[Label],
    chances: Mapping[Label, float],
) -> list[Mention]:
    """Give a mention for each guess, of the words that point to it most."""
    proposals = []
    for finding, state in guesses:
        start, end = likelihoods.likeliest(columns[finding, state])
        doubt = _doubt(chances[finding, state])
        words = frozenset(range(start, end))
        proposals.append(Mention(finding, cast(Polarity, state), start, end, words, doubt=doubt))
    return sorted(proposals, key=lambda mention: (mention.start, mention.end, mention.finding))


def _least_danger(is_plain: bool, is_denied: bool) -> float:
    """Give how likely a danger that a wording tells must be so, to be kept."""
    if is_plain:
        return _DANGER_PLAIN if is_denied else 0
    return _DANGER_DENIED if is_denied else _DANGER_TOLD


def _hedged(doc: Doc) -> set[Label]:
    """Give what the writer doubts; in a plain sentence that is all the doubt there is, and it is told with it."""
    return {(mention.finding, mention.polarity) for mention in doc._.mentions if mention.hedged}


def _denied_twice(doc: Doc) -> set[Label]:
    """Give what is present by two noes ("never fails to"); in a plain sentence the context knows better than models."""
    noes: dict[tuple[str, int], set[int]] = {}
    for edge in doc._.edges or ():
        if edge.category == "negated":
            noes.setdefault((edge.finding, edge.start), set()).add(edge.modifier_start)
    present = [mention for mention in doc._.mentions if mention.polarity == "present"]
    starts = ((mention, (mention.finding, doc._.offsets[mention.start][0])) for mention in present)
    return {(mention.finding, mention.polarity) for mention, start in starts if len(noes.get(start, ())) > 1}


def _left_over(doc: Doc) -> dict[int, int]:
    """Give for each token how many words of its sentence nothing explains, the commonest words left aside."""
    edges = doc._.edges or ()
    spans = [*((edge.modifier_start, edge.modifier_end) for edge in edges), *((edge.start, edge.end) for edge in edges)]
    starts = [start for start, _ in doc._.offsets]
    explained = {at for mention in doc._.mentions for at in mention.literal}
    for start, end in spans:
        explained.update(range(bisect_left(starts, start), bisect_left(starts, end)))
    left: dict[int, int] = {}
    for sentence in doc.sents:
        words = (token for token in sentence if token.tag_ == "WORD" and token.text not in STOP_WORDS)
        count = sum(token.i not in explained for token in words)
        left |= dict.fromkeys(range(sentence.start, sentence.end), count)
    return left


def _doubt(chance: float) -> float:
    """Give how likely what is proposed with this chance is not so."""
    doubt = round((1 - chance) / _STEP) * _STEP
    return round(min(max(doubt, _LEAST_DOUBT), _MOST_DOUBT), 2)


def _edge(doc: Doc, mention: Mention) -> Edge:
    """The clause takes the mention back."""
    first, last = (doc._.clauses[doc._.clause_of[at]] for at in (mention.start, mention.end - 1))
    start, end = doc._.offsets[first[0]][0], doc._.offsets[last[1] - 1][1]
    place = doc._.offsets[mention.start][0], doc._.offsets[mention.end - 1][1]
    return Edge("unlikely", doc._.text[start:end], start, end, mention.finding, *place)


@Language.factory("second_look", default_config={"lexicon": ""})
def make_second_look(nlp: Language, name: str, lexicon: str) -> SecondLook:
    """Make the part of the pipeline; `lexicon` is the key of one in `intake.lexicon.LEXICONS`."""
    from intake.lexicon import LEXICONS

    return SecondLook(LEXICONS[lexicon])
