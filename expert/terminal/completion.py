"""What the words before the cursor may go on with: commands, checks and their outcomes, quantities, findings, parts."""

from expert.terminal.bench import ELSEWHERE, IN_PLACE
from expert.terminal.commands import COMMANDS
from expert.terminal.consultation import Consultation
from expert.terminal.naming import things_of


def complete(now: Consultation, text: str) -> tuple[str, ...]:
    """Give what the last word of the text may become, in order; nothing where anything may be written."""
    before, _, last = text.rpartition(" ")
    words = before.lower().split()
    options = _options(now, words)
    return tuple(option for option in options if option.startswith(last.lower()))


def _options(now: Consultation, words: list[str]) -> list[str]:
    if not words:
        return [*COMMANDS, "yes", "no"]
    command, arguments = words[0], words[1:]
    if command in ("done", "whatif", "check"):
        return _checks(now, arguments, outcomes=command != "check") + (["yes", "no"] if words == ["whatif"] else [])
    if command in ("measure", "seen", "how", "help") and not arguments:
        return {
            "measure": [limit.id for limit in now.base.limits],
            "seen": [finding.id for finding in now.base.findings],
            "how": [*(r.hazard.id for r in now.assessment.hazards), *(c.id for c in now.assessment.belief.causes)],
            "help": list(COMMANDS),
        }[command]
    if command == "measure" and len(arguments) == 2:
        return [limit.unit for limit in now.base.limits if limit.id == arguments[0]]
    if command == "seen" and len(arguments) == 1:
        return ["yes", "no"]
    if command in ("have", "part", "swap"):
        return _things(now, command, arguments)
    return []


def _checks(now: Consultation, arguments: list[str], outcomes: bool) -> list[str]:
    if not arguments:
        offered = [plan.id for plan in now.assessment.checks]
        return list(dict.fromkeys([*offered, *(check.id for check in now.base.checks)]))
    found = [check for check in now.base.checks if check.id == arguments[0]] if len(arguments) == 1 and outcomes else []
    return [outcome.id for check in found for outcome in check.outcomes]


def _things(now: Consultation, command: str, arguments: list[str]) -> list[str]:
    if command == "have":
        return [*(["no", "only"] if not arguments else []), *things_of(now.base)]
    if not arguments:
        return [part.id for part in now.base.build_parts]
    if command == "swap":
        places = [ELSEWHERE[0], IN_PLACE[0]]
        results = {ELSEWHERE[0]: ["works", "fails"], IN_PLACE[0]: ["no-change", "cured"]}
        return places if len(arguments) == 1 else results.get(arguments[1], []) if len(arguments) == 2 else []
    return []
