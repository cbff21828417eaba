"""What a recording is like to listen to: how much speech, how loud, over how much noise, clipped or muffled; what to warn of.

Pure functions of samples and segments, stretch by stretch, so that memory stays bounded. Levels are in decibels of full
scale. The limits are this project's own, chosen on synthetic voices in known noise (tests/benchmarks); none is published.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from dictation.audio import RATE_HZ, Samples, Segment

if TYPE_CHECKING:
    from numpy.typing import NDArray

LOUD_NOISE_DB = 15.0  # speech less than this over the noise: more marks, more left unread
POOR_DB = 8.0  # less than this: not to be trusted
QUIET_DB = -50.0
CLIPPED = 0.002  # share of the speech's samples
CLIPPED_POOR = 0.02
LITTLE_SPEECH = 0.05
NARROW_HZ = 4250  # a telephone line carries nothing over 4 kHz; a little more, for no filter is steep
MUFFLED_DB = -45.0  # power over NARROW_HZ to that of all the speech: sound of a telephone line has next to none
AT_PEAK = 0.95  # of the speech's own peak: overdriven sound is flat there, also where it was made quieter afterwards
LEAST_PEAK = 100  # of full scale 32,768: in fainter sound the steps of its numbers are too coarse to tell
FRAME = 1600  # a tenth of a second, for the noise
SHORT_FRAME = 320  # for the noise between words, where nobody pauses for longer
QUIETEST = 0.05  # share of the short frames of speech that are taken for noise alone
FFT = 512


@dataclass(frozen=True, slots=True)
class SoundQuality:
    """See the module. noise_db, over_noise_db: None where there is too little sound to measure.

    speech_share: 0 where nobody speaks; level_db, clipped_share and high_db then say nothing. clipped_share: of the speech's
    samples, those at its own peak, of which sound that is not overdriven has next to none; lossy coding rounds flat tops off,
    and hides them. high_db: power over NARROW_HZ to all power of the speech.
    """

    speech_share: float
    level_db: float
    clipped_share: float
    noise_db: float | None
    over_noise_db: float | None
    high_db: float

    @property
    def poor(self) -> bool:
        """The words heard in it are not to be trusted, whatever their probabilities."""
        return (self.over_noise_db is not None and self.over_noise_db < POOR_DB) or self.clipped_share > CLIPPED_POOR

    @property
    def summary(self) -> str:
        """The measures in one sentence."""
        if not self.speech_share:
            noise = "not to be measured" if self.noise_db is None else f"{self.noise_db:.0f} dB of full scale"
            return f"no speech in it; noise {noise}."
        over = "not to be measured" if self.over_noise_db is None else f"{self.over_noise_db:.0f} dB under the voice"
        return (
            f"speech in {100 * self.speech_share:.0f}% of it; level {self.level_db:.0f} dB of full scale; noise {over}; "
            f"overdriven {100 * self.clipped_share:.2f}%."
        )

    @property
    def warnings(self) -> list[str]:
        """What to tell a person, a sentence each; nothing where all is well."""
        if not self.speech_share:
            return ["Nobody is heard to speak: check that the right microphone was on."]
        found = []
        if self.over_noise_db is not None and self.over_noise_db < LOUD_NOISE_DB:
            found.append(f"The noise is loud: the voice stands only {max(0.0, self.over_noise_db):.0f} dB over it.")
        if self.clipped_share > CLIPPED:
            found.append(f"The sound is overdriven in {100 * self.clipped_share:.1f}% of the speech: lower the input level.")
        if self.level_db < QUIET_DB:
            found.append("The recording is very quiet: bring the microphone nearer, or raise the input level.")
        if self.high_db < MUFFLED_DB:
            found.append("The sound is muffled, as over a telephone: record with the microphone of this computer if you can.")
        if self.speech_share < LITTLE_SPEECH:
            found.append("There is hardly any speech in it: check that the right microphone was on.")
        if self.poor:
            found.append("It is too poor to trust: check every statement against what you remember, or dictate again.")
        return found


def sound_quality(samples: Samples, segments: Sequence[Segment]) -> SoundQuality:
    """Return what a recording is like. segments: its speech, in order."""
    count = high = total = 0.0
    spoken: list[NDArray[np.float64]] = []
    for segment in segments:
        part = samples.part(segment.start, segment.end)
        count += len(part)
        spoken.append(_levels(part, SHORT_FRAME))
        spectrum = _spectrum(part)
        high += float(spectrum[round(FFT * NARROW_HZ / RATE_HZ) :].sum())
        total += float(spectrum.sum())
    levels = np.concatenate([np.zeros(0), *spoken])
    speech = float(np.mean(levels)) if len(levels) else 0.0
    noise = _noise([_levels(part, FRAME) for part in _between(samples, segments)], levels)
    return SoundQuality(
        speech_share=count / max(1, len(samples.pcm)), level_db=_db(speech),
        clipped_share=_clipped(samples, segments) / max(1.0, count), noise_db=None if noise is None else _db(noise),
        over_noise_db=None if noise is None or not count else _over_db(speech, noise),
        high_db=10 * float(np.log10(max(high, 1e-9) / max(total, 1e-9))),
    )  # fmt: skip


def _over_db(speech: float, noise: float) -> float:
    """How far the voice, which is the speech without its noise, stands over the noise; both as power."""
    return 10 * float(np.log10(max(speech - noise, speech * 1e-3, 1e-9) / max(noise, 1e-3)))


def _clipped(samples: Samples, segments: Sequence[Segment]) -> int:
    """How many samples of the speech are at its own peak."""
    peak = max((_loudness(samples, segment).max(initial=0) for segment in segments), default=0)
    if peak < LEAST_PEAK:
        return 0
    return sum(int(np.count_nonzero(_loudness(samples, segment) >= AT_PEAK * peak)) for segment in segments)


def _loudness(samples: Samples, segment: Segment) -> NDArray[np.int32]:
    return np.abs(samples.part(segment.start, segment.end).astype(np.int32))


def _between(samples: Samples, segments: Sequence[Segment]) -> Iterator[NDArray[np.int16]]:
    ended = 0.0
    for segment in segments:
        yield samples.part(ended, segment.start)
        ended = segment.end
    yield samples.part(ended, samples.duration_s)


def _noise(quiet: Sequence[NDArray[np.float64]], spoken: NDArray[np.float64]) -> float | None:
    """Mean power of the noise: of the quiet, where there is half a second of it, else of what is quietest in the speech."""
    levels = np.concatenate([np.zeros(0), *quiet])
    if len(levels) * FRAME >= RATE_HZ // 2:
        return float(np.median(levels))  # so that a door or a cough counts for little
    within = np.sort(spoken)
    return float(np.mean(within[: max(1, round(QUIETEST * len(within)))])) if len(within) * SHORT_FRAME >= RATE_HZ else None


def _levels(part: NDArray[np.int16], frame: int) -> NDArray[np.float64]:
    """Mean power of each whole frame of so many samples; a constant offset, which nobody hears, is none."""
    whole = part[: len(part) - len(part) % frame].reshape(-1, frame)
    return np.asarray([float(np.var(one, dtype=np.float64)) for one in whole])


def _spectrum(part: NDArray[np.int16]) -> NDArray[np.float64]:
    """Summed power by frequency, 0 to 8 kHz."""
    whole = part[: len(part) - len(part) % FFT].reshape(-1, FFT).astype(np.float64)
    whole -= whole.mean(axis=1, keepdims=True)
    return np.asarray((np.abs(np.fft.rfft(whole * np.hanning(FFT))) ** 2).sum(axis=0))


def _db(power: float) -> float:
    return 10 * float(np.log10(max(power, 1e-3) / 32768**2))
