"""Terms of the lexicon spoken by synthetic voices: what the mishearing benchmark listens to.

A word that the stock dictionary lacks is handed to the synthesiser as phones, one of the pronunciations that the lexicon
gives in turn: left to themselves, synthesisers say eponyms as nobody does. Needs flite, festival with the voices named in
VOICES, and espeak-ng. The sound is never kept.
"""

from __future__ import annotations

import re
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from dictation.audio import Samples, read_audio
from dictation.lexicon.entries import Lexicon
from dictation.sounds import bare

VOICES = {  # name: (synthesiser, what that synthesiser calls the voice)
    "slt": ("flite", "slt"),
    "rms": ("flite", "rms"),
    "kal16": ("flite", "kal16"),
    "awb": ("flite", "awb"),
    "slt_hts": ("festival", "voice_cmu_us_slt_arctic_hts"),
    "kal_diphone": ("festival", "voice_kal_diphone"),
    "ked_diphone": ("festival", "voice_ked_diphone"),
    "espeak_us": ("espeak-ng", "en-us"),
}
_VOWELS = frozenset("AA AE AH AO AW AY EH ER EY IH IY OW OY UH UW".split())
_WEAK = frozenset({"AH", "IH", "ER"})
_ESPEAK = dict(
    pair.split("=")
    for pair in (
        "AA=A: AE=a AH=V AO=O: AW=aU AY=aI EH=E ER=3: EY=eI IH=I IY=i: OW=oU OY=OI UH=U UW=u: B=b CH=tS D=d DH=D F=f G=g "
        "HH=h JH=dZ K=k L=l M=m N=n NG=N P=p R=r S=s SH=S T=t TH=T V=v W=w Y=j Z=z ZH=Z"
    ).split()
)
_INITIALISM = re.compile(r"\b[A-Z]{2,5}\b")


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence to be spoken; number keeps the pronunciations going round."""

    text: str
    voice: str
    number: int


def spoken(lines: Sequence[Line], lexicon: Lexicon) -> Iterator[Samples]:
    """Yield the sound of each line, 16 kHz mono. Raises FileNotFoundError where a synthesiser is missing."""
    own = {bare(word): ways for word, ways in lexicon.pronunciations.items() if word == word.lower()}
    with tempfile.TemporaryDirectory() as folder:
        for line in lines:
            wave = Path(folder) / "line.wav"
            _speak(line, own, wave)
            yield read_audio(wave)


def _speak(line: Line, own: dict[str, tuple[str, ...]], wave: Path) -> None:
    synthesiser, name = VOICES[line.voice]
    text = _INITIALISM.sub(lambda match: " ".join(match.group()), line.text)
    stems = {stem for word in text.split() if (stem := re.sub(r"'s?$", "", bare(word))) in own}
    said = {stem: own[stem][line.number % len(own[stem])].split() for stem in sorted(stems)}
    if synthesiser == "flite":
        extra = wave.with_suffix(".lex")
        extra.write_text("".join(f"{w} nil : {' '.join(_radio(p, digits=True))}\n" for w, p in said.items()))
        command = ["flite", *(["-add_lex", str(extra)] if said else []), "-voice", name, "-t", text, "-o", str(wave)]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    elif synthesiser == "festival":
        entries = "".join(f'(lex.add.entry \'("{w}" nil ({_syllables(p)})))' for w, p in said.items())
        command = ["text2wave", "-eval", f"(begin ({name}) {entries})", "-o", str(wave)]
        subprocess.run(command, check=True, input=text, text=True)
    else:
        for stem, phones in said.items():
            text = re.sub(rf"\b{re.escape(stem)}('s)?(?!\w)", lambda m, p=phones: _mnemonics(p, m.group(1)), text, flags=re.I)
        subprocess.run(["espeak-ng", "-v", name, "-s", "160", "-w", str(wave), text], check=True)


def _stressed(phones: Sequence[str]) -> int:
    """Position of the phone taken to carry the stress: the last strong vowel but for the last syllable's, by custom."""
    vowels = [i for i, phone in enumerate(phones) if phone in _VOWELS]
    strong = [i for i in vowels[:-1] if phones[i] not in _WEAK] or [i for i in vowels if phones[i] not in _WEAK]
    return (strong or vowels or [-1])[-1]


def _radio(phones: Sequence[str], *, digits: bool) -> list[str]:
    stress, out = _stressed(phones), []
    for i, phone in enumerate(phones):
        name = "ax" if phone == "AH" and i != stress else phone.lower()
        out.append(f"{name}{int(i == stress)}" if digits and phone in _VOWELS else name)
    return out


def _syllables(phones: Sequence[str]) -> str:
    """Festival's bracketed syllables; each takes one consonant before its vowel, the last all that follow."""
    stress, names = _stressed(phones), _radio(phones, digits=False)
    vowels = [i for i, phone in enumerate(phones) if phone in _VOWELS]
    starts = [0] + [v - 1 if phones[v - 1] not in _VOWELS else v for v in vowels[1:]]
    ends = [*starts[1:], len(phones)]
    parts = zip(starts, ends, strict=True)
    return " ".join(f"(({' '.join(names[a:b])}) {int(a <= stress < b)})" for a, b in parts)


def _mnemonics(phones: Sequence[str], possessive: str | None) -> str:
    stress = _stressed(phones)
    names = [("'" if i == stress else "") + ("@" if p == "AH" and i != stress else _ESPEAK[p]) for i, p in enumerate(phones)]
    return "[[" + "".join(names) + ("z" if possessive else "") + "]]"
