"""How well this voice, room and microphone are heard: given dictations read aloud, or recordings with their true texts.

What was drafted from the sound is compared with what is drafted from the true text, so that every difference comes from
hearing alone. The figure is kept in the data folder, for the screens to show. It says nothing about other voices.
Imports pipeline (when it drafts), lexicon, record, settings, writing and errors.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dictation.errors import InputError
from dictation.lexicon.bias import bias_words
from dictation.lexicon.entries import Lexicon
from dictation.lexicon.shipped import lexicon_folder
from dictation.settings import Settings
from dictation.writing import make_folder, write_whole

if TYPE_CHECKING:
    from dictation.record import DraftRecord, RecordField, Source

KEPT_AS = "voice-check.json"
COMPARED = (
    "concept", "side", "digit", "joint", "structure", "status", "value", "low", "high", "unit", "mode", "severity",
    "grade_sign", "comparator",
)  # fmt: skip
COUNTED = (
    "dictations", "left_out", "words", "wrong_words", "terms", "missed_terms", "fields", "missed_fields", "drafted",
    "wrong_fields", "silent",
)  # fmt: skip
ENOUGH = 30
"""Of fewer no rate is given, only counts: one more or less would change it by several in a hundred."""


@dataclass(frozen=True, slots=True)
class Synthetic:
    """A figure of synthetic voices: silent wrong or invented with no mark to check, where so many statements were said."""

    silent: int
    said: int
    sound: str
    command: str


SYNTHETIC = {
    "embedded": Synthetic(2, 104, "clean sound", "python -m tests.benchmarks.bench_hearing --minutes 4 --only clean"),
}
"""By recogniser, in voices and texts that were not in view while the program was written; the README has the same."""


@dataclass(frozen=True, slots=True)
class VoiceCheck:
    """Counts over the dictations of one check. left_out: recordings that could not be used.

    words, terms, fields: in the true texts; terms are the trade's own words. wrong_words: to change, leave out or put in; there
    can be more of them than words. missed_fields: of the fields said, not drafted as they were said. drafted: fields drafted
    from the sound. wrong_fields: of these, not said so. silent: of the wrong ones, without a `check` flag.
    at: when, UTC. over_noise_db: the least among the recordings; None where it could not be measured.
    """

    at: str
    recogniser: str
    model: str | None
    program_version: str
    lexicon_version: str
    dictations: int
    left_out: int
    words: int
    wrong_words: int
    terms: int
    missed_terms: int
    fields: int
    missed_fields: int
    drafted: int
    wrong_fields: int
    silent: int
    over_noise_db: float | None

    def measures(self, source: Source) -> bool:
        """Whether it was made with the recogniser and model that a draft was heard by, with whatever lexicon."""
        mine = self.recogniser, _weights(self.model, self.lexicon_version)
        return mine == (source.recogniser, _weights(source.model, source.lexicon_version))

    @property
    def sentences(self) -> list[str]:
        """The figures in words, with the counts behind them."""

        found = [
            f"Over {_counted(self.dictations, 'dictation')} in this voice, room and microphone "
            f"({self.recogniser}, {self.at[:10]}){f', {self.left_out} left out' if self.left_out else ''}:",
            f"words to change, leave out or put in: {self.wrong_words}, where {self.words} were said"
            + (f" ({100 * self.wrong_words / self.words:.0f} to a hundred)" if self.words >= ENOUGH else ""),
            f"words of the trade missed: {_share(self.missed_terms, self.terms)}",
            f"statements said and not drafted as they were said: {_share(self.missed_fields, self.fields)}",
            f"statements drafted and not said so: {_share(self.wrong_fields, self.drafted)}",
            f"statements drafted, not said so, and with no mark to check: {_share(self.silent, self.drafted)}",
        ]
        return found if self.drafted >= ENOUGH else [*found, TOO_FEW]


TOO_FEW = f"Fewer than {ENOUGH} statements are too few to say how often one is wrong; read more of the dictations."


def _weights(model: str | None, lexicon_version: str) -> str | None:
    """A model's name without the lexicon, which the embedded recogniser's model is compiled from and so names."""
    return model and model.removesuffix(f", lexicon {lexicon_version}")


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _share(part: int, whole: int) -> str:
    if not whole:
        return "none to count"
    return f"{part} of {whole}" + (f" ({100 * part / whole:.0f}%)" if whole >= ENOUGH else "")


def given_dictations() -> list[str]:
    """Return the twelve dictations to read aloud."""
    return (lexicon_folder() / "voice_check.txt").read_text(encoding="utf-8").splitlines()


def prepare(folder: Path) -> None:
    """Put the given dictations into folder as 01.txt to 12.txt, unless there are texts in it already."""
    make_folder(folder)
    if not _texts(folder):
        for number, text in enumerate(given_dictations(), 1):
            write_whole(folder / f"{number:02}.txt", text + "\n")


def texts_of(folder: Path) -> list[Path]:
    """Return the texts of a folder in order. Raises InputError where there is none."""
    texts = _texts(folder)
    if not texts:
        raise InputError(f"{folder} holds no .txt file; put a text beside each recording, under the same name.")
    return texts


def _texts(folder: Path) -> list[Path]:
    return [path for path in sorted(folder.glob("*.txt")) if not path.name.startswith(".")]


def recordings_of(text: Path) -> list[Path]:
    """Return the recordings beside a text: files of the same name and another ending, one unless somebody recorded it twice.

    What an editor or the system leaves behind (a name that begins with a dot, or ends in ~) is none.
    """
    beside = [path for path in sorted(text.parent.iterdir()) if path.stem == text.stem and path.is_file()]
    return [path for path in beside if path.suffix not in (".txt", ".json") and path.name[0] != "." and path.name[-1] != "~"]


def check_voice(
    texts: Sequence[Path], recogniser: str, settings: Settings, lexicon: Lexicon, at: str
) -> tuple[VoiceCheck | None, list[InputError]]:
    """Return the figures of the texts that have a recording, and why any was left out; no figures where all were.

    Raises InputError where no text has a recording, and what drafting raises where it could draft none.
    """
    from dictation.pipeline import draft_audio, draft_text

    counts: Counter[str] = Counter()
    noise: list[float] = []
    left_out: list[InputError] = []
    source: Source | None = None
    trade = {word.lower().replace("’", "'") for word in bias_words(lexicon)}
    for text in texts:
        recordings = recordings_of(text)
        if not recordings:
            continue
        try:
            said = draft_text(true_text(text), settings=settings)
            drafted = draft_audio(_one_of(recordings), recogniser=recogniser, settings=settings)
        except InputError as err:
            left_out.append(err)
            continue
        source = drafted.source
        counts.update(compare(said, drafted, trade))
        counts["dictations"] += 1
        if source.sound is not None and source.sound.over_noise_db is not None:
            noise.append(source.sound.over_noise_db)
    if source is None and not left_out:
        raise InputError(f"No recording lies beside {texts[0]}; record it under the same name with another ending.")
    if source is None:
        return None, left_out
    counts["left_out"] = len(left_out)
    found = VoiceCheck(
        at=at, recogniser=source.recogniser, model=source.model, program_version=source.program_version,
        lexicon_version=source.lexicon_version, over_noise_db=min(noise, default=None), **{key: counts[key] for key in COUNTED},
    )  # fmt: skip
    return found, left_out


def true_text(path: Path) -> str:
    """Return what was to be said. Raises InputError where it cannot be read or holds no words."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as err:
        raise InputError(f"Cannot read {path} as UTF-8 text; save it as such and try again.") from err
    if not text.strip():
        raise InputError(f"{path} holds no words; write there what was said.")
    return text


