"""Every error a user can meet. Imports nothing of ours.

DictationError                   exit code
├── InputError                   3   a file that cannot be used: missing, a folder, not text, same stem twice
│   ├── TextTooLong              3   typed text of more than two megabytes
│   ├── TemplateError            3   a template of the note with a fault: file, line
│   └── AudioError               4   sound that cannot be read, or holds no speech
├── RecogniserUnavailable        5   the recogniser asked for is not set up
│   ├── RecogniserStopped        5   live recognition ended before the recording did
│   └── ClusterUnavailable       5   the workers on other machines cannot be used
├── LexiconError                 6   a lexicon file with a fault: file, line, term
├── RecordError                  7   a draft or journal that is damaged, is none, or is of a newer schema
├── ReviewError                  8   a note asked for while a field is pending, or an impossible decision
│   └── OvertakenError           8   somebody else has decided since; nothing was written
├── OutputError                  9   the place to write to cannot be written
└── StoreError                  10   a store that is damaged, held by another program, or newer than this program

A fault in the program itself exits with 1 (faults.py). Usage faults (an unknown option) are click's own and
exit with 2; Ctrl-C exits with 130.
"""


class DictationError(Exception):
    """A sentence for the user: what happened, where, what to do next. Never holds patient text."""

    exit_code = 1


class InputError(DictationError):
    """An input file cannot be used."""

    exit_code = 3


class TextTooLong(InputError):
    """Text of more than transcript.LONGEST_TEXT bytes: no dictation is so long."""


class AudioError(InputError):
    """Sound that cannot be read, or that holds no speech."""

    exit_code = 4


class TemplateError(InputError):
    """A template of the note with a fault; the message names its file and line."""


class RecogniserUnavailable(DictationError):
    """The recogniser asked for is not set up on this machine."""

    exit_code = 5


class RecogniserStopped(RecogniserUnavailable):
    """Live recognition ended before the recording did: its process died, or was ended."""


class ClusterUnavailable(RecogniserUnavailable):
    """The workers on other machines that were asked for cannot be used."""


class LexiconError(DictationError):
    """A lexicon file with a fault; the message names file, line and term."""

    exit_code = 6


class RecordError(DictationError):
    """A draft or journal that cannot be used: damaged, changed, of another draft, or of a newer schema."""

    exit_code = 7


class ReviewError(DictationError):
    """A decision that is not possible, or a note asked for while a field is pending."""

    exit_code = 8


class OvertakenError(ReviewError):
    """Somebody else has added to the encounter since it was read; nothing was written."""


class OutputError(DictationError):
    """The place to write to cannot be written, or is full."""

    exit_code = 9


class StoreError(DictationError):
    """The store cannot be used: damaged, held by another program, of another program, or of a newer schema."""

    exit_code = 10
