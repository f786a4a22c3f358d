"""What the context makes of a mention: denied, hedged, past, only feared, another machine's.

After NegEx (Chapman et al. 2001) and ConText (Harkema et al. 2009): the longest cue first, a reach for each cue, pseudo
cues that swallow their words, terminators that cut the reach; the edge from the modifier to what it modifies is kept.
Departures for letters of owners: reach by clause, lists that end where a statement begins, negations that only repeat
each other ("it don't do nothing"), questions as hypothesis, and answers ("Smoke? none").
Needs the clauses and the mentions. Sets `doc._.mentions` to what is left, and `doc._.edges`.
"""

from collections.abc import Iterator, Mapping, Sequence, Set
from itertools import pairwise
from typing import TYPE_CHECKING

from spacy.language import Language
from spacy.tokens import Doc, Span, Token

from intake import grammar
from intake.clauses import is_deed
from intake.discourse import asides, is_discourse
from intake.fronted import fronted
from intake.mentions import Mention
from intake.modifier import STRANGER, Modifier
from intake.reading import Edge
from intake.replies import Reply, replies
from intake.strangers import strangers

if TYPE_CHECKING:
    from intake.lexicon import Lexicon
    from knowledge.wordings import Cue

_BYSTANDER = "bystander"
_ASIDE = "aside"
DROPPING = frozenset(["past", "hypothetical", "other", "generic", "refuted", _BYSTANDER, STRANGER, _ASIDE])
_CUTTING = frozenset(["terminate", "correction"])
_ITEM_MARKS = frozenset([",", "or", "nor", "and", "/"])
_LONGEST_ITEM = 4  # words of one item of a denied list; more than that is a statement
_OWN = frozenset(["my", "our", "this"])
_FURTHER = frozenset(["other", "another", "different", "spare", "second", "previous", "last"])
_MINE = frozenset(["mine", "mines", "ours"])
_IT = frozenset(["it", "mine", "ours", "this", "that", "everything"])
_DOERS = frozenset(["i", "we", "you", "he", "she", "they", "someone", "somebody"])
_BEFORE_VERB = frozenset(["just", "also", "now", "then", "always", "easily", "gladly", "try", "have", "not", "to"])
_TILL = frozenset(["until", "till", "before", "had"])
_NEAR = 3  # words: "nothing" or "nobody" denies an event only as near as this ("nobody has ever moved it")
_SUBJECTS = frozenset(["the", "my", "our", "his", "her"])
_FROM = frozenset(["from", "out of", "off", "of"])
_DONE = frozenset(["took", "put", "had", "got", "hung", "laid", "ran", "stuck"])
_CLAUSE = 4  # words of a denial that is a clause of its own: "I would be lying if I said nothing happens" is two
_TIMELESS = frozenset(["event", "trial"])  # these are told of the past by nature: "last week I swapped the lead"


