"""The work on one complaint: the same function in this process, in a worker process, and on another machine."""

import json
from collections.abc import Sequence
from threading import Lock
from typing import NamedTuple

from expert.first_pass import triage
from expert.queue.complaint import Complaint
from expert.queue.urgency import Urgency, urgency_of
from knowledge.errors import OhmbudsmanError
from knowledge.models import KnowledgeBase

# The pipeline that reads is not made for several threads at a time; a worker with many works one after another.
_one_at_a_time = Lock()


class Answer(NamedTuple):
    """The line of the output, without its end, and what the table needs: the urgency, or else the error."""

    line: str
    urgency: Urgency | None
    error: str = ""


def answer(complaint: Complaint, base: KnowledgeBase) -> Answer:
    """Triage one complaint; whatever is wrong with it becomes its error, in one line."""
    if complaint.fault:
        return failure(complaint, complaint.fault)
    try:
        document = triage(complaint.text, base)
    except OhmbudsmanError as error:
        return failure(complaint, str(error))
    except Exception as error:  # a fault of ours, met with one odd complaint, must not cost the thousands behind it
        return failure(complaint, f"could not be triaged, please report this: {type(error).__name__}: {error}")
    # The document is put in as it is, so that its bytes are those that the triage of this complaint alone prints.
    line = f'{{"id":{json.dumps(complaint.id)},"triage":{document.to_json()}}}'
    return Answer(line, urgency_of(document, base))


def failure(complaint: Complaint, words: str) -> Answer:
    """Give the answer to a complaint that cannot be triaged."""
    error = " ".join(words.split())
    return Answer(f'{{"id":{json.dumps(complaint.id)},"error":{json.dumps(error)}}}', None, error)


def answer_all(chunk: Sequence[Complaint], base: KnowledgeBase) -> list[Answer]:
    """Triage some complaints, one after another."""
    with _one_at_a_time:
        return [answer(complaint, base) for complaint in chunk]
