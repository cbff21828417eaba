"""Digits said by one ordinary word: "the index and long MCP joints", "EDC to the small is ruptured".

"Long" and "small" are digits only after another digit in a list, or alone after "the" where no noun follows.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictation.extraction.matching import Mention
from dictation.extraction.tokens import Token

SHORT = {"long": "middle", "small": "little"}
DIGITS = frozenset("thumb index middle ring little long small".split())
AFTER = frozenset("is are was were has and or with on only remains mcp pip dip fdp fds edc".split())
LEADS = frozenset("to in of the over at on and or".split())


def short_digits(tokens: Sequence[Token], mentions: Sequence[Mention]) -> list[Mention]:
    """Return the digits that "long" and "small" name."""
    named = {m.start for m in mentions if m.kind in {"digit", "joint", "structure", "status", "concept", "movement"}}
    covered = {k for m in mentions if m.kind in {"digit", "concept", "ordinary"} for k in range(m.start, m.end)}
    out = []
    for i, token in enumerate(tokens):
        if token.text not in SHORT or i in covered or i == 0:
            continue
        before, last = tokens[i - 1], i + 1 >= len(tokens) or bool(token.stop)
        listed = _listed(tokens, i)
        follows = last or tokens[i + 1].text in AFTER or i + 1 in named
        led = before.text == "the" and i > 1 and tokens[i - 2].text in LEADS
        if follows and (listed or led):
            out.append(Mention("digit", SHORT[token.text], i, i + 1))
    return out


def _listed(tokens: Sequence[Token], i: int) -> bool:
    """Whether another digit stands before or after it in a list."""
    back = i - 1
    while back >= 0 and tokens[back].text in {"and", "or", "the", "finger"}:
        back -= 1
    listed = back >= 0 and tokens[back].text in DIGITS and (back < i - 1 or tokens[back].stop == ",")
    ahead = i + 1
    while ahead < len(tokens) and tokens[ahead].text in {"and", "or", "the"}:
        ahead += 1
    return listed or (ahead < len(tokens) and ahead > i + 1 and tokens[ahead].text in DIGITS and not tokens[i].stop)