class Scope:
    """Applies the cues of the base to the mentions of a doc."""

    def __init__(self, lexicon: "Lexicon") -> None:
        self.lexicon = lexicon
        self._signs = {id_ for id_, finding in lexicon.findings.items() if finding.kind == "sign"}
        self._dangers = {id_ for id_, finding in lexicon.findings.items() if finding.kind == "danger"}
        self._machines = frozenset(word for word, part in lexicon.parts.items() if part == "system") | {"laptop"}
        self._trials = {id_ for id_, finding in lexicon.findings.items() if finding.kind == "trial"}
        self._spoken_of = {id_ for id_, finding in lexicon.findings.items() if finding.spoken_of}
        self._timeless = {id_ for id_, finding in lexicon.findings.items() if finding.kind in _TIMELESS}

    def __call__(self, doc: Doc) -> Doc:
        """Settle state and certainty of each mention, and drop those that say nothing of this machine now."""
        kept: list[Mention] = []
        edges: list[Edge] = []
        by_start: dict[int, list[Mention]] = {}
        for mention in doc._.mentions:
            by_start.setdefault(mention.start, []).append(mention)
        subject = self._subject(doc)
        elsewhere = [*self._strangers(doc), *self._asides(doc, by_start)] if by_start else []
        for sentence in doc.sents:
            here = [mention for i in range(sentence.start, sentence.end) for mention in by_start.get(i, ())]
            if not here:
                continue
            near = [each for each in elsewhere if each.touches(sentence.start, max(mention.end for mention in here))]
            modifiers = [*near, *self._modifiers(sentence, subject)]
            told = [mention for mention in here if mention.finding in self._timeless]
            modifiers += [plan for mention in told for plan in _plans(doc, mention)]
            for mention in here:
                if any(each.straddles(doc, mention) for each in modifiers):
                    continue
                alike = [other for other in here if other.finding == mention.finding and not other.overlaps(mention)]
                spent = {token for other in alike for token in other.literal}
                counting = [each for each in modifiers if self._counts(doc, each, mention, spent)]
                covering = [each for each in counting if not self._is_afterthought(doc, each, mention, here)]
                edges += [_edge(doc, modifier, mention) for modifier in covering]
                settled = _settle(doc, mention, covering, here)
                kept += [settled] if settled else []
        doc._.mentions = kept
        doc._.edges = edges
        return doc

    def _counts(self, doc: Doc, modifier: Modifier, mention: Mention, spent: Set[int]) -> bool:
        """Tell whether a modifier tells of a mention; `spent` are tokens that other mentions of its finding name."""
        if modifier.category == "negated" and modifier.core & spent:
            return False  # "no bootable device, insert boot disk": the "no" is part of what is stated
        if mention.finding in self._spoken_of and modifier.category == "hypothetical":
            return False  # "can I open the supply?" is what it is about
        if mention.finding in self._trials and (modifier.category == STRANGER or _is_origin(doc, modifier)):
            return False  # "I tried my neighbour's computer with this lead", "swapped the lead for one from the kettle"
        if mention.finding in self._dangers and modifier.category == "past" and doc[modifier.start].text in _TILL:
            return False  # "it smoked till I pulled the plug": it is over, and it was this fault
        if mention.finding in self._timeless and (modifier.category == "past" or _is_outcome(doc, modifier, mention)):
            return False
        if modifier.category == _BYSTANDER and mention.finding not in self._signs:
            at_machine = any(self._is_machine(token) for token in doc[slice(*modifier.reach)])
            return mention.finding in self._dangers and not at_machine and modifier.covers(mention)
        return modifier.covers(mention)

    def _is_afterthought(self, doc: Doc, modifier: Modifier, mention: Mention, here: Sequence[Mention]) -> bool:
        """Tell whether a danger only follows in a list that denies something else: "no fans, burning smell".

        Whoever leaves out the "and" may leave out the other "no" or not mean one, so it is raised; "no fans, smoke or
        smell" denies all three, and so does "no smell, smoke".
        """
        if modifier.category != "negated" or mention.finding not in self._dangers or mention.start < modifier.end:
            return False
        if any(token.text in ("or", "nor") for token in doc[modifier.end : modifier.reach[1]]):
            return False
        if any(other.finding in self._dangers and modifier.end <= other.start < mention.start for other in here):
            return False
        return any(token.text == "," for token in doc[modifier.end : mention.start])

    def _is_machine(self, token: Token) -> bool:
        return token.lemma_ in self.lexicon.parts or token.text in _IT

    def _strangers(self, doc: Doc) -> Iterator[Modifier]:
        lexicon = self.lexicon
        for start, end, last in strangers(doc, self._machines, lexicon.strangers, lexicon.kin):
            yield Modifier(STRANGER, start, end, (start, last))

    def _asides(self, doc: Doc, by_start: Mapping[int, list[Mention]]) -> Iterator[Modifier]:
        found = [hit for sentence in doc.sents for hit in self._cues(sentence) if is_discourse(hit[0])]
        hits = sorted(_longest_first(found), key=lambda hit: hit[1])
        told = {start for start, mentions in by_start.items() if any(m.finding in self._signs for m in mentions)}
        for start, end, first, last in asides(doc, hits, told):
            yield Modifier(_ASIDE, start, end, (first, last))

    def _cues(self, sentence: Span) -> "list[tuple[Cue, int, int]]":
        return [(pattern.owner, match.start, match.end) for pattern, match in self.lexicon.cues.find(sentence)]

    def _subject(self, doc: Doc) -> int | None:
        """The machine named first, where the writer names none as the own: the one to mend, whosever it is.

        "My brother's PC won't start" tells of the case; "my brother's PC does that too, but mine ..." does not.
        """
        machines = [token.i for token in doc if token.lemma_ in self._machines or token.text == "one"]
        owned = any(doc[i - 1].text in _OWN for i in machines[1:] if i) or any(token.text in _MINE for token in doc)
        before = doc[max(machines[0] - 2, 0) : machines[0]] if machines else ()
        further = _FURTHER.intersection(word for token in before for word in token.text.split())  # "my other" is a term
        return machines[0] if machines and not owned and not further else None

    def _modifiers(self, sentence: Span, subject: int | None) -> list[Modifier]:
        """All modifiers of a sentence with their reach, in its order; none from the words that name the subject."""
        doc = sentence.doc
        hits = [hit for hit in self._cues(sentence) if not is_discourse(hit[0])]
        if subject is not None:
            hits = [hit for hit in hits if hit[0].category != "other" or not hit[1] <= subject < hit[2]]
        answered = list(replies(sentence))
        answers = [_denial(doc, reply) for reply in answered if reply.denied]
        chosen = [hit for hit in _longest_first(hits) if not any(_is_settled(hit, *reply[:3]) for reply in answered)]
        cuts = sorted((start, end) for cue, start, end in chosen if cue.category in _CUTTING)
        negations = sorted(start for cue, start, _ in chosen if cue.category == "negated")
        answers += [_denial(doc, Reply(*place, denied=True)) for place in fronted(sentence)]
        found = [*answers, *_questions(sentence), *_bystanders(sentence, self.lexicon.bystanders)]
        for cue, start, end in chosen:
            if cue.category not in _CUTTING and cue.category != "pseudo":
                for reach in _reaches(sentence, cue, start, end, cuts):
                    if cue.category == "negated" and reach[0] >= end:
                        reach = reach[0], _list_end(doc, reach, negations, cue.reach == "list")
                    of_list = cue.reach == "list" or reach[1] <= start
                    found.append(Modifier(cue.category, start, end, reach, of_list, _core(doc, start, end)))
        return sorted(found, key=lambda modifier: modifier[:4])


