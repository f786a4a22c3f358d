"""Do the tests notice? Small faults put into the reasoning and into the danger rules, one at a time.

    python -m tests.mutants code [--only belief] [--most 60]    # one run of the module's own tests for each fault
    python -m tests.mutants hazards                             # within this process: rules, their states, levels

A fault that no test notices is printed, to be killed by a new test or to be understood as one that changes nothing.
"""

import argparse
import ast
import copy
import random
import resource
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from expert.engine import Engine
from expert.facts import claims_in
from knowledge import shipped_base
from knowledge.models import Hazard, KnowledgeBase, Rule
from tests.test_hazards import unmet

ROOT = Path(__file__).parent.parent
MODULES = {
    "belief": ["test_belief.py", "test_belief_edges.py", "test_belief_published.py", "test_evidence.py"],
    "elimination": ["test_elimination.py", "test_elimination_edges.py", "test_verdict.py"],
    "engine": ["test_engine.py", "test_agenda.py", "test_trace.py"],
    "matcher": ["test_matcher.py", "test_engine.py"],
    "strata": ["test_strata.py", "test_engine.py"],
}
MOST_MEMORY = 3 * 2**30  # bytes
LONGEST = 120  # seconds; a fault that loops for ever is noticed
COMPARE = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq}
COMPARE |= {ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is}
ARITHMETIC = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.BitOr: ast.BitAnd}
ARITHMETIC |= {ast.BitAnd: ast.BitOr, ast.Pow: ast.Mult}
BOOLEAN = {ast.And: ast.Or, ast.Or: ast.And}
SWAPPED = {"any": "all", "all": "any", "min": "max", "max": "min"}

# Their hazard follows from one of their signs by a rule of its own already; what they add is the reason.
SECOND_REASONS = {
    "clicking-drive-in-no-start-is-data-loss",  # the noise alone
    "melted-wobbling-plug-is-mains-fault",  # the lead that wobbles
    "repasted-and-hot-is-overheating",  # the heat alone
    "supply-tried-on-odd-board-is-wrong-supply",  # the board alone
    "swollen-battery-is-fire",  # the smoke alone
}


def main(arguments: list[str]) -> int:
    """Print the faults that went unnoticed; exit 1 if there are any."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants")
    parser.add_argument("what", choices=["code", "hazards"])
    parser.add_argument("--only", choices=sorted(MODULES))
    parser.add_argument("--most", type=int, default=1000, help="faults for each module, drawn by a fixed seed")
    options = parser.parse_args(arguments)
    if options.what == "hazards":
        made, survived = _hazards()
    else:
        made, survived = _code([options.only] if options.only else sorted(MODULES), options.most)
    print("\n".join([*survived, f"{made} faults, {made - len(survived)} noticed"]))
    return 1 if survived else 0


# Code


def _code(names: list[str], most: int) -> tuple[int, list[str]]:
    made, survived = 0, []
    with TemporaryDirectory() as folder:
        tree = Path(folder, "tree")
        shutil.copytree(ROOT, tree, ignore=shutil.ignore_patterns(".*", "__pycache__", "corpus"))
        for name in names:
            path = tree / "expert" / f"{name}.py"
            source = path.read_text("utf-8")
            if _noticed(tree, MODULES[name]):
                raise SystemExit(f"the tests of {name} fail by themselves, so that every fault would count as noticed")
            faults = list(_faults(source))
            for text, words in random.Random(0).sample(faults, min(most, len(faults))):
                path.write_text(text, encoding="utf-8")
                made += 1
                if not _noticed(tree, MODULES[name]):
                    survived.append(f"{name}: {words}")
                    print(survived[-1], flush=True)
            path.write_text(source, encoding="utf-8")
    return made, survived


def _noticed(tree: Path, tests: list[str]) -> bool:
    files = [f"tests/expert/{name}" for name in tests]
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n0", "-p", "no:cacheprovider", *files]
    try:
        done = subprocess.run(
            command, cwd=tree, capture_output=True, timeout=LONGEST, check=False, preexec_fn=_hold_memory
        )
    except subprocess.TimeoutExpired:
        return True
    return bool(done.returncode)


def _hold_memory() -> None:
    """Let a fault that gathers without end take its own process down and nothing else."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


def _faults(source: str) -> Iterator[tuple[str, str]]:
    """Give the source with one thing changed, and what was changed, for each thing that can be."""
    tree = ast.parse(source)
    for place, node in enumerate(ast.walk(tree)):
        for turn in range(_turns(node)):
            changed = copy.deepcopy(tree)
            target = next(each for number, each in enumerate(ast.walk(changed)) if number == place)
            before = ast.unparse(target)
            _change(target, turn)
            after = ast.unparse(target)
            if after != before:
                yield ast.unparse(changed), f"line {getattr(node, 'lineno', '?')}: {before}  ->  {after}"


