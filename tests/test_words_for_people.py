"""Texts and names keep to the trade's words: literals, help, messages, documents, identifiers."""

from __future__ import annotations

import ast
import contextlib
import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

from runner.cli.help import TOPICS
from runner.cli.main import main
from tests.lines.manual import run, script
from tests.lines.process import ROOT
from tests.test_docs import parsers

# What stands for something else: jargon of this program, and sentences that had to be read twice.
WORDS = ("slot", "rung", "ladder", "rep floor", "rep ceiling", "gear", "open entry", "version held")
PHRASES = (
    "to be known before you begin",
    "begin says that these are known",
    "read on: what is to be known comes first",
    "the last page begins",
    "else all is as planned",
    "over the time there is",
    "a shows a way",
    "once more closes all the same",
    "its time is over",
    "all sets are through",
    "position easier",
    "position harder",
    "is none",
    "beforehand",
    "there is to be",
    "so many",
    "likewise",
    "to be had",
    # One word for the computed timeline: forecast.
    "predicted",
    # Found several times by a reader who had nothing but the texts.
    "such as",
    "names like it",
    "after a look",
    "in their band",
    "with reserve (",
    "each of the plan's once",
    "is no word",
    "already so",
    "really used",
)
# Sentences of comments and docstrings that had to be read twice.
REMARKS = ("somebody does everything", "looked through for rubbish", "gone through in their order")
AT_WORK = {"is none", "its time is over"}  # which a remark may say of a value or a timer
# Names that say less than the glossary's; a released name, or one that it gives, may hold one.
NAMES = ("slot", "rung", "ladder", "gear", "held", "holding", "standing", "told", "happened")
NAMES += ("outlook", "predicted", "finding")
OF_EVENT = ("Held", "_held")  # the released event `held`
_FORBIDDEN = re.compile(
    rf"\b({'|'.join(map(re.escape, WORDS))})s?\b|{'|'.join(map(re.escape, PHRASES))}", re.IGNORECASE
)
# One word alone is a key or a name, in capitals or with braces it is SQL, CSS or a pattern.
_FOR_PEOPLE = re.compile(r"[A-Za-z']+[,.:;]? [A-Za-z'(\0]")
_SQL = re.compile(
    r"\b(SELECT|FROM|CREATE|ALTER|INSERT|UPDATE|DELETE|PRAGMA|WHERE)\b|\$mat-|[\\^]\("
)


def forbidden(text: str) -> list[str]:
    """What of a text has no place in front of a person."""
    return [found.group() for found in _FORBIDDEN.finditer(" ".join(text.split()))]


def literals(source: str) -> Iterator[tuple[int, str]]:
    """Line and text of the strings for people; a value put into one stands as a null."""
    tree = ast.parse(source)
    passed = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr):
            passed.add(node.value)  # a docstring
        if isinstance(node, ast.JoinedStr):
            passed.update(node.values)
    for node in ast.walk(tree):
        if node in passed:
            continue
        if isinstance(node, ast.JoinedStr):
            parts = (v.value if isinstance(v, ast.Constant) else "\0" for v in node.values)
            text = "".join(map(str, parts))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        else:
            continue
        if _FOR_PEOPLE.search(text) and not _SQL.search(text):
            yield node.lineno, text


def test_no_literal_has_a_word_of_the_workshop() -> None:
    found, read = [], 0
    for path in sorted((ROOT / "runner").rglob("*.py")):
        for line, text in literals(path.read_text("utf-8")):
            read += 1
            found += [(path.name, line, word) for word in forbidden(text)]
    assert not found
    assert read > 1000  # the sieve lets texts for people through


@pytest.mark.parametrize("command", parsers())
def test_no_help_has_one(command: str) -> None:
    parser = parsers()[command]
    assert not forbidden(parser.format_help())


@pytest.mark.parametrize("topic", TOPICS)
def test_no_topic_of_help_has_one(topic: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["help", topic])
    assert not forbidden(capsys.readouterr().out)


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_no_document_has_one(name: str) -> None:
    assert not forbidden((ROOT / name).read_text("utf-8"))


def remarks(source: str) -> Iterator[str]:
    """The docstrings of a module, and its comments."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
            yield (ast.get_docstring(node) or "").replace("is None", "is none")
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            yield token.string


def test_no_remark_in_the_code_has_one() -> None:
    found = [
        (path.name, words)
        for path in sorted((ROOT / "runner").rglob("*.py"))
        for text in remarks(path.read_text("utf-8"))
        if (words := {*forbidden(text), *(one for one in REMARKS if one in text)} - AT_WORK)
    ]
    assert not found


def names(source: str) -> Iterator[str]:
    """What a module gives a name: classes, functions, arguments, variables, attributes."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ClassDef | ast.FunctionDef):
            yield node.name
        elif isinstance(node, ast.arg):
            yield node.arg
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id
        elif isinstance(node, ast.Attribute):
            yield node.attr