def _denial(doc: Doc, reply: Reply) -> Modifier:
    core = _core(doc, reply.end, reply.last)
    return Modifier("negated", reply.end, reply.last, (reply.start, reply.end), of_list=True, core=core, answers=True)


def _is_settled(hit: "tuple[Cue, int, int]", start: int, end: int, last: int) -> bool:
    """Tell whether a cue is part of a reply, or of the question that it answers."""
    cue, first, stop = hit
    return (first < last and end < stop) or (cue.category == "hypothetical" and start < stop and first < end)


def _is_outcome(doc: Doc, modifier: Modifier, mention: Mention) -> bool:
    """Tell whether a denial near a trial or an event tells of the machine: "nothing on the screen so I tried ...".

    After a trial it tells how that came out ("another lead - nope"), unless it answers a question ("Other lead? No").
    """
    if modifier.category != "negated":
        return False
    if modifier.start >= mention.end:
        answered = doc[modifier.start - 1].text in ("?", "\n") or doc[modifier.start].text in grammar.DENYING
        done = doc[mention.start].text
        if doc[modifier.start - 1].text == ":" and (done in _DONE or done.endswith("ed")):
            return True  # "took the cord from the kettle: no"
        return not (modifier.answers and answered) or doc[modifier.start - 1].text in grammar.DASHES
    word = doc[modifier.start].text
    return not modifier.of_list and word in grammar.INDEFINITE_NO and mention.start - modifier.end > _NEAR


def _is_origin(doc: Doc, modifier: Modifier) -> bool:
    """Tell whether another machine is only where the part came from."""
    near = doc[max(modifier.start - _NEAR, 0) : modifier.start + 1]
    return modifier.category == "other" and any(token.text in _FROM for token in near)


def _core(doc: Doc, start: int, end: int) -> frozenset[int]:
    return frozenset(i for i in range(start, end) if doc[i].text in grammar.NEGATIVE) or frozenset(range(start, end))


