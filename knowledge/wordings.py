"""The records of how people say things: concepts, wordings, and the cues that change what is said."""

from typing import Annotated, Literal

from pydantic import Field

from knowledge.record import Id, Record


class Concept(Record):
    """A set of words and phrases that mean one thing to the reader; `part` says which part of the machine it names.

    `patterns`, of an outcome only, mean the same but hide no word of theirs: "still freezes" is "no change" after a
    trial, and a finding all the same.
    """

    id: Id
    words: Annotated[tuple[str, ...], Field(min_length=1)]
    part: Id | None = None
    patterns: tuple[str, ...] = ()


class Wording(Record):
    """How people say a finding, as patterns (the pattern language is described in DEVELOPERS.md).

    `present` and `absent` state it; `denied` are bare mentions that count only under a negation, as absent.
    `about` names concepts: the patterns speak of a thing by pronoun ("put it back in") and count only where the thing
    named last before them is one of these.
    """

    finding: Id
    about: tuple[Id, ...] = ()
    present: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    denied: tuple[str, ...] = ()
    detail: str | None = None


class Cue(Record):
    """Words that change how a mention is to be taken, after NegEx and ConText.

    `direction` is where the cue reaches; `reach` how far: to the end of the list, of the clause, of the sentence.
    A `pseudo` cue swallows its words, a `terminate` cue cuts the reach of others. A cue of reach `onward` changes what
    the message is about until `own`, `return` or, after what is settled, `lately` comes back to the machine to mend.
    """

    category: Literal[
        "negated",
        "hedged",
        "past",
        "hypothetical",
        "other",
        "generic",
        "refuted",
        "pseudo",
        "terminate",
        "correction",
        "own",
        "return",
        "lately",
    ]
    direction: Literal["forward", "backward", "both"] = "forward"
    reach: Literal["list", "clause", "sentence", "onward"] = "clause"
    say: Annotated[tuple[str, ...], Field(min_length=1)]
