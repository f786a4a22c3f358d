"""The base compiled for the reading, as plain data: parsed patterns, terms, vocabulary; kept between starts.

base ──compiled──▶ lists, dictionaries, words ──JSON──▶ cache ──▶ Lexicon

Compiling takes most of a second, reading what was kept a hundredth of one. The lexicon is made of the plain data
either way, so that nothing can depend on whether they were kept.
"""

import json
import sys
from collections.abc import Iterable, Iterator
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path
from typing import Any, get_args

from intake import grammar
from intake.expression import needs_of
from intake.mentions import Polarity
from intake.patterns import Element, Pattern, compound, index_of, parse
from intake.shapes import Expressions
from intake.spelling import Spelling
from intake.terms import Terms
from intake.words import split, stem
from knowledge.cache import keep, key_of, recall, source_of
from knowledge.errors import KnowledgeError
from knowledge.load import BASE
from knowledge.models import KnowledgeBase

Plain = dict[str, Any]

# Concepts with this beginning tell how a trial ended; the rest of the name is what the detail says.
OUTCOME = "outcome-"
# The words of this concept hide what is in them: no pattern reads a "pop" in "I'll pop in".
INNOCENT = "innocent"
# Things beside the machine: where one is the subject of a statement, the statement tells of it ("my phone beeps").
BYSTANDER = "bystander"
SHORTEST_JOINED = 6  # letters of a word that may have been written apart, or of words run together

# All of the base that is compiled.
_READ = {"concepts", "wordings", "cues", "pieces", "namings", "shapes", "code_shapes"}


def prepared(base: KnowledgeBase, cache_folder: Path | None = None) -> Plain:
    """Give what `compiled` gives, from the cache where the very same words were compiled before."""
    key = key_of(
        (
            *source_of(Path(__file__).parent),
            *source_of(BASE.parent),  # the names of numbers in expressions, for one
            sys.version.encode(),  # the letters of Unicode
            *(version(library).encode() for library in ("snowballstemmer", "wordfreq")),
            base.model_dump_json(include=_READ).encode(),
        )
    )
    if kept := recall("lexicon", key, cache_folder):
        with suppress(ValueError):
            plain: Plain = json.loads(kept)
            return plain
    made = compiled(base)
    keep("lexicon", key, json.dumps(made, ensure_ascii=False, separators=(",", ":")).encode(), cache_folder)
    return made


def compiled(base: KnowledgeBase) -> Plain:
    """Compile a base: only lists, dictionaries, words and numbers, in the order of the files or sorted.

    Raises `KnowledgeError` with a line for each pattern that is none.
    """
    return Compiler(base).plain()