def _longest_first(hits: "Sequence[tuple[Cue, int, int]]") -> "list[tuple[Cue, int, int]]":
    """Keep the longest cues; cues of the same words stand side by side ("no" before and after)."""
    chosen: list[tuple[Cue, int, int]] = []
    for cue, start, end in sorted(hits, key=lambda hit: (hit[1] - hit[2], hit[1])):
        rivals = [other for other in chosen if other[1] < end and start < other[2]]
        if all((other[1], other[2]) == (start, end) for other in rivals):
            chosen.append((cue, start, end))
    return chosen


def _reaches(
    sentence: Span, cue: "Cue", start: int, end: int, cuts: list[tuple[int, int]]
) -> Iterator[tuple[int, int]]:
    """The token spans before and after a cue that it can modify."""
    doc = sentence.doc
    if cue.category != "past":
        cuts = [cut for cut in cuts if doc[cut[0]].text not in grammar.TIMES]
    if cue.reach == "sentence":
        first, last = sentence.start, sentence.end
        cuts = [] if cue.direction == "both" else cuts
    else:
        first, _ = doc._.clauses[doc._.clause_of[start]]
        _, last = doc._.clauses[doc._.clause_of[end - 1]]
        if cue.category != "negated" and (start, end) == (sentence.start, last) and last < sentence.end:
            _, last = doc._.clauses[doc._.clause_of[end]]  # "last year | there was smoke": it tells of what follows
    if doc[end - 1].text == "not" and end < last and doc[end].text.partition(" ")[0] in grammar.ACTS:
        last = end + 1
    if cue.direction in ("forward", "both"):
        yield end, min([cut for cut, _ in cuts if cut > end or (cut == end and not _opens(doc, cue, cut))] + [last])
    if cue.direction in ("backward", "both"):
        yield max([cut for _, cut in cuts if cut <= start] + [first]), start


def _opens(doc: Doc, cue: "Cue", cut: int) -> bool:
    """Tell whether the words at `cut` only begin what a cue of the past tells: "last year | it was slow"."""
    return cue.category == "past" and doc[cut].text in grammar.PRONOUNS


def _list_end(doc: Doc, reach: tuple[int, int], negations: list[int], is_list: bool) -> int:
    """Where a negation ends before its reach does: at an item with its own negation, or at what is no item."""
    start, end = reach
    if is_list:
        end = next((i for i in range(start + 1, end) if _is_new_subject(doc, start, i)), end)
    joins = [i for i in range(start, end) if doc[i].text in (",", "and", "or", "nor", "but", "/", "&")]
    for join, following in pairwise([*joins, end]):
        if any(join < negation <= join + 2 for negation in negations):
            return join
        if is_list and is_deed(doc, join + 1):
            return join
        goes_on = any(doc[i].text in ("or", "nor") for i in range(join, end))
        if is_list and following - join - 1 > _LONGEST_ITEM and not goes_on:
            return join
    return end


def _is_new_subject(doc: Doc, start: int, at: int) -> bool:
    """Tell whether a statement begins at `at` after a denied thing: "without mains | the clock resets"."""
    before = doc[at - 1].text
    return (
        doc[at].text in _SUBJECTS
        and at - start <= _LONGEST_ITEM
        and doc[at - 1].tag_ == "WORD"
        and before not in grammar.FILLERS | grammar.ENGLISH | grammar.PERCEIVE
        and not before.endswith(("ing", "ed"))
    )


def _questions(sentence: Span) -> Iterator[Modifier]:
    for number in sorted({sentence.doc._.clause_of[token.i] for token in sentence} & sentence.doc._.questions):
        start, end = sentence.doc._.clauses[number]
        yield Modifier("hypothetical", start, start, (start, end))


def _plans(doc: Doc, told: Mention) -> Iterator[Modifier]:
    """Trials and events that are only meant: "I could swap the lead", "he will bring it by car"."""
    at = told.start - 1
    while at > 0 and doc[at].text in _BEFORE_VERB:
        at -= 1
    short = at > 0 and doc._.offsets[at] == doc._.offsets[at - 1]  # "he'd pushed it in" may as well be "he had"
    if at > 0 and doc[at].text in grammar.MODALS - ({"would"} if short else set()) and doc[at - 1].text in _DOERS:
        yield Modifier("hypothetical", at, at + 1, (at + 1, told.end))


