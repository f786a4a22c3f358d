"""The command as a user calls it: every kind of source, the table, faults, interruptions."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from email.message import EmailMessage
from io import BytesIO, TextIOWrapper
from pathlib import Path

import pexpect
import pytest

from expert.cli import main
from tests.expert.queue.voices import write_queue

DEAD = "My machine is completely dead, no fans and no lights."
SMOKE = "There was smoke and a burning smell from the back when I pressed the button."
PROGRAM = [sys.executable, "-m", "expert.cli", "queue"]


def _triage_json(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    (tmp_path / "one.txt").write_text(text)
    main(["triage", "--json", str(tmp_path / "one.txt")])
    return capsys.readouterr().out.rstrip("\n")


def _mail(number: int, text: str) -> EmailMessage:
    message = EmailMessage()
    message["From"] = "Ottoline Quill <quill@post.example>"
    message["Message-ID"] = f"<{number}@post.example>"
    message.set_content(text)
    return message


def _write_source(kind: str, folder: Path) -> Path:
    path = folder / f"queue.{kind}"
    if kind == "jsonl":
        path.write_text("".join(json.dumps({"id": i, "text": t}) + "\n" for i, t in (("1", DEAD), ("2", SMOKE))))
    elif kind == "csv":
        path.write_text(f'id,text\n1,"{DEAD}"\n2,{SMOKE}\n')
    elif kind == "mbox":
        mails = [_mail(1, DEAD).as_bytes(), _mail(2, SMOKE).as_bytes()]
        path.write_bytes(b"".join(b"From q@post.example Mon Nov  2 10:00:00 2026\n" + mail + b"\n" for mail in mails))
    else:
        path.mkdir()
        (path / "b.txt").write_text(SMOKE)
        (path / "a.eml").write_bytes(_mail(1, DEAD).as_bytes())
        (path / "notes.doc").write_text("not a message")
    return path


@pytest.mark.parametrize(
    ("kind", "ids"),
    [
        ("jsonl", ["1", "2"]),
        ("csv", ["1", "2"]),
        ("mbox", ["<1@post.example>", "<2@post.example>"]),
        ("folder", ["<1@post.example>", "b.txt"]),
    ],
)
def test_each_source_gives_one_line_per_complaint_with_the_bytes_of_the_triage(kind, ids, tmp_path, capsys):
    """The document in the line is that which `triage --json` prints for this message alone."""
    source = _write_source(kind, tmp_path)
    ends = "\n" if kind in ("mbox", "folder") else ""
    texts = [DEAD + ends, SMOKE + ("\n" if kind == "mbox" else "")]
    expected = [_triage_json(text, tmp_path, capsys) for text in texts]
    assert main(["queue", "--json", str(source)]) == 0
    out, err = capsys.readouterr()
    assert out.splitlines() == [f'{{"id":"{i}","triage":{d}}}' for i, d in zip(ids, expected, strict=True)]
    assert err == ""


def test_standard_input_is_json_lines(monkeypatch, capsys):
    """Named by a dash."""
    monkeypatch.setattr("sys.stdin", TextIOWrapper(BytesIO(json.dumps({"id": "ü", "text": DEAD}).encode())))
    assert main(["queue", "--json", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["id"] == "ü"


def test_bad_items_are_reported_and_the_others_done(tmp_path, capsys):
    """Exit 2, one line on standard error with the count, and a line in its place for each."""
    folder = tmp_path / "in"
    folder.mkdir()
    for name, content in {"a": b"", "b": DEAD.encode(), "c": b"no\xff fans", "d": b"x" * 1_000_001}.items():
        (folder / f"{name}.txt").write_bytes(content)
    (folder / "e.txt").mkdir()
    assert main(["queue", "--json", str(folder)]) == 2
    out, err = capsys.readouterr()
    assert [[*json.loads(line)][1] for line in out.splitlines()] == ["error", "triage", "error", "error", "error"]
    assert len(err.splitlines()) == 1
    assert "4 of 5 complaints could not be read" in err


def test_the_table_has_danger_first_and_no_owner_in_it(tmp_path, capsys):
    """What one owner sent twice is one row, as urgent as the worst of it; addresses are not printed."""
    source = tmp_path / "queue.csv"
    rows = [("1", DEAD, "a@post.example"), ("2", SMOKE, "b@post.example"), ("3", f"Hi, {DEAD}", "A@post.example")]
    source.write_text("id,text,who\n" + "".join(f'{i},"{t}",{o}\n' for i, t, o in rows))
    assert main(["queue", str(source), "--owner", "who"]) == 0
    out = capsys.readouterr().out
    assert re.search(r"^STOP .* 2$", out, re.MULTILINE)
    assert out.index("STOP") < out.index(" 1\n") < out.index("also 3")
    assert "@post.example" not in out
    assert "3 complaints read, 1 of them told again" in out


def test_what_owners_write_cannot_steer_the_terminal(tmp_path, capsys):
    """An id with an escape sequence is shown without it."""
    source = tmp_path / "queue.jsonl"
    source.write_text(json.dumps({"id": "\x1b[2Jx", "text": DEAD}) + "\n" + json.dumps({"id": "\x1b]0;y", "text": ""}))
    main(["queue", str(source)])
    out, err = capsys.readouterr()
    assert "\x1b" not in out
    assert "\x1b" not in err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["/nowhere"], "No such file"),
        (["{}/queue.doc"], "--format"),
        (["{}"], "no .txt or .eml file"),
        (["{}/queue.csv"], "no column 'text'"),
        (["{}/queue.csv", "--text", "b", "--encoding", "latin-x"], "no encoding"),
        (["{}/queue.csv", "--format", "mbox"], "not a mailbox"),
        (["{}/queue.csv", "--text", "b", "--resume"], "--output"),
        (["{}/queue.csv", "--text", "b", "--workers", "0"], "from 1 up"),
        (["{}/queue.csv", "--text", "b", "--workers", "2", "--scheduler", "x"], "exclude"),
        (["{}/queue.csv", "--text", "b", "--output", "{}"], "exists already"),
        (["{}/queue.csv", "--text", "b", "--output", "{}/no/file"], "No such file"),
    ],
)
def test_a_wrong_call_is_one_line(arguments, words, tmp_path, capsys):
    """Exit 2, nothing on standard output, and what to do."""
    (tmp_path / "queue.csv").write_text("a,b\n1,dead\n")
    (tmp_path / "queue.doc").write_text("x")
    assert main(["queue", *(argument.format(tmp_path) for argument in arguments)]) == 2
    out, err = capsys.readouterr()
    assert (out, len(err.splitlines())) == ("", 1)
    assert words in err


def _until_lines(path: Path, count: int, process: "subprocess.Popen[bytes]") -> None:
    for _ in range(600):
        if path.exists() and path.read_bytes().count(b"\n") >= count:
            return
        assert process.poll() is None
        time.sleep(0.05)
    raise AssertionError("no answers came")


def _children(parent: int) -> list[int]:
    stats = [p.read_text().rsplit(")", 1) for p in Path("/proc").glob("[0-9]*/stat") if _readable(p)]
    return [int(head.split()[0]) for head, tail in stats if int(tail.split()[1]) == parent]


def _readable(path: Path) -> bool:
    try:
        return bool(path.read_text())
    except OSError:
        return False


@pytest.fixture(scope="module")
def straight(tmp_path_factory):
    """The call of a queue, all but its last argument, and the bytes that a run without a break writes."""
    folder = tmp_path_factory.mktemp("straight")
    write_queue(folder / "queue.jsonl", 60)
    call = [*PROGRAM, str(folder / "queue.jsonl"), "--json", "--output"]
    subprocess.run([*call, str(folder / "out.jsonl"), "--workers", "1"], check=True)
    return call, (folder / "out.jsonl").read_bytes()


@pytest.mark.parametrize("kind", [signal.SIGKILL, signal.SIGINT])
def test_an_interrupted_queue_goes_on_where_it_was(kind, straight, tmp_path):
    """Killed without warning, or interrupted by the user, no worker stays behind, the bytes are those of one run."""
    call, whole = straight
    broken = tmp_path / "broken.jsonl"
    process = subprocess.Popen([*call, str(broken), "--workers", "2"], stderr=subprocess.PIPE)
    _until_lines(broken, 8, process)
    workers = _children(process.pid)
    assert workers
    process.send_signal(kind)
    error = process.communicate()[1].decode()
    if kind == signal.SIGINT:
        assert process.returncode == 2
        assert re.fullmatch(r"ohmbudsman: interrupted after \d+ complaints; .* --resume goes on\n", error)
    for _ in range(100):
        if not any(Path(f"/proc/{worker}/stat").exists() for worker in workers):
            break
        time.sleep(0.1)
    assert [worker for worker in workers if Path(f"/proc/{worker}/stat").exists()] == []
    kept = broken.read_bytes().count(b"\n")
    assert 8 <= kept < 60
    subprocess.run([*call, str(broken), "--workers", "1", "--resume"], check=True)
    assert broken.read_bytes() == whole


def test_a_bar_shows_on_a_terminal_and_leaves_the_table_whole(tmp_path):
    """The bar goes to standard error, and counts up to the number of complaints in the file."""
    write_queue(tmp_path / "queue.jsonl", 6)
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "100"}
    child = pexpect.spawn(sys.executable, [*PROGRAM[1:], str(tmp_path / "queue.jsonl")], env=environment, timeout=60)
    shown = child.read().decode()
    child.close()
    assert child.exitstatus == 0
    assert re.search(r"6/ *6", shown)
    assert "Traceback" not in shown
    assert "\x1b[6n" not in shown, "asks the terminal for the cursor, and nobody reads the answer"
    assert "6 complaints read" in shown