class Compiler:
    """One base while it is compiled; `parse` asks it for its concepts and terms."""

    def __init__(self, base: KnowledgeBase) -> None:
        self._base = base
        self._concepts = {concept.id: concept for concept in base.concepts}
        self._words = {
            concept.id: [tuple(word.norm for word in split(term.lstrip("="))) for term in concept.words]
            for concept in base.concepts
        }
        self._elements: dict[str, Element] = {}
        self._numbers: dict[Element, int] = {}  # of all the elements of patterns, in the order of their first use
        self._faults: list[str] = []
        fillers = self._words.get("filler", [])
        self.fillers = frozenset(map(stem, grammar.FILLERS | {term[0] for term in fillers if len(term) == 1}))
        self.fillers |= {" ".join(map(stem, term)) for term in fillers}
        self.terms = Terms(
            _stemmed([*(term for terms in self._words.values() for term in terms), *_compounds(base)]),
            self.fillers,
            sealed=_stemmed(self._words.get(INNOCENT, [])),
        )

    def concept(self, name: str) -> Element:
        """Give the element that matches any word of a concept; raise `KeyError` where there is none."""
        if name not in self._elements:
            pairs = list(zip(self._concepts[name].words, map(" ".join, self._words[name]), strict=True))
            self._elements[name] = Element(
                frozenset(stem(term) for word, term in pairs if not word.startswith("=")),
                frozenset(term for word, term in pairs if word.startswith("=")),
            )
        return self._elements[name]

    def plain(self) -> Plain:
        """Give all of it."""
        wordings, cues, outcomes = list(self._wordings()), list(self._cues()), list(self._outcomes())
        if self._faults:
            raise KnowledgeError(self._faults)
        single = sorted({term[0] for terms in self._words.values() for term in terms if len(term) == 1})
        phrases = (term for terms in self._words.values() for term in terms if len(term) > 1)
        patterns: list[Pattern[Any]] = [*wordings, *cues, *outcomes]
        words = {word for pattern in patterns for word in pattern.words}
        words |= {word for terms in self._words.values() for term in terms for word in term}
        return {
            "parts": self._parts(),
            **{name: self._stems(name) for name in (BYSTANDER, "stranger", "kin")},
            "fillers": sorted(self.fillers),
            "terms": [list(term) for term in self.terms],
            "single terms": single,
            "run together": {"".join(term): list(term) for term in phrases if len("".join(term)) >= SHORTEST_JOINED},
            "spelling": Spelling(words | grammar.ENGLISH | grammar.NEGATIVE).plain(),
            "wordings": self._set(wordings),
            "cues": self._set(cues),
            "outcomes": self._set(outcomes),
            "needs": self._needs(),
            "elements": [element.plain() for element in self._numbers],
        }

    def _needs(self) -> dict[str, list[list[str]]]:
        known = Expressions(self._base.pieces, self._base.namings)
        written = [
            *(shape.pattern for shape in self._base.shapes),
            *(shape.pattern for shape in self._base.code_shapes),
        ]
        return {source: needs_of(source) for source in map(known.expand, written)}

    def _parts(self) -> dict[str, str]:
        named = ((concept.part, self._words[concept.id]) for concept in self._base.concepts if concept.part)
        return {stem(" ".join(term)): part for part, terms in named for term in terms}

    def _stems(self, name: str) -> list[str]:
        return sorted({stem(" ".join(term)) for term in self._words.get(name, [])})

    def _set(self, patterns: list[Pattern[Any]]) -> Plain:
        rows = [
            [pattern.text, [self._numbers.setdefault(e, len(self._numbers)) for e in pattern.elements], pattern.owner]
            for pattern in patterns
        ]
        return {"patterns": rows, "index": list(index_of(patterns))}

    def _wordings(self) -> Iterator[Pattern[list[Any]]]:
        for wording in self._base.wordings:
            about = sorted(self._about(wording.about))
            for polarity in get_args(Polarity):
                owner = [wording.finding, polarity, wording.detail, about]
                for text in getattr(wording, polarity):
                    yield from self._parsed(text, owner, f"wording {wording.finding!r}: {polarity}")

    def _about(self, concepts: tuple[str, ...]) -> set[str]:
        self._faults += [f"wording about {name!r}: no such concept" for name in concepts if name not in self._concepts]
        known = [self.concept(name) for name in concepts if name in self._concepts]
        return {word for element in known for word in (*element.stems, *map(stem, element.norms))}

    def _cues(self) -> Iterator[Pattern[int]]:
        for number, cue in enumerate(self._base.cues):
            for text in cue.say:
                yield from self._parsed(text, number, f"cue of category {cue.category!r}")

    def _outcomes(self) -> Iterator[Pattern[str]]:
        for name, concept in self._concepts.items():
            if name.startswith(OUTCOME):
                for text in (f"{{{name}}}", *concept.patterns):
                    yield from self._parsed(text, name, f"concept {name!r}")

    def _parsed(self, text: str, owner: Any, place: str) -> Iterator[Pattern[Any]]:
        try:
            for elements in self.terms.variants(tuple(parse(text, self))):
                yield Pattern(text, elements, owner)
        except (KeyError, ValueError) as error:
            reason = f"no concept {error.args[0]!r}" if isinstance(error, KeyError) else error
            self._faults.append(f"{place}: pattern {text!r}: {reason}")


def _stemmed(terms: Iterable[tuple[str, ...]]) -> list[tuple[str, ...]]:
    return [tuple(map(stem, term)) for term in terms]


def _compounds(base: KnowledgeBase) -> Iterator[tuple[str, ...]]:
    """Words of several parts among the choices of patterns ("self-built|custom-built"): terms too, to match as one."""
    wordings = (text for wording in base.wordings for text in (*wording.present, *wording.absent, *wording.denied))
    for text in (*wordings, *(text for cue in base.cues for text in cue.say)):
        for piece in text.split():
            choices = piece.removesuffix("?").split("|")
            if len(choices) > 1:
                yield from (term for choice in choices if len(term := compound(choice)) > 1)