def _bystanders(sentence: Span, things: frozenset[str]) -> Iterator[Modifier]:
    """Clauses whose subject is a thing beside the machine: "the microwave beeps", "my phone turned itself on"."""
    doc = sentence.doc
    for number in sorted({doc._.clause_of[token.i] for token in sentence}):
        start, end = doc._.clauses[number]
        before = grammar.COORDINATORS | grammar.CONTRASTS | grammar.SUBORDINATORS | grammar.DETERMINERS | {",", "old"}
        at = next((i for i in range(start, end) if doc[i].text not in before), start)
        if doc[at].lemma_ in things:
            yield Modifier(_BYSTANDER, at, at + 1, (at + 1, end), core=frozenset([at]))


def _settle(doc: Doc, mention: Mention, covering: list[Modifier], here: list[Mention]) -> Mention | None:
    """Give the mention as the context has it, or None where it does not count; `here` are those of its sentence."""
    categories = {modifier.category for modifier in covering}
    if categories & DROPPING:
        return None
    negations = [modifier for modifier in covering if modifier.category == "negated"]
    hedged = "hedged" in categories
    negated = _is_odd(doc, negations, here) and not _denies_itself(doc, mention, negations)
    if mention.polarity == "denied":
        tight = any(modifier.of_list or _is_perceived(doc, modifier, mention, here) for modifier in negations)
        return mention.with_state("absent", hedged) if negated and tight else None
    if not negated:
        return mention.with_state(mention.polarity, hedged)
    return mention.with_state("absent" if mention.polarity == "present" else "present", hedged)


def _denies_itself(doc: Doc, mention: Mention, negations: list[Modifier]) -> bool:
    """Tell whether a mention denies by a word of its own, which a list goes on to: "no light no fan nothing".

    What is stated by a denial stays so where it goes on: "nothing responds, not even the mouse".
    """
    own = [i for i in mention.literal if doc[i].text in grammar.NEGATIVE]
    goes_on = mention.polarity == "absent" or all(n.of_list and min(own, default=n.start) < n.start for n in negations)
    return bool(own) and goes_on and not any(doc[n.start].text == "without" for n in negations)


def _is_odd(doc: Doc, negations: list[Modifier], here: list[Mention]) -> bool:
    """Count negations; one that repeats another, or stands beside it, does not undo it.

    "never without smoke" is two, "it don't do nothing" and "no lights not even a beep" are one.
    """
    count, last = 0, None
    for modifier in sorted(negations, key=lambda negation: negation[1:3]):
        if last is None or (modifier.start >= last.end and _undoes(doc, last, modifier, here)):
            count += 1
        last = modifier
    return count % 2 == 1


def _undoes(doc: Doc, first: Modifier, second: Modifier, here: list[Mention]) -> bool:
    word = doc[second.start].text
    repeats = word in grammar.CONCORD and first.end - first.start < _CLAUSE
    if first.of_list or repeats or (second.of_list and word != "without"):
        return False
    return not any(first.end <= mention.start and mention.end <= second.start for mention in here)


def _is_perceived(doc: Doc, modifier: Modifier, mention: Mention, here: list[Mention]) -> bool:
    """Tell whether only words of perceiving or items stand between: "can't hear the fans", "not moved or opened"."""
    items = {token for other in here if other.polarity == "denied" for token in other.literal}
    between = [i for i in range(modifier.end, mention.start) if i not in items and doc[i].text not in _ITEM_MARKS]
    return all(doc[i].lemma_ in grammar.PERCEIVE or doc[i].text in grammar.FILLERS | grammar.PERCEIVE for i in between)


def _edge(doc: Doc, modifier: Modifier, mention: Mention) -> Edge:
    start, end = doc._.offsets[modifier.start][0], doc._.offsets[max(modifier.end - 1, modifier.start)][1]
    place = doc._.offsets[mention.start][0], doc._.offsets[mention.end - 1][1]
    return Edge(modifier.category, doc._.text[start:end], start, end, mention.finding, *place)


@Language.factory("scope", default_config={"lexicon": ""})
def make_scope(nlp: Language, name: str, lexicon: str) -> Scope:
    """Make the part of the pipeline; `lexicon` is the key of one in `intake.lexicon.LEXICONS`."""
    from intake.lexicon import LEXICONS

    return Scope(LEXICONS[lexicon])
