"""The settings of one run, as one frozen object: read once by the commands, then passed down.

Each setting comes from the environment, else from the settings file, else from the convention of the
platform. The file is small TOML, ``settings.toml`` in the platform's configuration folder; DICTATION_SETTINGS
names another. Imports nothing of ours but errors.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from dictation.errors import InputError

RECOGNISERS = ("auto", "embedded", "whisper")
SWITCH = ("off", "on")
APPLICATION = "hand-examination-dictation"
VARIABLES = {
    "data_folder": "DICTATION_DATA_FOLDER",
    "store_folder": "DICTATION_STORE_FOLDER",
    "store_url": "DICTATION_STORE_URL",
    "cache_folder": "DICTATION_CACHE_FOLDER",
    "whisper_model": "DICTATION_WHISPER_MODEL",
    "recogniser": "DICTATION_RECOGNISER",
    "second_reading": "DICTATION_SECOND_READING",
    "personal_lexicon": "DICTATION_LEXICON",
    "keep_sound": "DICTATION_KEEP_SOUND",
    "delete_sound": "DICTATION_DELETE_SOUND",
    "normal_table": "DICTATION_NORMAL_TABLE",
    "scores": "DICTATION_SCORES",
    "measures_in_note": "DICTATION_MEASURES_IN_NOTE",
    "reviewer": "DICTATION_REVIEWER",
    "reviewer_role": "DICTATION_REVIEWER_ROLE",
    "templates_folder": "DICTATION_TEMPLATES_FOLDER",
}
"""Setting -> environment variable. The names on the left are also the keys of the settings file."""

SETTINGS_FILE_VARIABLE = "DICTATION_SETTINGS"

OWN_TERMS = "own_terms.yaml"
"""File beside the settings file with a clinic's own terms; used where it is there and no other is named."""

WHISPER_IN_USE = "whisper-in-use.txt"
"""File in the data folder that names the folder beside it with the Whisper weights fetched last."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Where things are kept, and what is used.

    data_folder: what the program keeps for good, Whisper weights among it. store_folder: encounters, with their drafts,
    decisions and sound. store_url: the database of a department's store, a file in store_folder unless set. cache_folder:
    what it can make again. whisper_model: a folder with converted weights, the one fetched last unless another is set; None
    where there is neither. second_reading: "on", unless it is switched off, where Whisper's words are compared with a second
    reading of the sound, as the embedded recogniser's always are. personal_lexicon: the clinic's own lexicon file.
    keep_sound: whether recordings are copied into the store. delete_sound: "never", "on signing", or after so many days.
    measures_in_note: "yes" where notes hold what follows from the numbers; scores that are switched
    on are in them anyway. normal_table: the table of normal ranges that movements are set against. scores: those that the
    clinic has switched on. reviewer, reviewer_role: offered as signer, never taken for one. templates_folder: the
    clinic's own templates of the note.
    """

    data_folder: Path
    store_folder: Path
    cache_folder: Path
    store_url: str | None = field(default=None, repr=False)  # it may hold a password
    whisper_model: Path | None = None
    recogniser: str = "auto"
    second_reading: str = "on"
    personal_lexicon: Path | None = None
    keep_sound: str = "no"
    delete_sound: str = "never"
    normal_table: str = "aaos"
    scores: tuple[str, ...] = ()
    measures_in_note: str = "no"
    reviewer: str | None = None
    reviewer_role: str | None = None
    templates_folder: Path | None = None


def settings_path(environ: Mapping[str, str] | None = None) -> Path:
    """Return where the settings file is looked for; it need not exist."""
    environ = os.environ if environ is None else environ
    named = environ.get(SETTINGS_FILE_VARIABLE)
    if named:
        return Path(named).expanduser()
    from platformdirs import user_config_path

    return user_config_path(APPLICATION, appauthor=False) / "settings.toml"


