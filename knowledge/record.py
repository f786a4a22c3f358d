"""What every record of the knowledge base is: frozen, with no key that is not listed."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, StringConstraints

Id = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]

# The context in which what was kept is read again: it was valid then, and what is dear to check is left out.
KEPT = {"kept": True}


class Record(BaseModel):
    """A record of the base: no unknown key, never changed after loading."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Accepted(Record):
    """A fault of the linter that is known and accepted: the id of the record, the check, and why it is right so."""

    record: Text
    check: Id
    reason: Text
