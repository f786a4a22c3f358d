"""A little base without any fault, as TOML, from which the tests break one thing at a time."""

import tomllib

from knowledge.load import SECTIONS
from knowledge.models import KnowledgeBase

SOUND = """
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

[[finding]]
id = "dead"
title = "dead"
kind = "sign"
present = "nothing happens"
absent = "something happens"

[[finding]]
id = "lamp-good"
title = "a lamp works there"
kind = "trial"
present = "a lamp works on the same outlet"
absent = "a lamp does not work on the same outlet"

[[finding]]
id = "smoke"
title = "smoke"
kind = "danger"
present = "smoke"
absent = "no smoke"

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

[[rule]]
id = "dead-is-dead"
when = [{ finding = "dead" }]
gives = [{ complaint = "dead" }]
because = "It says so."
source = "common practice"
fires = ["dead"]
stays_quiet = ["dead=absent"]

[[rule]]
id = "no-lamp-is-outlet"
when = [{ finding = "lamp-good", state = "absent" }]
given = [{ complaint = "dead" }]
gives = [{ support = "outlet", strength = "strong" }]
because = "Nothing works there."
source = "house-wiring page 1; old-handbook page 2"
fires = ["dead, lamp-good=absent"]
stays_quiet = ["lamp-good=absent"]

[[rule]]
id = "lamp-clears-outlet"
when = [{ finding = "lamp-good" }]
gives = [{ exclude = "outlet" }, { reached = "mains" }]
because = "Mains is there."
source = "old-handbook"
fires = ["lamp-good"]
stays_quiet = ["lamp-good=absent"]

[[rule]]
id = "smoke-is-fire"
when = [{ finding = "smoke" }]
gives = [{ hazard = "fire" }]
because = "Where there is smoke."
source = "from memory"
fires = ["smoke"]
stays_quiet = ["smoke=absent"]

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
"""


def base_of(text: str) -> KnowledgeBase:
    """Read records from one text of TOML."""
    content = tomllib.loads(text)
    fields = {SECTIONS[s][0]: tuple(SECTIONS[s][1].model_validate(t) for t in tables) for s, tables in content.items()}
    return KnowledgeBase(**fields)


def changed(old: str, new: str, more: str = "") -> str:
    """Give the sound base with one piece of text replaced, and more text after it."""
    assert SOUND.count(old) == 1, old
    return SOUND.replace(old, new) + more
