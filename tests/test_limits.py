"""Every threshold says in what unit it is, and none stands without a word on what it means."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from pathlib import Path

from toneprobe import limits

TEXT = Path(limits.__file__).read_text(encoding="utf-8")
UNIT_OF_NAME = r"_(DB|HZ|CENTS|S|OCTAVE)$"
UNIT_IN_WORDS = (r"\b(log\b|spread|share|strings|plucks|partials|factor|degrees|decibel|dB|widths?\b|bend\b|σ²|rms|times|turns|number|"
                 r"strength|score|variance|deviation|period|per cent|error|ring|Student)")


def comments_of_names():
    """By name, the comment beside it and on the lines right below."""
    comments = {token.start[0]: token.string for token in tokenize.generate_tokens(io.StringIO(TEXT).readline)
                if token.type == tokenize.COMMENT}
    own_lines = {number for number, line in enumerate(TEXT.splitlines(), 1) if line.startswith("#")}
    found = {}
    for node in ast.parse(TEXT).body:
        if isinstance(node, ast.Assign):
            said = [comments.get(node.end_lineno, "")]
            below = node.end_lineno + 1
            while below in own_lines:
                said.append(comments[below])
                below += 1
            names = [one.id for target in node.targets for one in (target.elts if isinstance(target, ast.Tuple) else [target])]
            found |= dict.fromkeys(names, " ".join(said))
    return found


def test_every_limit_has_its_comment():
    said = comments_of_names()
    assert len(said) > 80 and set(said) == {name for name in vars(limits) if name.isupper()}
    assert not [name for name, comment in said.items() if len(comment.split()) < 4]


def test_every_limit_has_its_unit():
    """In its name, or in words; a bare log, share or factor is one too."""
    assert not [name for name, comment in comments_of_names().items()
                if not re.search(UNIT_OF_NAME, name) and not re.search(UNIT_IN_WORDS, comment)]
