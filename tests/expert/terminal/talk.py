"""A consultation for tests: begin with a message, say lines, look at what came of them."""

from functools import lru_cache

from expert.first_pass import expert_of, message_entry
from expert.terminal.commands import respond
from expert.terminal.consultation import Consultation, Reply
from knowledge import shipped_base

DEAD = "My tower is completely dead: no fans, no lights, nothing happens when I press the button."
SMOKE = "When I pressed the button smoke came out of the back. It is a tower with a 450 W supply."


@lru_cache(maxsize=8)
def opened(message: str) -> Consultation:
    """Give a consultation about a message, its findings still shown for correction."""
    base = shipped_base()
    return Consultation.begin(expert_of(base), lambda words: message_entry(words, base), message)


def begun(message: str = DEAD) -> Consultation:
    """Give a consultation about a message, its findings found right."""
    return respond(opened(message), "").consultation


def say(now: Consultation, *lines: str) -> Reply:
    """Say the lines one after another; give the reply to the last."""
    reply = Reply(now)
    for line in lines:
        reply = respond(reply.consultation, line)
    return reply


def after(now: Consultation, *lines: str) -> Consultation:
    """Give the consultation after the lines."""
    return say(now, *lines).consultation


def text(reply: Reply) -> str:
    """Give what was said, in one string."""
    return "\n".join(said.text for said in reply.say)


def states(now: Consultation) -> dict[str, str]:
    """Give the state of each finding."""
    return {told.id: told.state for told in now.case.findings}
