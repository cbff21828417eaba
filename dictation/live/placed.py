"""Sound that comes in messages over a line that may be cut: each says where in the recording it belongs, so that what is sent
again is kept once. Imports dictating, kept and errors.
"""

from __future__ import annotations

import numpy as np

from dictation.errors import InputError
from dictation.live.dictating import Dictating
from dictation.live.kept import Kept

PLACE_BYTES = 8
"""The place of the first sample, an unsigned little-endian number, before the samples: 16-bit, little-endian, 16 kHz, mono."""
MOST_BYTES = 1 << 20
"""No message is longer: half a minute of sound."""


def take_message(message: bytes, dictating: Dictating, kept: Kept) -> None:
    """Keep what is new in a message of sound.

    Raises InputError for a message that is none, or that would leave a gap; OutputError where it cannot be written.
    """
    if not PLACE_BYTES <= len(message) <= MOST_BYTES or len(message) % 2:
        raise InputError("The page sent sound that cannot be read; load it again.")
    place = int.from_bytes(message[:PLACE_BYTES], "little")
    if place > kept.samples:
        raise InputError("The page sent sound out of its order; load it again.")
    pcm = np.frombuffer(message, "<i2", offset=PLACE_BYTES).astype(np.int16)
    if len(new := pcm[kept.samples - place :]):
        dictating.push(new)
