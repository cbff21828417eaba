"""The loop of phones that knows no words: what pocketsphinx's acoustic model makes of a sound by itself."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from dictation.recognition.agreement import Phone

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

PHONE_SEARCH: dict[str, Any] = {"lw": 2.0, "pip": 0.3, "beam": 1e-20, "pbeam": 1e-20}


def loop_decoder() -> Any:
    """Return a decoder of phones; it takes a fraction of a second to load."""
    from pocketsphinx import Decoder, get_model_path

    return Decoder(lm=None, allphone=f"{get_model_path()}/en-us/en-us-phone.lm.bin", loglevel="FATAL", **PHONE_SEARCH)


def decode(decoder: Any, part: NDArray[np.int16]) -> Iterator[Any]:
    """Yield what a decoder makes of a whole utterance, 16 000 Hz: word or phone, frames (10 ms, last included), scores."""
    decoder.reinit_feat()  # forgets the noise and the means of the sound before; takes a tenth of a millisecond
    decoder.start_utt()
    decoder.process_raw(part.tobytes(), full_utt=True)
    decoder.end_utt()
    if decoder.hyp() is not None:
        yield from decoder.seg()


def loop_phones(decoder: Any, part: NDArray[np.int16]) -> Iterator[Phone]:
    """Yield the phones of an utterance, silence among them."""
    for seg in decode(decoder, part):
        yield Phone(seg.word, seg.start_frame, seg.end_frame + 1)