def _one_of(recordings: Sequence[Path]) -> Path:
    if len(recordings) > 1:
        names = ", ".join(path.name for path in recordings)
        raise InputError(f"There are {len(recordings)} recordings of one text, {names}; keep one of them.")
    return recordings[0]


def compare(true: DraftRecord, heard: DraftRecord, trade: set[str]) -> Counter[str]:
    """Return the counts of one dictation, under the names of VoiceCheck. trade: the trade's own words, lower case."""
    said, got = (list(_words(record)) for record in (true, heard))
    right = set(_aligned(said, got))
    terms = [i for i, word in enumerate(said) if word in trade]
    want = Counter(_content(f) for f in true.fields)
    wrong: list[RecordField] = []
    for field in heard.fields:
        if want[_content(field)]:
            want[_content(field)] -= 1
        else:
            wrong.append(field)
    return Counter(
        words=len(said), wrong_words=_distance(said, got), terms=len(terms), missed_terms=sum(i not in right for i in terms),
        fields=len(true.fields), missed_fields=want.total(), drafted=len(heard.fields), wrong_fields=len(wrong),
        silent=sum(not f.checked() for f in wrong),
    )  # fmt: skip


def keep(check: VoiceCheck, settings: Settings) -> Path:
    """Keep the figure, in place of the one before; return where."""
    make_folder(settings.data_folder)
    path = settings.data_folder / KEPT_AS
    write_whole(path, json.dumps(asdict(check), indent=1) + "\n")
    return path