def read_settings(environ: Mapping[str, str] | None = None) -> Settings:
    """Return the settings of this run.

    environ: the environment, os.environ unless given.
    Raises InputError naming the file and key, or the variable, that cannot be used.
    """
    environ = os.environ if environ is None else environ
    path = settings_path(environ)
    if environ.get(SETTINGS_FILE_VARIABLE) and not path.is_file():
        raise InputError(f"{SETTINGS_FILE_VARIABLE} names {path}, which is not there; correct it or unset it.")
    found = _read_file(path)
    for name, variable in VARIABLES.items():
        if environ.get(variable):
            found[name] = environ[variable]
    recogniser = found.get("recogniser", "auto")
    if recogniser not in RECOGNISERS:
        raise InputError(
            f"The recogniser set in {VARIABLES['recogniser']} or {path.name} is unknown; use one of {', '.join(RECOGNISERS)}."
        )
    second_reading = found.get("second_reading", "on")
    if second_reading not in SWITCH:
        raise InputError(
            f"The second reading set in {VARIABLES['second_reading']} or {path.name} is unknown; use {', '.join(SWITCH)}."
        )
    from platformdirs import user_cache_path, user_data_path

    data_folder = _path(found.get("data_folder")) or user_data_path(APPLICATION, appauthor=False)
    return Settings(
        data_folder=data_folder,
        store_folder=_path(found.get("store_folder")) or data_folder / "store",
        store_url=found.get("store_url") or None,
        cache_folder=_path(found.get("cache_folder")) or user_cache_path(APPLICATION, appauthor=False),
        whisper_model=_path(found.get("whisper_model")) or _fetched(data_folder),
        recogniser=recogniser,
        second_reading=second_reading,
        personal_lexicon=_path(found.get("personal_lexicon")) or _own_terms(path),
        keep_sound=_one_of(found, "keep_sound", "no", ("no", "yes")),
        delete_sound=_one_of(found, "delete_sound", "never", ("never", "on signing")),
        normal_table=found.get("normal_table", "aaos").strip(),
        scores=tuple(name for one in found.get("scores", "").split(",") if (name := one.strip())),
        measures_in_note=_one_of(found, "measures_in_note", "no", ("no", "yes")),
        reviewer=found.get("reviewer"),
        reviewer_role=found.get("reviewer_role"),
        templates_folder=_path(found.get("templates_folder")),
    )


def _one_of(found: Mapping[str, str], key: str, default: str, known: tuple[str, ...]) -> str:
    """The value of a setting that is one of a few; for deleting, also a number of days."""
    value = found.get(key, default).strip()
    days = key == "delete_sound" and value.isdecimal() and int(value) >= 1 and len(value) < 6
    if value not in known and not days:
        also = ", or a number of days" if key == "delete_sound" else ""
        raise InputError(f"The setting {key} ({VARIABLES[key]}) is one of: {', '.join(known)}{also}.")
    return value


def _path(text: str | None) -> Path | None:
    return Path(text).expanduser() if text else None


def own_terms_path(settings: Settings) -> Path:
    """Return the file that a clinic's own terms are in, or would be in."""
    return settings.personal_lexicon or settings_path().with_name(OWN_TERMS)


def _own_terms(path: Path) -> Path | None:
    beside = path.with_name(OWN_TERMS)
    return beside if beside.is_file() else None


def _fetched(data_folder: Path) -> Path | None:
    """The weights fetched last. A folder that has gone since is named all the same, so that the recogniser
    says so; quietly hearing with the other one would be worse.
    """
    record = data_folder / WHISPER_IN_USE
    try:
        name = record.read_text(encoding="utf-8").strip()
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError) as err:
        raise InputError(f"Cannot read {record} ({type(err).__name__}); remove it, or fetch the weights again.") from err
    if not name or name != Path(name).name:
        raise InputError(f"{record} names no folder beside it; remove it, or fetch the weights again.")
    return data_folder / name


def _read_file(path: Path) -> dict[str, str]:
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return {}
    except OSError as err:
        raise InputError(f"Cannot read the settings file {path} ({type(err).__name__}); check its permissions.") from err
    try:
        values = tomllib.loads(raw.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as err:
        raise InputError(f"The settings file {path} is not TOML text; correct or remove it.") from err
    for key, value in values.items():
        if key not in VARIABLES:
            raise InputError(f"The settings file {path} has an unknown key {key!r}; known: {', '.join(VARIABLES)}.")
        if not isinstance(value, str):
            raise InputError(f"The settings file {path} has no text for {key}; put the value in quotes.")
    return dict(values)
