"""The words that the matchers read: one tokeniser for dictations and for lexicon forms alike.

What goes in: corrected words. What comes out: tokens in a plain normal form (lower case, no possessive, no plural s,
no accents, hyphens and contractions opened, "4+/5" and "0-110" taken apart, spelled letters joined), each knowing its
corrected word and the punctuation after it. spaCy's own tokeniser reads "4+/5" as one word and "0-110" as three.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from dictation.transcript import CorrectedTranscript

STOPS = ".?!;:,"
_NUMBERY = re.compile(r"\d+(?:\.\d+)?|[a-z]+|[°%+/<>=≤≥–—-]|\.\d+")
_CODE = re.compile(r"[a-z]{1,2}\d{1,2}|\d[a-z]d|[a-z]\d[a-z]+|\d+(?:st|nd|rd|th)")
_SIGN = {"°": "degree", "–": "-", "—": "-", "≤": "<=", "≥": ">="}
_UNITS_STUCK = {"deg", "mm", "cm", "kg", "lb", "lbs", "s", "sec", "ml", "kgs", "degrees", "degree"}
_CONTRACTIONS = {
    "can't": ("can", "not"), "cannot": ("can", "not"), "won't": ("will", "not"), "shan't": ("shall", "not"),
    "there's": ("there", "is"), "theres": ("there", "is"), "that's": ("that", "is"), "thats": ("that", "is"),
    "it's": ("it", "is"), "he's": ("he", "is"), "she's": ("she", "is"), "what's": ("what", "is"),
    "here's": ("here", "is"), "where's": ("where", "is"), "who's": ("who", "is"), "let's": ("let", "us"),
    "i'm": ("i", "am"), "dont": ("do", "not"), "doesnt": ("does", "not"), "isnt": ("is", "not"),
    "cant": ("can", "not"), "wont": ("will", "not"), "didnt": ("did", "not"), "arent": ("are", "not"),
    "wasnt": ("was", "not"), "hasnt": ("has", "not"), "havent": ("have", "not"), "couldnt": ("could", "not"),
}  # fmt: skip
_ABBREVIATED = {"R": "right", "L": "left", "Rt": "right", "Lt": "left", "r": "right", "l": "left"}
_ENDINGS = {"n't": "not", "'ve": "have", "'ll": "will", "'re": "are", "'d": "would"}
_KEEP_S = {"this", "plus", "minus", "was", "does", "has", "is", "as", "us", "yes", "his", "its", "less", "always"}


@dataclass(frozen=True, slots=True)
class Token:
    """One word in its normal form.

    word: index of its corrected word. stop: punctuation after it, or "". pause: a pause or new segment before it.
    plural: a plural s was dropped. written: its word as corrected, without punctuation.
    """

    text: str
    word: int
    stop: str = ""
    pause: bool = False
    plural: bool = False
    written: str = ""


def normalise(text: str) -> list[tuple[str, bool]]:
    """Return the normal forms in one written word, each with whether a plural s was dropped.

    The commonest words come again and again, so the last ones are kept; a word longer than any is worked out anew.

    >>> [t for t, _ in normalise("4+/5.")], [t for t, _ in normalise("Tinel's")], [t for t, _ in normalise("0-110")]
    (['4', '+', '/', '5'], ['tinel'], ['0', '-', '110'])
    """
    return list(_kept(text) if len(text) <= _KEPT_LENGTH else _normal(text))


_KEPT_LENGTH = 40


@lru_cache(maxsize=4096)
def _kept(text: str) -> tuple[tuple[str, bool], ...]:
    return tuple(_normal(text))


def _normal(text: str) -> list[tuple[str, bool]]:
    plain = unicodedata.normalize("NFKD", text.replace("\u2019", "'").replace("\u2212", "-")).lower()
    plain = "".join(c for c in plain if not unicodedata.combining(c)).strip('"“”()[]{}*_')
    plain = plain if any(c.isdigit() for c in plain) else plain.strip('"“”()[]{}*_.,;:?!')
    plain = plain.rstrip(".,;:?!").lstrip(".,;:?!") if not re.match(r"^\.\d", plain) else plain.rstrip(".,;:?!")
    if not plain:
        return []
    if text.lstrip("(").startswith("?") and len(plain) > 1:
        return [("query", False), *normalise(plain)]
    if plain in _CONTRACTIONS:
        return [(part, False) for part in _CONTRACTIONS[plain]]
    for ending, word in _ENDINGS.items():
        if plain.endswith(ending) and len(plain) > len(ending):
            return [(plain[: -len(ending)], False), (word, False)]
    if re.fullmatch(r"(?:[a-z]\.)+[a-z]?", plain):
        plain = plain.replace(".", "")
    if any(c.isdigit() for c in plain):
        return [(part, False) for part in _numbery(plain)]
    out = []
    for part in re.split(r"[-/–—]|(?<=[a-z])\.(?=[a-z])", plain):
        if part in {"+", "<", ">", "=", "&", "≥", "≤"}:
            out.append(({"&": "and", "≥": ">=", "≤": "<="}.get(part, part), False))
        elif part:
            out.append(_singular(part))
    return out


def _numbery(plain: str) -> list[str]:
    out: list[str] = []
    for piece in re.split(r"(?<=[a-z])[-/](?=[a-z0-9])|(?<=\d)-(?=[a-z]{4,})", plain):
        bare = piece.replace("'s", "").strip("'")
        if _CODE.fullmatch(bare) and not re.fullmatch(r"\d+s", bare):
            out.append(bare)
            continue
        parts = _NUMBERY.findall(bare)
        for i, part in enumerate(parts):
            part = _SIGN.get(part, part)
            if part == "-" and i == 0 and len(parts) > 1 and parts[1][0].isdigit():
                part = "minus"
            out.append(_singular(part)[0] if part.isalpha() and part not in _UNITS_STUCK else part)
    return out


def _singular(word: str) -> tuple[str, bool]:
    """Drop the possessive and one plural s, the same way for dictations and for forms."""
    possessive = word.endswith("'s") or word.endswith("'")
    word = word[:-2] if word.endswith("'s") else word.strip("'")
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")) and word not in _KEEP_S:
        return word[:-1], not possessive
    return word, False


def form_tokens(text: str, variants: Mapping[str, str]) -> tuple[str, ...]:
    """Return the tokens of a lexicon form."""
    return tuple(variants.get(t, t) for word in text.split() for t, _ in normalise(word))


def tokenise(transcript: CorrectedTranscript, variants: Mapping[str, str], spelled: frozenset[str]) -> list[Token]:
    """Return the tokens of a dictation.

    variants: spelling -> canonical spelling. spelled: short forms ("mcp", "a1") that may be said letter by letter.
    """
    tokens: list[Token] = []
    for index, word in enumerate(transcript.corrected):
        tail = word.text.rstrip("\"”')")
        stop = tail[-1] if tail and tail[-1] in STOPS else ""
        # several words written for one stretch: a pause in it stands before the first of them
        first = index == 0 or transcript.corrected[index - 1].from_ != word.from_
        pause = first and any(i in transcript.heard.breaks for i in range(*word.from_))
        side = _ABBREVIATED.get(word.text.strip("()[].,:;"))
        parts = [(side, False)] if side and _lone(transcript, index) else normalise(word.text)
        if not parts and stop and tokens:
            tokens[-1] = replace(tokens[-1], stop=stop)
        parts = [(part, plural) for part, plural in parts if part]
        for i, (part, plural) in enumerate(parts):
            last = i == len(parts) - 1
            end = stop if last else ""
            written = word.text.strip('.,;:?!"()')
            tokens.append(Token(variants.get(part, part), index, end, pause and i == 0, plural, written))
    return _movement_letters(list(_join_spelled(tokens, spelled)))


def written(tokens: Sequence[Token]) -> str:
    """Return the words of some tokens as they were corrected, each once."""
    words = {t.word: t.written or t.text for t in tokens}
    return " ".join(words.values())


def _lone(transcript: CorrectedTranscript, index: int) -> bool:
    """Whether a letter is not part of letters spelled one by one ("E C R L")."""
    near = [transcript.corrected[k].text for k in (index - 1, index + 1) if 0 <= k < len(transcript.corrected)]
    near = [t for k, t in enumerate(near) if not (k == 0 and index and re.fullmatch(r"[a-z]\.", t))]  # "2 s. L hand"
    own = transcript.corrected[index].text
    return not any(len(t.strip(".,")) == 1 and t.strip(".,").isalpha() and t.isupper() == own.isupper() for t in near)


_LETTERS = {"e": "extension", "f": "flexion", "p": "pronation", "s": "supination"}


def _movement_letters(tokens: list[Token]) -> list[Token]:
    """ "E 60 F 50": single letters before numbers, one right after another, are movements."""
    pairs = [i for i, t in enumerate(tokens[:-1]) if t.text in _LETTERS and not t.stop and tokens[i + 1].text[:1].isdigit()]
    for k, i in enumerate(pairs):
        beside = [n for n in (*pairs[max(0, k - 1) : k], *pairs[k + 1 : k + 2]) if abs(n - i) <= _NEAR_LETTER]
        if any(tokens[n].written != tokens[i].written for n in beside):
            tokens[i] = replace(tokens[i], text=_LETTERS[tokens[i].text])
    return tokens


_NEAR_LETTER = 3
_DIGIT_WORDS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8"}


def _join_spelled(tokens: Sequence[Token], spelled: frozenset[str]) -> Iterable[Token]:
    """Join "m c p" to "mcp" and "c six" to "c6" where the joined form is a known one."""
    i = 0
    while i < len(tokens):
        run = 0
        while i + run < len(tokens) and run < 6 and len(tokens[i + run].text) == 1 and tokens[i + run].text.isalpha():
            run += 1
            if tokens[i + run - 1].stop:
                break
        for length in range(run, 1, -1):
            joined = "".join(t.text for t in tokens[i : i + length])
            if joined in spelled or (joined.endswith("s") and joined[:-1] in spelled):
                last = tokens[i + length - 1]
                joined = joined if joined in spelled else joined[:-1]
                yield Token(joined, tokens[i].word, last.stop, tokens[i].pause, last.text == "s")
                i += length
                break
        else:
            if run and i + 1 < len(tokens) and not tokens[i].stop:
                digit = _DIGIT_WORDS.get(tokens[i + 1].text, tokens[i + 1].text)
                code = tokens[i].text + digit
                article = tokens[i].text == "a" and not (i + 2 < len(tokens) and tokens[i + 2].text == "pulley")
                if digit.isdigit() and code in spelled and not article:
                    yield Token(code, tokens[i].word, tokens[i + 1].stop, tokens[i].pause)
                    i += 2
                    continue
            yield tokens[i]
            i += 1
