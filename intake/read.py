"""The whole reading: text in, `Reading` out; the pipeline is built once for each knowledge base."""

from dataclasses import replace
from threading import Lock

from spacy.language import Language
from spacy.tokens import Doc
from spacy.vocab import Vocab

from intake import clauses, mentions, outcomes, scope, second_look  # noqa: F401  # they register their part of the pipeline
from intake.clean import check, clean
from intake.hardware import read_build
from intake.language import language_of
from intake.lexicon import LEXICONS, Lexicon
from intake.mentions import Mention
from intake.prepared import prepared
from intake.reading import FoundFinding, Reading
from intake.redact import mask, private_spans
from intake.resolve import resolve, state_of, unsaid
from intake.thread import own_words
from intake.words import Words
from knowledge.models import KnowledgeBase

_MOST_READERS = 4
_readers: dict[int, tuple[KnowledgeBase, Language]] = {}
_lock = Lock()


def read(message: str, base: KnowledgeBase) -> Reading:
    """Read a message; raise `MessageError` where it is empty, too long or not text."""
    check(message)
    text = clean(message)
    private = private_spans(text)
    doc = reader(base)(mask(own_words(text), private))
    language = language_of(doc)
    lexicon: Lexicon = doc._.lexicon
    settled, contradictions = resolve(doc._.mentions, lexicon.findings)
    found = [_found(message, doc, *item) for item in settled]
    further = [_proposed(message, doc, each) for each in unsaid(doc._.proposals or (), settled, lexicon.findings)]
    found += [each for each in further if not any(span.start < each.end and each.start < span.end for span in private)]
    found.sort(key=lambda finding: (finding.start, finding.end, finding.id))
    if language != "en":
        found = [finding for finding in found if _is_certain_danger(finding, lexicon)]
    return Reading(
        message=message,
        characters=len(message),
        sentences=sum(1 for sentence in doc.sents if any(token.tag_ != "END" for token in sentence)),
        redactions=len(private),
        findings=tuple(found),
        build=tuple(read_build(doc)),
        contradictions=contradictions,
        language=language,
        edges=tuple(doc._.edges),
        private=private,
    )


def reader(base: KnowledgeBase) -> Language:
    """Build the pipeline for a base, or give the one that was built before."""
    with _lock:
        known = _readers.get(id(base))
        if known is not None and known[0] is base:
            return known[1]
        nlp = _build(base)
        while len(_readers) >= _MOST_READERS:
            _readers.pop(next(iter(_readers)))
        _readers[id(base)] = base, nlp
        return nlp


def _build(base: KnowledgeBase) -> Language:
    key = f"base-{id(base)}"
    LEXICONS[key] = lexicon = Lexicon(base, prepared(base))
    # A bare vocabulary: the words are ours, and what spaCy knows of English would take a tenth of a second to set up.
    nlp = Language(Vocab(), max_length=1_000_000, create_tokenizer=lambda nlp: Words(nlp.vocab, lexicon))
    nlp.add_pipe("clauses")
    for part in ("mentions", "scope", "second_look", "outcomes"):
        nlp.add_pipe(part, config={"lexicon": key})
    del LEXICONS[key]
    return nlp


def _found(message: str, doc: Doc, finding: str, mention: Mention) -> FoundFinding:
    start, end = _with_denial(doc, mention)
    return FoundFinding(
        id=finding,
        state=state_of(mention),
        quote=message[start:end],
        start=start,
        end=end,
        certainty="hedged" if mention.hedged else "stated",
        detail=mention.detail,
    )


def _proposed(message: str, doc: Doc, mention: Mention) -> FoundFinding:
    return replace(_found(message, doc, mention.finding, mention), certainty="proposed", doubt=mention.doubt)


def _with_denial(doc: Doc, mention: Mention) -> tuple[int, int]:
    """Give where the mention stands in the message, with the word that denies it: "no fans", not "fans"."""
    start, end = doc._.offsets[mention.start][0], doc._.offsets[mention.end - 1][1]
    denials = [
        (edge.modifier_start, edge.modifier_end)
        for edge in doc._.edges
        if edge.category == "negated" and (edge.finding, edge.start, edge.end) == (mention.finding, start, end)
    ]
    if mention.polarity == "present" or not denials:
        return start, end
    first, last = min(denials, key=lambda denial: max(start - denial[1], denial[0] - end))
    return min(start, first), max(end, last)


def _is_certain_danger(found: FoundFinding, lexicon: Lexicon) -> bool:
    return found.certainty == "stated" and found.state == "present" and lexicon.findings[found.id].kind == "danger"
