"""Misheard terms of the trade written as the lexicon says them, each with what was heard, how far off and
why.

A stretch of one to four heard words is compared by sound with what the lexicon knows (lexicon/sound_index.py)
and judged with its surroundings (judging.py): plain English stays as it is unless the words around it expect
a term. Sides, numbers and words of yes and no are neither changed nor written. Known mishearings are looked
up as listed. Correcting corrected words changes nothing.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from dictation.correction.candidates import Candidates, compile_candidates
from dictation.correction.frames import expected
from dictation.correction.heard import Heard
from dictation.correction.judging import WEIGHTS, features
from dictation.correction.slots import DOUBT, Hit, Loop, Slots
from dictation.lexicon.compiled import compiled
from dictation.lexicon.entries import Lexicon, Term
from dictation.lexicon.shipped import lexicon_folder
from dictation.lexicon.sound_index import (
    LONGEST,
    NEVER_BY_SOUND,
    SMALL,
    SoundIndex,
    Target,
    compile_sound_index,
    key,
    pack,
    unpack,
)
from dictation.phones import PHONES
from dictation.sounds import Sounds
from dictation.transcript import CorrectedTranscript, CorrectedWord, Transcript

_PASSES = 4
_BEHIND = 0.05  # a runner-up no further behind is kept
_FARTHEST = 0.38  # distance past which nothing is taken for a mishearing
_FARTHEST_OF_PLAIN = 0.3  # the same for one plain English word that would complete a form
_JOINED = 7  # letters from which the same letters joined or split otherwise are surely the same words


@dataclass(frozen=True, slots=True)
class Change:
    """One stretch of words to be written otherwise."""

    start: int
    end: int
    words: tuple[str, ...]
    reason: str
    distance: float
    runner_up: str | None
    gain: float


def correct(
    transcript: Transcript, lexicon: Lexicon, sounds: Sounds | None = None, *, by_second_reading: bool = False
) -> CorrectedTranscript:
    """Return the transcript with misheard terms repaired.

    Every heard word is stood for in ``corrected``, in order; unchanged words are as said. A changed word
    carries its reason, its sound distance (0 the same to 1) and, where another term comes close, that runner-
    up. A word left as heard where a term nearly stands has that term as its runner-up, and no reason.
    by_second_reading: what a loop of phones made of the same sound is weighed too.
    """
    corrector = corrector_for(lexicon, sounds)
    words = tuple(CorrectedWord(word.said, (i, i + 1)) for i, word in enumerate(transcript.words))
    loop = loop_of(transcript) if by_second_reading else None
    typed = all(word.start is None for word in transcript.words)
    for _ in range(_PASSES):
        heard = Heard(words, transcript.breaks, corrector.index)
        slots = list(corrector.slots.hits(heard, loop))
        changes = corrector.changes(heard, slots, typed=typed)
        if not changes:
            words = _doubted(words, slots)
            break
        words = _apply(words, changes)
    return CorrectedTranscript(transcript, words)


def loop_of(heard: Transcript) -> Loop | None:
    """Return the second reading by heard word, where there is one and both have times."""
    spans = [(word.start, word.end) for word in heard.words if word.start is not None and word.end is not None]
    second = [word for word in heard.second_reading if not word.said.startswith("+")]  # so a noise is marked
    phones = [(w.said, w.start, w.end) for w in second if w.start is not None and w.end is not None]
    if not phones or len(spans) < len(heard.words) or not all(name in PHONES for name, _, _ in phones):
        return None
    return Loop(phones, spans)


def corrector_for(lexicon: Lexicon, sounds: Sounds | None = None) -> Corrector:
    """Return the corrector of a lexicon, compiled once."""
    return compiled(
        lexicon,
        "corrections",
        lambda: compile_corrections(lexicon, sounds or Sounds(lexicon)),
        lambda text: Corrector(text, sounds or Sounds(lexicon)),
    )


@lru_cache(maxsize=1)
def _plain_words() -> Mapping[str, int]:
    text = (lexicon_folder() / "plain_words.txt").read_text(encoding="utf-8")
    words = [line for line in text.splitlines() if line and not line.startswith("#")]
    return {key(word): rank for rank, word in reversed(list(enumerate(words)))}


_Listed = dict[tuple[str, ...], tuple[tuple[str, ...], float, str]]


def compile_corrections(lexicon: Lexicon, sounds: Sounds) -> str:
    """Return what a Corrector needs of a lexicon, as text."""
    index = compile_sound_index(lexicon, sounds.pronounce, _plain_words())
    listed = [[words, *found] for words, found in _listing(lexicon, index, sounds)]
    near = map(compile_candidates, (index.targets, index.whole))
    return "\n".join([json.dumps(listed, ensure_ascii=False), *near, *pack(index)])


class Corrector:
    """What one lexicon says of heard words; text: from compile_corrections."""

    def __init__(self, text: str, sounds: Sounds) -> None:
        listed, stretches, whole, *index = text.split("\n")
        self._sounds = sounds
        self.index: SoundIndex = unpack(index)
        self._candidates = Candidates(self.index.targets, stretches, 24)
        self.slots = Slots(self.index, Candidates(self.index.whole, whole, 128), sounds)
        self._listed: _Listed = {
            tuple(words): (tuple(form), distance, kind) for words, form, distance, kind in json.loads(listed)
        }
        self._longest_listed = max(map(len, self._listed), default=0)

    def changes(self, heard: Heard, slots: Sequence[Hit], *, typed: bool = False) -> list[Change]:
        """Return changes that do not overlap, in order. slots: what may stand in their slots. typed: they have no sound."""
        in_slots = (c for c in _slot_changes(heard, slots) if not (typed and self._another_plain_word(heard, c)))
        found = [*self._listed_changes(heard), *self._sounding_changes(heard), *in_slots]
        taken: set[int] = set()
        kept = []
        for change in sorted(found, key=lambda change: (-change.gain, change.start)):
            if taken.isdisjoint(range(change.start, change.end)):
                taken.update(range(change.start, change.end))
                kept.append(change)
        return sorted(kept, key=lambda change: change.start)

    def _another_plain_word(self, heard: Heard, change: Change) -> bool:
        """ "Progressive Dupuytren's" is not "recurrent Dupuytren's" misheard: the words they share say nothing of the one."""
        kept, keys = heard.keys[change.start : change.end], [key(word) for word in change.words]
        old = [i for i, k in enumerate(kept, change.start) if k not in keys and k not in SMALL]
        new = [word for word, k in zip(change.words, keys, strict=True) if k not in kept]
        if len(old) != 1 or len(new) != 1 or heard.keys[old[0]] not in self.index.rank:
            return False
        said = _said(heard.words[old[0] : old[0] + 1], self._sounds)
        meant = (self._sounds.pronounce(new[0]) or ((),))[0]
        return self._sounds.distance(said, meant) > _FARTHEST

    def slot_hits(self, heard: Transcript) -> Iterator[Hit]:
        """Yield whole terms that may stand in the slots of a transcript as heard, whatever speaks for them."""
        words = tuple(CorrectedWord(word.said, (i, i + 1)) for i, word in enumerate(heard.words))
        yield from self.slots.hits(Heard(words, heard.breaks, self.index), loop_of(heard))

    def _listed_changes(self, heard: Heard) -> Iterator[Change]:
        for start, end in heard.stretches(self._longest_listed):
            listed = self._listed.get(tuple(heard.keys[start:end]))
            if listed is None or heard.cut(start, end):
                continue
            form, distance, kind = listed
            around = heard.stretch(start, end, False)
            if (
                around.plain(self.index.rank) < 1
                or around.telling
                or expected("".join(around.before[-1:]), "".join(around.after[:1]), {kind})
            ):
                text = " ".join(form)
                yield Change(start, end, form, f"Listed mishearing of {text}.", distance, None, 1000.0 + end - start)

    def _sounding_changes(self, heard: Heard) -> Iterator[Change]:
        for start, end in heard.stretches(LONGEST, loose=True):
            best = sorted(self.judged(heard, start, end), key=lambda hit: -hit[0])
            if best and best[0][0] > 0:
                score, distance, target, _ = best[0]
                behind = [t.text for _, d, t, _ in best[1:] if d - distance <= _BEHIND and not t.within & target.within]
                runner_up = behind[0] if behind else None
                reason, gain = f"Sounds like {target.text}.", score + 0.5 * (end - start)
                yield Change(start, end, target.words, reason, distance, runner_up, gain)

    def near(self, said: Sequence[str], most: float) -> list[tuple[str, float]]:
        """Return the spoken forms, whole ones alone, that sound at most so far from some phones, nearest first."""
        found = ((self.index.targets[number], distance) for distance, number in self._candidates.near(said, most))
        return [(target.text, distance) for target, distance in found if target.terms]

    def judged(self, heard: Heard, start: int, end: int) -> Iterator[tuple[float, float, Target, tuple[float, ...]]]:
        """Return (score, distance, target, features) of what heard words start to end may have been; above
        0: are."""
        if not heard.hopeful(start, end):
            return
        said = _said(heard.words[start:end], self._sounds)
        if not said:
            return
        stretch = heard.stretch(start, end, any(not self._sounds.known(word) for word in heard.words[start:end]))
        hits: list[tuple[float, float, Target, tuple[float, ...]]] = []
        alone = end - start == 1 and stretch.plain(self.index.rank) == 1
        for distance, number in self._candidates.near(said, _FARTHEST):
            target = self.index.targets[number]
            letters = "".join(target.keys)
            if letters == "".join(stretch.heard):
                if len(target.words) == end - start:
                    return
                if len(letters) >= _JOINED:
                    hits.append((10.0, distance, target, ()))
                continue
            weighed = features(stretch, target, self._candidates.weight(number), distance, self.index.rank)
            if alone and distance > _FARTHEST_OF_PLAIN and not target.terms:
                continue
            if weighed is not None:
                hits.append((sum(w * f for w, f in zip(WEIGHTS, weighed, strict=True)), distance, target, weighed))
        yield from hits


def _slot_changes(heard: Heard, slots: Sequence[Hit]) -> Iterator[Change]:
    for hit in slots:
        score = hit.score
        if score <= 0:
            continue
        keys, kept = hit.target.keys, heard.keys[hit.start : hit.end]
        most = min(len(keys), len(kept)) - 1
        head = next((i for i in range(most) if keys[i] != kept[i]), most)
        tail = next((i for i in range(most - head) if keys[-1 - i] != kept[-1 - i]), most - head)
        words = hit.target.words[head : len(keys) - tail]
        text, behind = hit.target.text, hit.behind.text if hit.behind else None
        gain = score + 0.5 * (hit.end - hit.start)
        yield Change(hit.start + head, hit.end - tail, words, f"Sounds like {text}.", hit.distance, behind, gain)


def _doubted(words: Sequence[CorrectedWord], slots: Sequence[Hit]) -> tuple[CorrectedWord, ...]:
    """Return the words, those left as heard where a term nearly stands bearing its name as their runner-up."""
    out = list(words)
    for hit in sorted((hit for hit in slots if hit.score > DOUBT), key=lambda hit: hit.score):
        if all(words[i].reason is None for i in range(hit.start, hit.end)):
            for i in range(hit.start, hit.end):
                out[i] = replace(words[i], runner_up=hit.target.text)
    return tuple(out)


def _listing(
    lexicon: Lexicon, index: SoundIndex, sounds: Sounds
) -> Iterator[tuple[tuple[str, ...], tuple[tuple[str, ...], float, str]]]:
    for term in lexicon.terms():
        for phrase in term.misheard:
            words = phrase.split()
            if " ".join(map(key, words)) in index.forms or NEVER_BY_SOUND.intersection(map(key, words)):
                continue  # it means something as it stands
            form, distance = _nearest_form(term, words, sounds)
            yield tuple(key(word) for word in words), (form, distance, getattr(term, "kind", "structure"))


def _nearest_form(term: Term, words: Sequence[str], sounds: Sounds) -> tuple[tuple[str, ...], float]:
    heard = _said(words, sounds)
    forms = [tuple(form.text.split()) for form in term.spoken if not form.observed]
    best, least = 0, float("inf")
    for number, form in enumerate(forms):
        distance = sounds.distance(heard, _said(form, sounds), least)
        if distance < least:
            best, least = number, distance
    return tuple(word if word.isupper() else word.lower() for word in forms[best]), least


def _said(words: Sequence[str], sounds: Sounds) -> tuple[str, ...]:
    return tuple(phone for word in words for phone in (sounds.pronounce(word) or ((),))[0])


def _apply(words: Sequence[CorrectedWord], changes: Sequence[Change]) -> tuple[CorrectedWord, ...]:
    out: list[CorrectedWord] = []
    at = 0
    for change in changes:
        out += words[at : change.start]
        out += _written(words[change.start : change.end], change)
        at = change.end
    return (*out, *words[at:])


def _written(old: Sequence[CorrectedWord], change: Change) -> list[CorrectedWord]:
    """Return the words of a change: one for one where the numbers agree, else each standing for the whole
    stretch."""
    head = re.match(r"[^\w']*", old[0].text)
    tail = re.search(r"[^\w']*$", old[-1].text)
    texts = list(change.words)
    if re.match(r"[^\w']*[A-Z][a-z]", old[0].text):
        texts[0] = texts[0][0].upper() + texts[0][1:]
    texts[0] = (head.group() if head else "") + texts[0]
    texts[-1] += tail.group() if tail else ""
    whole = (old[0].from_[0], old[-1].from_[1])
    new = []
    for i, text in enumerate(texts):
        twin = old[i] if len(old) == len(texts) else None
        if twin is not None and key(twin.text) == key(text):
            new.append(twin)
        else:
            span = twin.from_ if twin is not None else whole
            new.append(CorrectedWord(text, span, change.reason, round(change.distance, 3), change.runner_up))
    return new