def unclear(name: str) -> bool:
    """Whether a part of a name is a word that the glossary replaces."""
    snake = re.sub(r"(?<=[a-z])(?=[A-Z])", "_", name).lower().replace("level_finding", "")
    return name not in OF_EVENT and any(p.removesuffix("s") in NAMES for p in snake.split("_"))


def test_no_name_has_a_word_that_the_glossary_replaces() -> None:
    found, read = [], 0
    for path in sorted((ROOT / "runner").rglob("*.py")):
        for name in names(path.read_text("utf-8")):
            read += 1
            found += [(path.name, name)] if unclear(name) else []
    assert not found
    assert read > 10000


TYPED = """
 go|12|lighter|place|planned|keep|today|advice|redo|undo|late|nocount|fix 1 13|fix 0 1
fix 9 1||skip|12|9/2|12 14|45s|12/|/2|1e9|-3|12.5|45.55s|12 14 16|12|14|9/11|300|fix 1 12 13
fix 1|fix 1 nocount|12|undo|redo|undo|undo|undo|redo|redo|easier|harder|harder|harder|harder
easier|easier|easier|easier|swap|drop|load 12|load heavy|setup height=60 cm|setup|pain
pain knee|note|note hut|rpe 11|rpe 7|mass 3|mass 74.5|pause|pause||volume 60|volume 200
voice on|voice loud|pacer|sound|shorten|shorten 10m|shorten 5x|accept 1|refuse 1|+|-|go|||12
skip|12|nocount|late|harde|help|unwell|nothing of this|end now|go on||skip|10|skip|12|skip
skip|8|skip|skip|skip|skip|skip|keep|today|advice|accept 1|rpe 6|
"""
USAGE = """
check nowhere|check|run nowhere|rehearse demo --speed 3|rehearse demo --watch --json
next demo --for ''
rehearse demo --within soon|rehearse demo --recovery 0|rehearse demo --changeover 40..20
rehearse demo --reps many|rehearse demo --pace 1m|rehearse demo --sets 0|rehearse demo --at 25:00
rehearse demo --runs 1|rehearse demo --seed x|rehearse demo --within 30s|rehearse demo --session X
rehearse demo --within 9m --until 07:00|rehearse demo --week --at 18:30|pairs kestrel-hut --order
log demo|log|log demo --on soon|log demo --on 2999-01-01|log --fix --on 2026-11-25 --for Ada
next demo --accept juggling|next demo --set press|next demo --on 2999-01-01|next demo --for Ada
review --since soon|review --for Adda|review --since 2026-02-01 --until 2026-01-01|cues beginn
cues --say ''|export --for Adda|export --plan nothing|export --since soon|restore nowhere.db
import nowhere.csv|forget Adda -o out|backup nowhere/copy.db|forget Ada -o out --yes|help keyes
"""


def test_no_message_of_a_hundred_has_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = [line for row in TYPED.strip("\n").split("\n") for line in row.split("|")]
    messages = set()
    for plan in ("demo", "kestrel-hut"):
        for moved in range(0, 60, 20):
            ran = run(
                plan, tmp_path / f"{plan}{moved}", script(*typed[moved:], step=7.0), yes=False
            )
            messages |= set(ran.err.splitlines())
    for line in USAGE.strip().replace("\n", "|").split("|"):
        arguments = [word.strip("'") for word in line.split(" ")]
        place = [] if arguments[0] in ("cues", "help") else ["--data", str(tmp_path / "data")]
        with contextlib.suppress(SystemExit):
            main([*arguments, *place])
        shown = capsys.readouterr()
        messages |= set(shown.err.splitlines())
    assert len(messages) >= 100
    assert not [(text, found) for text in sorted(messages) if (found := forbidden(text))]


def test_the_check_can_fail() -> None:
    assert all(map(unclear, ("Finding", "held_changes", "_told", "PlannedSlots")))
    assert not any(map(unclear, ("level_finding", "Held", "threshold", "wants_level_finding")))
    assert [*remarks('"""It is None."""\nx = 1  # a rung\n')] == ["It is none.", "# a rung"]
    assert forbidden("One position easier from here on") == ["position easier"]
    assert forbidden("2 open entries; the slots are\n empty") == ["slots"]
    assert forbidden("an open\n entry") == ["open entry"]
    assert not forbidden("Slotted spoons, geared up: one level easier from here on")
    source = 'def f(x):\n    """A rung."""\n    return {"rung": f"the rung {x} is gone"}\n'
    assert [text for _, text in literals(source)] == ["the rung \0 is gone"]