def kept_check(settings: Settings) -> VoiceCheck | None:
    """Return the figure kept last; None where there is none, or none that this program can read."""
    try:
        values: dict[str, Any] = json.loads((settings.data_folder / KEPT_AS).read_text(encoding="utf-8"))
        found = VoiceCheck(**values)
        whole = all(isinstance(text, str) for text in (found.at, found.recogniser, found.lexicon_version, found.model or ""))
        return found if whole and all(isinstance(getattr(found, key), int) for key in COUNTED) else None
    except (OSError, ValueError, TypeError):
        return None


def measured_line(source: Source, settings: Settings) -> str:
    """Return one line for a screen: how often what heard this draft was wrong with no mark, and on what that was measured.

    The clinic's own figure where one is kept for this recogniser and model, else that of the synthetic voices.
    """
    own = kept_check(settings)
    if own is None or not own.measures(source):
        return _synthetic_line(source.recogniser)
    change = "" if own.lexicon_version == source.lexicon_version else ", before a change of lexicon"
    check = f"your own voice check of {own.at[:10]}{change} ({own.recogniser}, {_counted(own.dictations, 'dictation')})"
    if own.drafted < ENOUGH:
        return f"Too few statements for a figure in {check}: {own.drafted}. {_synthetic_line(own.recogniser)}"
    wrong = f"{own.silent} of {own.drafted} statements drafted were not what was said, and had no mark to check"
    return f"Measured on {check}: {wrong}."


def _synthetic_line(recogniser: str) -> str:
    own = "For your own voice: dictation voice-check FOLDER."
    found = SYNTHETIC.get(recogniser)
    if found is None:
        return f"How often {recogniser} is wrong with no mark to check was not measured, not even on synthetic voices. {own}"
    return (
        f"Measured on synthetic voices alone ({recogniser}, {found.sound}): {_counted(found.silent, 'statement')} wrong or "
        f"invented with no mark to check, where {found.said} were said. {own}"
    )


def _content(field: RecordField) -> tuple[object, ...]:
    return tuple(getattr(field, key) for key in COMPARED)


def _words(record: DraftRecord) -> Iterator[str]:
    for word in record.transcript.words:
        yield from re.findall(r"[a-z0-9']+", word.said.lower().replace("’", "'"))


def _table(a: Sequence[str], b: Sequence[str]) -> list[list[int]]:
    """Edit distances between the first i words of one and the first j of the other."""
    rows = [list(range(len(b) + 1))]
    for i, word in enumerate(a, 1):
        row = [i]
        for j, other in enumerate(b, 1):
            row.append(min(rows[-1][j] + 1, row[-1] + 1, rows[-1][j - 1] + (word != other)))
        rows.append(row)
    return rows


def _distance(a: Sequence[str], b: Sequence[str]) -> int:
    return _table(a, b)[-1][-1]


def _aligned(a: Sequence[str], b: Sequence[str]) -> Iterator[int]:
    """Give the indices of the words of a that stand in b, in one alignment of least distance."""
    rows, i, j = _table(a, b), len(a), len(b)
    while i and j:
        if rows[i][j] == rows[i - 1][j - 1] + (a[i - 1] != b[j - 1]):
            if a[i - 1] == b[j - 1]:
                yield i - 1
            i, j = i - 1, j - 1
        elif rows[i][j] == rows[i - 1][j] + 1:
            i -= 1
        else:
            j -= 1
