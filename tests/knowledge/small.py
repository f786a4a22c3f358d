"""A little base without any fault, as TOML, from which the tests break one thing at a time."""

import json
import tomllib

from knowledge.load import SECTIONS
from knowledge.models import KnowledgeBase


def finding(name: str, present: str = "more", absent: str = "less", *, kind: str = "sign", title: str = "") -> str:
    """Write a finding; its title is its id where none is given."""
    return f"""
[[finding]]
id = "{name}"
title = "{title or name}"
kind = "{kind}"
present = "{present}"
absent = "{absent}"
"""


def rule(
    name: str,
    when: str,
    gives: str,
    more: str = "",
    *,
    because: str = "Because.",
    source: str = "common practice",
    fires: str = "dead",
    quiet: str = "dead=absent",
) -> str:
    """Write a rule, `when`, `gives` and the lines of `more` as TOML, with one example of each kind."""
    return f"""
[[rule]]
id = "{name}"
when = {when}
{more}
gives = {gives}
because = "{because}"
source = "{source}"
fires = ["{fires}"]
stays_quiet = ["{quiet}"]
"""


def coded(section: str, **keys: str | bool) -> str:
    """Write a row of a table of codes; its part and its source are left open, to be formatted in."""
    lines = "\n".join(f"{key} = {json.dumps(value)}" for key, value in keys.items())
    return f"""
[[{section}]]
{lines}
meaning = "memory is not in order"
points_at = ["{{part}}"]
source = "{{source}}"
"""


SOUND = "".join(
    (
        """
[[source]]
id = "house-wiring"
title = "House wiring"
seen = "read"

[[source]]
id = "old-handbook"
title = "A handbook that nobody looked up again"
seen = "memory"

[[stage]]
id = "mains"
title = "mains"
reached_when = "mains is there"
""",
        finding("dead", "nothing happens", "something happens"),
        finding(
            "lamp-good",
            "a lamp works on the same outlet",
            "a lamp does not work on the same outlet",
            kind="trial",
            title="a lamp works there",
        ),
        finding("smoke", "smoke", "no smoke", kind="danger"),
        """
[[wording]]
finding = "dead"
present = ["dead"]

[[wording]]
finding = "smoke"
present = ["smoke"]

[[question]]
id = "ask-lamp"
text = "Does a lamp work there?"
asks = "lamp-good"
why = "Then mains is there."

[[cause]]
id = "outlet"
title = "the outlet"
part = "supply-path"
plain = "the outlet is dead"
mechanism = "no mains"
remedy = "another outlet"
minutes = 5
source = "common practice"

[[complaint]]
id = "dead"
title = "dead"
share = 1.0
firmness = 10
[complaint.priors]
outlet = [0.5, "C"]

[[hazard]]
id = "fire"
title = "fire"
level = "stop"
advice = "unplug"
takeover = "the fire service"
locks = ["energise"]
lifted_when = "never"
source = "from memory"

[[strength]]
id = "strong"
log10_ratio = 1.0
title = "strong"

[[strength]]
id = "slight"
log10_ratio = 0.25
title = "slight"
""",
        rule(
            "dead-is-dead",
            '[{ finding = "dead" }]',
            '[{ complaint = "dead" }]',
            because="It says so.",
            source="common practice",
            fires="dead",
            quiet="dead=absent",
        ),
        rule(
            "no-lamp-is-outlet",
            '[{ finding = "lamp-good", state = "absent" }]',
            '[{ support = "outlet", strength = "strong" }]',
            more='given = [{ complaint = "dead" }]',
            because="Nothing works there.",
            source="house-wiring page 1; old-handbook page 2",
            fires="dead, lamp-good=absent",
            quiet="lamp-good=absent",
        ),
        rule(
            "lamp-clears-outlet",
            '[{ finding = "lamp-good" }]',
            '[{ exclude = "outlet" }, { reached = "mains" }]',
            because="Mains is there.",
            source="old-handbook",
            fires="lamp-good",
            quiet="lamp-good=absent",
        ),
        rule(
            "smoke-is-fire",
            '[{ finding = "smoke" }]',
            '[{ hazard = "fire" }]',
            because="Where there is smoke.",
            source="from memory",
            fires="smoke",
            quiet="smoke=absent",
        ),
        """
[[check]]
id = "lamp"
title = "a lamp"
how = "Put a lamp there."
minutes = 2
who = "owner"
risks = ["energise"]
precautions = ["Not with smoke."]
source = "common practice"
[[check.outcomes]]
id = "lit"
title = "lit"
otherwise = 0.9
likely = { outlet = 0.1 }
[[check.outcomes]]
id = "dark"
title = "dark"
otherwise = 0.1
likely = { outlet = 0.9 }

[[limit]]
id = "mains-voltage"
title = "mains"
unit = "V"
finding = "lamp-good"
plausible = [0.0, 300.0]
bands = [
  { source = "house-wiring page 3", edition = "230 V", low = 207.0, high = 253.0 },
  { source = "from memory", edition = "120 V", low = 108.0, high = 126.0 },
]
""",
    )
)


def base_of(text: str) -> KnowledgeBase:
    """Read records from one text of TOML."""
    content = tomllib.loads(text)
    fields = {SECTIONS[s][0]: tuple(SECTIONS[s][1].model_validate(t) for t in tables) for s, tables in content.items()}
    return KnowledgeBase(**fields)


def changed(old: str, new: str, more: str = "") -> str:
    """Give the sound base with one piece of text replaced, and more text after it."""
    assert SOUND.count(old) == 1, old
    return SOUND.replace(old, new) + more
