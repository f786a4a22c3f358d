"""Coverage-guided fuzzing of what comes from outside.

    python -m tests.fuzz intake|case|knowledge|queue --seconds 3600

Only the errors that this project raises on purpose may come out; anything else stops the run, and the input that did it
stays in `--keep`. Needs atheris, which is no dependency: pip install atheris.
"""

import argparse
import io
import json
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parent.parent
Target = Callable[[bytes], None]
Seeds = Callable[[], list[bytes]]


def main(arguments: Sequence[str]) -> None:
    """Fuzz one target; libFuzzer ends the process, with an exit code other than 0 at a finding."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz")
    parser.add_argument("target", choices=sorted(TARGETS))
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--keep", type=Path, default=Path("findings"), help="folder for inputs that break something")
    options = parser.parse_args(arguments)
    options.keep.mkdir(parents=True, exist_ok=True)
    make, seeds = TARGETS[options.target]
    import atheris

    with atheris.instrument_imports(include=["knowledge", "intake", "expert"]):
        target = make()
    with TemporaryDirectory() as corpus:
        for number, seed in enumerate(seeds()):
            Path(corpus, str(number)).write_bytes(seed)
        limits = [f"-max_total_time={options.seconds}", "-max_len=6000", "-timeout=30", "-rss_limit_mb=3000"]
        atheris.Setup(
            [sys.argv[0], *limits, f"-artifact_prefix={options.keep}/", "-print_final_stats=1", corpus], target
        )
        atheris.Fuzz()


def _intake() -> Target:
    from expert.document import TriageDocument
    from expert.first_pass import triage
    from knowledge.errors import MessageError

    triage("no fans")  # the base is prepared here, and not in the time of the first input

    def read(content: bytes) -> None:
        text = content.decode("utf-8", errors="replace")
        try:
            document = triage(text)
        except MessageError:
            return
        assert TriageDocument.model_validate_json(document.to_json()) == document
        for found in document.findings:
            assert found.quote == text[found.start : found.end]

    return read


def _case() -> Target:
    from expert.first_pass import expert_of
    from expert.portable import read_case_file, write_case
    from expert.report.gather import report_of
    from expert.report.markdown import write_markdown
    from expert.report.page import write_page
    from knowledge import shipped_base
    from knowledge.errors import CaseError

    base = shipped_base()
    expert = expert_of(base)
    folder = TemporaryDirectory()
    path = Path(folder.name, "a.case.json")

    def read(content: bytes, _keep: object = folder) -> None:
        path.write_bytes(content)
        try:
            case = read_case_file(path)
            report = report_of(base, case.stamped, expert, case.number)
        except CaseError:
            return
        assert write_markdown(report)
        assert write_page(report)
        again = write_case(case.stamped, case.title, case.number)
        path.write_bytes(again)
        assert read_case_file(path) == case

    return read


def _knowledge() -> Target:
    from knowledge.errors import KnowledgeError
    from knowledge.load import load

    folder = TemporaryDirectory()
    path = Path(folder.name, "shop.toml")

    def read(content: bytes, _keep: object = folder) -> None:
        path.write_bytes(content)
        with suppress(KnowledgeError):
            load([path.parent])

    return read


def _queue() -> Target:
    from expert.queue.mail import read_mail, read_mailbox
    from expert.queue.records import Keys, read_csv, read_json_lines
    from knowledge.errors import CallError

    def read(content: bytes) -> None:
        kind, body = content[:1], content[1:]
        text = io.StringIO(body.decode("utf-8", errors="surrogateescape"), newline="")
        try:
            if kind == b"m":
                found = list(read_mailbox(io.BytesIO(body), "a.mbox"))
            elif kind == b"e":
                found = [read_mail(body, "a.eml")]
            elif kind == b"c":
                found = list(read_csv(text, Keys(), "a.csv"))
            else:
                found = list(read_json_lines(text, Keys(owner="owner")))
        except CallError:
            return
        for complaint in found:
            assert complaint.fault or complaint.text.encode("utf-8") is not None
            assert json.dumps(complaint.id)

    return read


def _messages() -> list[bytes]:
    return [path.read_bytes() for path in sorted((ROOT / "corpus" / "demo").glob("*.txt"))]


def _cases() -> list[bytes]:
    from expert.case import AnswerEntry, CloseEntry, HandEntry, MeasureEntry, NoteEntry, OutcomeEntry, StepEntry
    from expert.first_pass import message_entry
    from expert.portable import write_case
    from expert.store import Stamped
    from knowledge import shipped_base

    base = shipped_base()
    more = [
        AnswerEntry(finding="board-light", state="absent", words="no"),
        OutcomeEntry(check=base.checks[0].id, outcome=base.checks[0].outcomes[0].id),
        MeasureEntry(limit="rail-12v", value=11.9, finding="rails-good", state="present", verdict="within"),
        HandEntry(have=("multimeter",)),
        NoteEntry(words="a note", hazard="fire"),
        StepEntry(kind="undo"),
        CloseEntry(cause="psu-failed", replaced=("psu",)),
    ]
    openings = [message_entry(text.decode("utf-8"), base) for text in _messages()[:3]]
    return [write_case([Stamped("2026-03-01T09:00:00Z", entry) for entry in (first, *more)]) for first in openings]


def _packs() -> list[bytes]:
    files = sorted((ROOT / "knowledge" / "base").rglob("*.toml"))
    records = [part for path in files for part in path.read_text("utf-8").split("\n\n")[1:3]]
    return [record.encode() for record in records]


def _queues() -> list[bytes]:
    mail = b"From: a@example.org\nSubject: dead\nContent-Type: text/plain; charset=utf-8\n\nno fans\n"
    return [
        b'j{"id": "1", "text": "no fans", "owner": "a"}\n{"id": "2", "text": "dead"}\n',
        b'cid,text\n1,"no fans, ""dead"""\n',
        b"e" + mail,
        b"mFrom a Thu Jan  1 00:00:00 2026\n" + mail,
    ]


TARGETS: dict[str, tuple[Callable[[], Target], Seeds]] = {
    "case": (_case, _cases),
    "intake": (_intake, _messages),
    "knowledge": (_knowledge, _packs),
    "queue": (_queue, _queues),
}

if __name__ == "__main__":
    main(sys.argv[1:])
