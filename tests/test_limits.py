"""Every threshold says in what unit it is and where it comes from, and none stands without a word on what it means."""

import ast
import io
import re
import tokenize
from pathlib import Path

from toneprobe import limits

TEXT = Path(limits.__file__).read_text(encoding="utf-8")
UNIT_OF_NAME = r"_(DB|HZ|CENTS|S|OCTAVE|SHARE)$"
UNIT_IN_WORDS = (r"\b(log\b|\|log\| |spread\b|share of|strings\b|partials\b|factor\b|degrees of freedom|dB\b|widths?\b|bend\b|σ²|rms\b|"
                 r"times\b|turns\b|number of|1/plucks|strength of evidence|strength that|standard deviation|standard errors|per cent|"
                 r"errors\b|sample rates|kbit a second)")
SOURCE = (r"(\(|[,:;] )(set|measured|derived|published|from memory|common practice|string model)\b|\b(set|measured|derived)\)|"
          r"J\. AES|takes\.py")


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
    assert len(said) > 70 and set(said) == {name for name in vars(limits) if name.isupper()}
    assert not [name for name, comment in said.items() if len(comment.split()) < 4]


def test_every_limit_has_its_unit():
    """In its name, or in words; a bare log, share or factor is one too."""
    assert not [name for name, comment in comments_of_names().items()
                if not re.search(UNIT_OF_NAME, name) and not re.search(UNIT_IN_WORDS, comment)]


def test_every_limit_says_where_it_comes_from():
    """What goes on from one limit to the next (…) says it once."""
    groups: list[tuple[list[str], str]] = []
    for name, comment in comments_of_names().items():
        if groups and (groups[-1][1].endswith("…") or comment.startswith("# …")):
            names, said = groups.pop()
            groups.append(([*names, name], f"{said} {comment}"))
        else:
            groups.append(([name], comment))
    assert len(groups) > 70 and not [names for names, said in groups if not re.search(SOURCE, said)]
