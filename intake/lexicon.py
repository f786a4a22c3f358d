"""The knowledge base as the reading needs it: concepts, multi-word terms, vocabulary, compiled patterns."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, TypeVar, get_args

from intake import grammar
from intake.patterns import Element, Pattern, PatternSet, compound, parse
from intake.spelling import Spelling
from intake.terms import Terms
from intake.words import Word, split, stem
from knowledge.errors import KnowledgeError
from knowledge.models import Finding, KnowledgeBase
from knowledge.wordings import Cue

Owner = TypeVar("Owner")
Polarity = Literal["present", "absent", "denied"]

# The pipeline parts are made by name from plain settings: they find their lexicon here, by its key.
LEXICONS: dict[str, "Lexicon"] = {}

# Concepts with this beginning tell how a trial ended; the rest of the name is what the detail says.
OUTCOME = "outcome-"
# The words of this concept hide what is in them: no pattern reads a "pop" in "I'll pop in".
INNOCENT = "innocent"
# Things beside the machine: where one is the subject of a statement, the statement tells of it ("my phone beeps").
BYSTANDER = "bystander"
_SHORTEST_JOINED = 6


@dataclass(frozen=True)
class Said:
    """What a pattern of a wording says: the finding, and whether as present, absent, or as a bare mention."""

    finding: str
    polarity: Polarity
    detail: str | None
    about: frozenset[str] = frozenset()  # stems of the things, one of which must have been named last


class Lexicon:
    """The base, compiled once; everything in it is in the order of the files."""

    def __init__(self, base: KnowledgeBase) -> None:
        self.base = base
        self.findings: dict[str, Finding] = {finding.id: finding for finding in base.findings}
        self._concepts = {concept.id: concept for concept in base.concepts}
        self._terms = {
            concept.id: [tuple(word.norm for word in split(term.lstrip("="))) for term in concept.words]
            for concept in base.concepts
        }
        self._elements: dict[str, Element] = {}
        self.parts = {
            stem(" ".join(term)): concept.part
            for concept in base.concepts
            if concept.part
            for term in self._terms[concept.id]
        }
        self.bystanders, self.strangers, self.kin = (
            frozenset(stem(" ".join(term)) for term in self._terms.get(name, []))
            for name in (BYSTANDER, "stranger", "kin")
        )
        fillers = self._terms.get("filler", [])
        self.fillers = frozenset(map(stem, grammar.FILLERS | {term[0] for term in fillers if len(term) == 1}))
        self.fillers |= {" ".join(map(stem, term)) for term in fillers}
        self.terms = Terms(
            [*(term for terms in self._terms.values() for term in terms), *_compounds(base)],
            self.fillers,
            sealed=self._terms.get(INNOCENT, []),
        )
        faults: list[str] = []
        self.wordings = PatternSet(self.fillers, self._wording_patterns(base, faults))
        self.referents = frozenset[str]().union(*(pattern.owner.about for pattern in self.wordings))
        self.cues = PatternSet(frozenset(), self._cue_patterns(base, faults))
        self.outcomes = PatternSet(self.fillers, self._outcome_patterns(faults))
        if faults:
            raise KnowledgeError(faults)

    def concept(self, name: str) -> Element:
        """Give the element that matches any word of a concept; raise `KeyError` where there is none."""
        if name not in self._elements:
            self._elements[name] = self._element_of(name)
        return self._elements[name]

    def _element_of(self, name: str) -> Element:
        stems: set[str] = set()
        norms: set[str] = set()
        for word, term in zip(self._concepts[name].words, self._terms[name], strict=True):
            (norms if word.startswith("=") else stems).add(
                " ".join(term) if word.startswith("=") else stem(" ".join(term))
            )
        return Element(frozenset(stems), frozenset(norms))

    def mended(self, word: str) -> tuple[str, ...]:
        """Give the word or words that were meant: ("power", "supply") for "powersuply"-like slips, else the word."""
        word = self.spelling.with_g(word)
        if self.spelling.is_real(word):
            return (word,)
        return self._run_together.get(word) or tuple((self.spelling.mend(word) or word).split(" "))

    def joined(self, first: Word, second: Word) -> Word | None:
        """Join a word that was written apart: mother, board -> motherboard."""
        whole = first.norm + second.norm
        if second.start - first.end > 1 or len(whole) < _SHORTEST_JOINED or min(len(first.norm), len(second.norm)) < 2:
            return None
        if whole not in self._single_terms or {first.norm, second.norm} <= self.spelling.words:
            return None
        return Word(whole, first.start, second.end)

    @cached_property
    def spelling(self) -> Spelling:
        """The vocabulary: every word of the concepts, the wordings and the cues, and the words of grammar."""
        said = {word for pattern in (*self.wordings, *self.cues, *self.outcomes) for word in pattern.words}
        said |= {word for terms in self._terms.values() for term in terms for word in term}
        return Spelling(said | grammar.ENGLISH | grammar.NEGATIVE)

    @cached_property
    def _single_terms(self) -> frozenset[str]:
        return frozenset(term[0] for terms in self._terms.values() for term in terms if len(term) == 1)

    @cached_property
    def _run_together(self) -> dict[str, tuple[str, ...]]:
        phrases = (term for terms in self._terms.values() for term in terms if len(term) > 1)
        return {joined: term for term in phrases if len(joined := "".join(term)) >= _SHORTEST_JOINED}

    def _wording_patterns(self, base: KnowledgeBase, faults: list[str]) -> Iterator[Pattern[Said]]:
        for wording in base.wordings:
            for polarity in get_args(Polarity):
                said = Said(wording.finding, polarity, wording.detail, self._stems_of(wording.about, faults))
                for text in getattr(wording, polarity):
                    yield from self._parsed(text, said, f"wording {wording.finding!r}: {polarity}", faults)

    def _stems_of(self, concepts: tuple[str, ...], faults: list[str]) -> frozenset[str]:
        faults += [f"wording about {name!r}: no such concept" for name in concepts if name not in self._concepts]
        known = [self.concept(name) for name in concepts if name in self._concepts]
        return frozenset().union(*(element.stems | set(map(stem, element.norms)) for element in known))

    def _cue_patterns(self, base: KnowledgeBase, faults: list[str]) -> Iterator[Pattern[Cue]]:
        for cue in base.cues:
            for text in cue.say:
                yield from self._parsed(text, cue, f"cue of category {cue.category!r}", faults)

    def _outcome_patterns(self, faults: list[str]) -> Iterator[Pattern[str]]:
        for name in self._concepts:
            if name.startswith(OUTCOME):
                yield from self._parsed(f"{{{name}}}", name, f"concept {name!r}", faults)

    def _parsed(self, text: str, owner: Owner, place: str, faults: list[str]) -> Iterator[Pattern[Owner]]:
        try:
            for elements in self.terms.variants(tuple(parse(text, self))):
                yield Pattern(text, elements, owner)
        except (KeyError, ValueError) as error:
            reason = f"no concept {error.args[0]!r}" if isinstance(error, KeyError) else error
            faults.append(f"{place}: pattern {text!r}: {reason}")


def _compounds(base: KnowledgeBase) -> Iterator[tuple[str, ...]]:
    """Words of several parts among the choices of patterns ("self-built|custom-built"): terms too, to match as one."""
    wordings = (text for wording in base.wordings for text in (*wording.present, *wording.absent, *wording.denied))
    for text in (*wordings, *(text for cue in base.cues for text in cue.say)):
        for piece in text.split():
            choices = piece.removesuffix("?").split("|")
            if len(choices) > 1:
                yield from (term for choice in choices if len(term := compound(choice)) > 1)
