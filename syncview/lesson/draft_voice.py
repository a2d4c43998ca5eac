"""A machine's voice for drafts of a lesson, made by espeak-ng where it is installed."""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from syncview.errors import MediaError
from syncview.media.voice_file import VoiceFile, VoicePiece, open_voice
from syncview.output_file import ready_folder, whole_file

if TYPE_CHECKING:
    from pathlib import Path

PROGRAM = "espeak-ng"
LABEL = "draft voice"
"""What every product that lets it be heard calls it."""
HOW_TO_INSTALL = (
    "Install espeak-ng (Debian, Ubuntu: apt-get install espeak-ng; macOS: brew install espeak-ng; Windows: the "
    "installer of the espeak-ng project), or record the notes yourself."
)
SLOWEST_WPM, FASTEST_WPM = 80, 450
"""Words a minute that espeak-ng(1) speaks; outside them it writes empty files."""
_LANGUAGE = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{1,8})*")
"""A language tag (BCP 47 in outline), so that no option and no path gets where a voice's name is meant."""
_RECIPE = "1"
"""Goes into the names of kept files: a new recipe makes new ones."""
_TIME_LIMIT_S = 120
_EMPTY_WAV_BYTES = 44
"""A WAV file's headers."""


@dataclass(frozen=True, slots=True)
class DraftVoice:
    """A spoken text; never to be taken for the coach's own voice."""

    text: str
    language: str
    voice: VoiceFile
    label: str = LABEL

    @property
    def piece(self) -> VoicePiece:
        """What is heard, without silence around it; its `length_s` is the speaking time."""
        return self.voice.piece()


def has_draft_voice() -> bool:
    """True when espeak-ng is installed."""
    return shutil.which(PROGRAM) is not None


def draft_voice(text: str, folder: Path, *, language: str = "en", words_per_minute: int = 160) -> DraftVoice:
    """Speak `text` into a file in `folder`, or take the one that was made of the same words before.

    Raises MediaError when espeak-ng is not installed, has no such language, or finds nothing to say; OutputError when
    the folder cannot be written to; ValueError for a speed that it does not speak.
    """
    if not SLOWEST_WPM <= words_per_minute <= FASTEST_WPM:
        raise ValueError(f"{words_per_minute} words a minute: give {SLOWEST_WPM} to {FASTEST_WPM}")
    if not _LANGUAGE.fullmatch(language):
        raise MediaError(f"“{language}” is no language tag", "Give one such as en, en-us, de or fr.")
    words = _plain(text)
    if not any(sign.isalnum() for sign in words):
        raise MediaError(f"there is nothing to say in “{text.strip()[:40]}”", "Write a sentence, or leave it silent.")
    path = ready_folder(folder) / f"draft-voice-{language}-{_mark(words, language, words_per_minute)}.wav"
    voice = _kept(path)
    if voice is None:
        _speak(words, path, language, words_per_minute)
        voice = open_voice(path)
    said = f"This is a {LABEL}, made by a machine: record your own before students hear it."
    return DraftVoice(text, language, replace(voice, notes=(*voice.notes, said)))


def _plain(text: str) -> str:
    """The words without line breaks, control signs, and without what espeak-ng takes for phonemes: [[…]]."""
    printable = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(re.sub(r"(?<=\[)(?=\[)", " ", printable).split())


def _mark(words: str, language: str, words_per_minute: int) -> str:
    facts = "\n".join((_RECIPE, language, str(words_per_minute), words))
    return hashlib.sha256(facts.encode("utf-8", "replace")).hexdigest()[:20]


def _kept(path: Path) -> VoiceFile | None:
    """The file of that name if it can be heard; a damaged one is made again."""
    if not path.is_file():
        return None
    try:
        return open_voice(path)
    except MediaError:
        return None


def _speak(words: str, path: Path, language: str, words_per_minute: int) -> None:
    program = shutil.which(PROGRAM)
    if program is None:
        raise MediaError("there is no program here that speaks", HOW_TO_INSTALL)
    with whole_file(path, overwrite=True) as part:
        told = _run([program, "-v", language, "-s", str(words_per_minute), "-b", "1", "-w", str(part.resolve())], words)
        if "voice does not exist" in told:
            raise MediaError(f"{PROGRAM} has no voice for “{language}”", f"Choose one that {PROGRAM} --voices lists.")
        if not _is_whole(part):
            raise MediaError(f"{PROGRAM} wrote no whole file ({told or 'the disk may be full'})", HOW_TO_INSTALL)


def _run(command: list[str], words: str) -> str:
    """What the program says of its faults; the words go through its standard input, never through a shell."""
    spoken = words.encode("utf-8", "replace")
    try:
        done = subprocess.run(
            [*command, "--stdin"], input=spoken, capture_output=True, timeout=_TIME_LIMIT_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise MediaError(f"{PROGRAM} failed ({error})", HOW_TO_INSTALL) from error
    return " ".join(done.stderr.decode("utf-8", "replace").split())


def _is_whole(path: Path) -> bool:
    """True when a WAV file is as long as it says: the program ends without a fault on a full disk too."""
    with path.open("rb") as file:
        header = file.read(8)
    stated = int.from_bytes(header[4:], "little") + 8
    return len(header) == 8 and _EMPTY_WAV_BYTES < stated == path.stat().st_size