def _turns(node: ast.AST) -> int:
    if isinstance(node, ast.Compare | ast.BoolOp | ast.BinOp | ast.IfExp):
        return 1
    if isinstance(node, ast.UnaryOp):
        return 1
    if isinstance(node, ast.Constant):
        return int(isinstance(node.value, int | float))
    return int(isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in SWAPPED)


def _change(node: ast.AST, turn: int) -> None:
    if isinstance(node, ast.Compare):
        node.ops = [COMPARE.get(type(op), type(op))() for op in node.ops]
    elif isinstance(node, ast.BoolOp):
        node.op = BOOLEAN[type(node.op)]()
    elif isinstance(node, ast.BinOp):
        node.op = ARITHMETIC.get(type(node.op), type(node.op))()
    elif isinstance(node, ast.IfExp):
        node.body, node.orelse = node.orelse, node.body
    elif isinstance(node, ast.UnaryOp):
        node.op = (
            ast.UAdd() if isinstance(node.op, ast.USub) else ast.UAdd() if isinstance(node.op, ast.Not) else node.op
        )
        if isinstance(node.op, ast.UAdd) and not isinstance(node.operand, ast.Constant | ast.Call | ast.Attribute):
            node.op = ast.Not()
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
    elif isinstance(node, ast.Constant):
        node.value = not node.value if isinstance(node.value, bool) else node.value + 1
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        node.func.id = SWAPPED[node.func.id]


# Danger


def _hazards() -> tuple[int, list[str]]:
    base, made, survived = shipped_base(), 0, []
    if flaws := unmet(base):
        raise SystemExit(f"the base itself fails, so that every fault would count as noticed: {flaws}")
    for changed, about, words in _changed_bases(base):
        made += 1
        if not (_breaks_an_example(changed, about) or unmet(changed)):
            survived.append(words)
    return made, survived


def _breaks_an_example(base: KnowledgeBase, rule: str) -> bool:
    found = [each for each in base.rules if each.id == rule]
    if not found:
        return False
    engine = Engine(base)
    fired = {text: {f.rule for f in engine.run(claims_in(text))} for text in (*found[0].fires, *found[0].stays_quiet)}
    fires = all(rule in fired[text] for text in found[0].fires)
    return not fires or any(rule in fired[text] for text in found[0].stays_quiet)


def _changed_bases(base: KnowledgeBase) -> Iterator[tuple[KnowledgeBase, str, str]]:
    """Give the base with one fault in it, the rule that has it ("" for a hazard), and what the fault is."""
    for place, hazard in enumerate(base.hazards):
        for level in ("stop", "caution", "notice"):
            if level != hazard.level:
                other: Hazard = hazard.model_copy(update={"level": level})
                hazards = (*base.hazards[:place], other, *base.hazards[place + 1 :])
                yield base.model_copy(update={"hazards": hazards}), "", f"{hazard.id}: level {level}"
    for place, rule in enumerate(base.rules):
        if rule.status == "active" and any(gives.hazard or gives.lift for gives in rule.gives):
            for other_rule, words in _changed_rules(rule, [hazard.id for hazard in base.hazards]):
                rules = (*base.rules[:place], other_rule, *base.rules[place + 1 :])
                yield base.model_copy(update={"rules": rules}), rule.id, f"{rule.id}: {words}"


def _changed_rules(rule: Rule, hazards: list[str]) -> Iterator[tuple[Rule, str]]:
    for name in ("when", "given", "unless"):
        conditions = getattr(rule, name)
        for place, condition in enumerate(conditions):
            rest = (*conditions[:place], *conditions[place + 1 :])
            if rest or name != "when":
                yield rule.model_copy(update={name: rest}), f"{name}[{place}] left out"
            if condition.finding:
                state = "absent" if condition.state == "present" else "present"
                turned = condition.model_copy(update={"state": state})
                changed = (*conditions[:place], turned, *conditions[place + 1 :])
                yield rule.model_copy(update={name: changed}), f"{name}[{place}] {state}"
    for place, gives in enumerate(rule.gives):
        for kind in ("lift",) if rule.id in SECOND_REASONS else ("hazard", "lift"):
            if about := getattr(gives, kind):
                other = hazards[(hazards.index(about) + 1) % len(hazards)]
                changed = (*rule.gives[:place], gives.model_copy(update={kind: other}), *rule.gives[place + 1 :])
                yield rule.model_copy(update={"gives": changed}), f"{kind} {other} and not {about}"
    yield rule.model_copy(update={"status": "withdrawn"}), "withdrawn"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
