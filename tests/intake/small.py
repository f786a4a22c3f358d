"""A small knowledge base of its own for the tests of the reading, so that they test the method and not the data."""

from knowledge.models import Finding, KnowledgeBase
from knowledge.wordings import Concept, Cue, Wording

_CONCEPTS: dict[str, tuple[str, tuple[str, ...]]] = {
    "fan": ("cooling", ("fan", "fans")),
    "light": ("", ("light", "lights", "led", "leds", "lite", "power light")),
    "screen": ("display", ("screen", "monitor", "display")),
    "machine": ("system", ("pc", "computer", "machine", "tower")),
    "ram": ("memory", ("ram", "memory", "memory stick")),
    "board": ("board", ("motherboard", "board")),
    "gpu": ("graphics", ("gpu", "graphics card", "graphics")),
    "supply": ("psu", ("psu", "power supply", "supply")),
    "lead": ("mains", ("lead", "cable", "power lead", "mains lead")),
    "outlet": ("mains", ("outlet", "socket")),
    "spin": ("", ("spin", "spun", "turn", "run", "running")),
    "on": ("", ("on", "lit", "come on", "comes on", "came on")),
    "off": ("", ("off",)),
    "dark": ("", ("dark", "black", "blank")),
    "start": ("", ("start", "turn on", "boot", "switch on", "power on")),
    "try": ("", ("try", "tried", "swap", "swapped", "use", "used")),
    "other": ("", ("another", "different", "spare")),
    "replace": ("", ("replace", "changed", "swapped")),
    "outcome-no-change": ("", ("no change", "no difference", "still the same", "same result", "=nothing")),
    "outcome-cured": ("", ("fixed it", "now it boots")),
}

_KINDS = {
    "smoke": "danger",
    "burning-smell": "danger",
    "lead-swapped": "trial",
    "supply-swapped": "trial",
    "part-replaced": "event",
    "other-outlet-tried": "trial",
}

_FINDINGS: tuple[tuple[str, dict[str, object]], ...] = (
    ("dead", {"group": "life"}),
    (
        "wont-start",
        {"group": "life", "yields_to": ("dead", "fans-spin", "power-light", "picture"), "sharpens_to": "dead"},
    ),
    ("fans-spin", {"group": "life"}),
    ("power-light", {"group": "life"}),
    ("beeps", {}),
    ("picture", {}),
    ("artifacts", {}),
    ("crashes-under-load", {}),
    ("fan-noise", {}),
    ("smoke", {}),
    ("burning-smell", {}),
    ("lead-swapped", {"detail": "outcome"}),
    ("other-outlet-tried", {"detail": "outcome"}),
    ("supply-swapped", {"detail": "outcome"}),
    ("part-replaced", {"detail": "part"}),
)

_WORDINGS = (
    Wording(finding="dead", present=("nothing happens", "completely dead")),
    Wording(finding="wont-start", present=("not {start}",)),
    Wording(
        finding="fans-spin",
        present=("{fan} .. {spin}", "{fan} fine|work", "spin up"),
        absent=("{fan} dead|{off}",),
        denied=("{fan}",),
    ),
    Wording(
        finding="power-light",
        present=("{light} .. {on}", "nothing lights up"),
        absent=("{light} .. {off}|{dark}|absent",),
        denied=("{light}",),
    ),
    Wording(finding="beeps", present=("beep",)),
    Wording(finding="picture", present=("picture|image",), absent=("{screen} .. {dark}",)),
    Wording(finding="artifacts", present=("stripes",)),
    Wording(finding="crashes-under-load", present=("crash",)),
    Wording(finding="fan-noise", present=("{fan} loud|noisy", "{fan} noise")),
    Wording(finding="smoke", present=("smoke",)),
    Wording(finding="burning-smell", present=("burning smell", "smell")),
    Wording(finding="lead-swapped", present=("{try} .. {lead}",), detail="outcome"),
    Wording(finding="other-outlet-tried", present=("{try} {other} {outlet}",), detail="outcome"),
    Wording(finding="supply-swapped", present=("{try} {other} {supply}",), detail="outcome"),
    Wording(finding="part-replaced", present=("{replace} .. {gpu}|{ram}|{board}",), detail="part"),
)

_CUES = (
    Cue(category="negated", reach="list", say=("no", "without", "neither", "nor", "not any", "zero", "not a single")),
    Cue(category="negated", reach="clause", say=("not", "never", "nothing", "no longer")),
    Cue(category="negated", direction="backward", reach="clause", say=("=absent", "=none", "=missing")),
    Cue(
        category="hedged",
        direction="both",
        reach="clause",
        say=("i think", "maybe", "possible", "seems", "might", "may", "not rule out", "can not rule out"),
    ),
    Cue(category="past", reach="sentence", say=("used to", "history of", "at first", "previous", "last year")),
    Cue(category="past", direction="backward", reach="sentence", say=("last year", "before i")),
    Cue(category="hypothetical", reach="clause", say=("if", "could it be", "should it", "i fear", "worried about")),
    Cue(
        category="other",
        direction="both",
        reach="clause",
        say=("my old one", "my other {machine}", "my brother", "neighbour"),
    ),
    Cue(category="refuted", reach="clause", say=("i thought it was", "ruled out")),
    Cue(
        category="pseudo",
        say=("not only", "no change", "no difference", "no doubt", "no matter", "nothing but", "without the gpu"),
    ),
    Cue(category="terminate", say=("but", "however", "now", "then")),
    Cue(category="correction", say=("actually", "well")),
)


def small_base() -> KnowledgeBase:
    """Make the base; each test module calls it once."""
    return KnowledgeBase.model_construct(
        findings=tuple(
            Finding(id=name, title=name, kind=_KINDS.get(name, "sign"), present=name, absent=name, **more)
            for name, more in _FINDINGS
        ),
        concepts=tuple(Concept(id=name, words=words, part=part or None) for name, (part, words) in _CONCEPTS.items()),
        wordings=_WORDINGS,
        cues=_CUES,
    )


BASE = small_base()
