"""Personal data in a message: where it is, and the text with it blanked.

Finds e-mail addresses, telephone numbers, postal addresses, order numbers, and names in the salutation, the
introduction and the sign-off. It errs on the side of blanking too much for numbers, and too little for names: a name
that looks like a word of the complaint must not swallow the complaint.
"""

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

BLANK = "█"


class PrivateSpan(NamedTuple):
    """A span of personal data, half-open, in code points of the message.

    `kind` is email, phone, address, order, name (in a salutation, an introduction or after a closing formula) or signed
    (a last line that is nothing but a name).
    """

    start: int
    end: int
    kind: str


_NAME = r"[A-Z][\w'’-]{1,20}"
_NAMES = rf"(?:(?:Mr|Mrs|Ms|Miss|Mx|Dr|Prof)\.?[ ])?{_NAME}(?:[ ](?:[A-Z]\.?[ ])?{_NAME}){{0,2}}(?:[ ][A-Z]\b)?"
_NO_NAME = (
    r"(?!(?:All|Team|There|Everyone|Everybody|Folks|Guys|Sir|Madam|Help|You|Very|In|For|And|The|My|It|No|This|Any|Again"
    r"|I|To|Not|So|Still|Now|Then|But|Please|Yes)\b)"
)
_POSTCODE = r"[A-Z]{1,2}\d[A-Z\d]?[ ]\d[A-Z]{2}"  # the British form; others have no shape of their own

_EMAIL = re.compile(r"(?<![\w.+-])[\w.+-]{1,64}@[\w-]{1,63}(?:\.[\w-]{1,63}){1,4}")
_ORDER = re.compile(
    r"""\b(?:order|invoice|ticket|booking|customer|account|reference|ref|receipt)
    (?:[ ]?(?:no|nr|num|number|id|ref))?[ .:-]{0,3}
    (?P<private>\#?(?=[A-Z-]{0,6}\d)[A-Z\d][A-Z\d/-]{3,24})\b""",
    re.IGNORECASE | re.VERBOSE,
)
_ADDRESS = re.compile(
    rf"""\b\d{{1,4}}[a-zA-Z]?,?[ ](?:[A-Z][\w'’-]+[ ]){{1,3}}
    (?:[Ss]treet|[Rr]oad|[Ll]ane|[Aa]venue|[Cc]lose|[Cc]ourt|[Ss]quare|[Tt]errace|[Gg]ardens|[Cc]rescent
    |Drive|St|Rd|Ln|Ave)\b\.?
    (?:,?\s{{1,2}}(?:[A-Z][\w-]+,?[ ]){{0,3}}{_POSTCODE}\b)?""",
    re.VERBOSE,
)
_PHONE = re.compile(
    r"""(?<![\w.+-])(?:\+\d{1,3}[ .-]?)?(?:\(\d{1,5}\)[ .-]?)?
    \d{2,5}(?:[ .-]?\d{2,5}){1,4}(?![\w-]|[.,]\d)""",
    re.VERBOSE,
)
_SALUTATION = re.compile(
    rf"""(?:\A|\n)[ \t]*(?:[Hh]i|[Hh]ello|[Hh]ey|[Dd]ear|HI|HELLO|DEAR)(?:[ ]there)?,?[ ]
    {_NO_NAME}(?P<private>{_NAMES})(?=[ ]?[,!.:;\n-]|[ ]?\Z)""",
    re.VERBOSE,
)
_CLOSING = re.compile(
    rf"""(?:\n|[.!?,][ ]?)[ \t]*
    (?:(?:[Ww]ith[ ])?(?:[Mm]any[ ]|[Kk]ind[ ]|[Bb]est[ ]|[Ww]arm[ ])?
       (?:[Tt]hanks|[Tt]hank[ ]you|[Rr]egards|[Gg]reetings|[Cc]heers|[Ww]ishes)
    |[Bb]est|[Yy]ours(?:[ ]sincerely|[ ]faithfully|[ ]truly)?|[Ss]incerely|[Ll]ove)
    (?:[ ]again|[ ]in[ ]advance|[ ]so[ ]much)?[,.!]?\s{{1,4}}
    {_NO_NAME}(?P<private>{_NAMES})(?=[.!]?\s*(?:\n|\Z))""",
    re.VERBOSE,
)
_INTRODUCTION = re.compile(
    rf"""\b(?:[Mm]y[ ]name(?:['’]s|[ ]is)(?:[ ]called)?[ ](?!(?:on|in|down|not|already|still|there|at)\b)
          (?P<private>\w[\w'’-]{{1,20}}(?:[ ]{_NAME}){{0,2}})
    |[Aa]sk[ ]for[ ]{_NO_NAME}(?P<asked>{_NAMES})
    |(?:[Hh]i|[Hh]ello|[Hh]ey|[Mm]orning|[Ee]vening|[Aa]fternoon)(?:[ ](?:all|there))?,?[ ]
          (?!Nothing\b|Same\b|Problem\b){_NO_NAME}(?P<here>{_NAMES})[ ](?:here|speaking)\b)""",
    re.VERBOSE,
)
_LAST_LINE = re.compile(rf"[.!?)x]\s*\n[ \t]*[-–]?[ ]?{_NO_NAME}(?P<private>{_NAMES})\.?\s*\Z")

# In this order: where two overlap, the first one counts.
_KINDS = (
    ("email", _EMAIL),
    ("order", _ORDER),
    ("address", _ADDRESS),
    ("address", re.compile(rf"\b{_POSTCODE}\b")),
    ("phone", _PHONE),
    ("name", _SALUTATION),
    ("name", _CLOSING),
    ("name", _INTRODUCTION),
    ("signed", _LAST_LINE),
)
_FEWEST_DIGITS = 9  # of a telephone number with its area code; shorter groups are ratings and codes


def private_spans(text: str) -> tuple[PrivateSpan, ...]:
    """Find personal data, in the order of the text, without overlaps; the kind listed first wins."""
    found: list[PrivateSpan] = []
    for span in _candidates(text):
        if all(span.end <= other.start or other.end <= span.start for other in found):
            found.append(span)
    return tuple(sorted(found))


def redact(text: str, spans: Sequence[PrivateSpan]) -> str:
    """Blank the spans, character by character, so that every other offset stays."""
    return _fill(text, spans, BLANK)


def mask(text: str, spans: Sequence[PrivateSpan]) -> str:
    """Put spaces in place of the spans: for the reading, where a telephone number must not become a code.

    A last line is left, since "Dead." may stand there as well as a name.
    """
    return _fill(text, [span for span in spans if span.kind != "signed"], " ")


def _fill(text: str, spans: Sequence[PrivateSpan], filling: str) -> str:
    parts, done = [], 0
    for start, end, _ in sorted(spans):
        parts += [text[done:start], filling * (end - start)]
        done = end
    return "".join([*parts, text[done:]])


def _candidates(text: str) -> Iterator[PrivateSpan]:
    for kind, pattern in _KINDS:
        for match in pattern.finditer(text):
            group = match.lastgroup or 0
            if kind != "phone" or sum(map(str.isdigit, match[0])) >= _FEWEST_DIGITS:
                yield PrivateSpan(*match.span(group), kind)
