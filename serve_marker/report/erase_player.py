"""A player erased wherever the program has written of her, with a list of what was done and what is not ours to do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.logbook.backups import remove_unfinished
from serve_marker.logbook.erase_files import copies_of, erase_from_file, files_that_name
from serve_marker.logbook.records import Player, player_words
from serve_marker.logbook.store import Logbook
from serve_marker.printable import quoted_name
from serve_marker.report.made_files import made_files_showing
from serve_marker.study.sentences import count_words

ELSEWHERE = "Printed sheets, sent files and copies on other disks are yours to destroy."


@dataclass
class Erasure:
    """Sentences: what was ``done``, and what is ``left`` to the coach."""

    done: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)


def sheets_folder(path: Path) -> Path:
    """Return the folder beside a logbook into which sheets go unless another one is chosen."""
    return path.parent / f"{path.stem} sheets"


def erase_player(path: Path, player_id: str, *, keep_serves: bool, folders: Sequence[Path] = ()) -> Erasure:
    """Erase a player from a logbook, its backups and copies, and delete the files that show her.

    Nobody may have the logbook open meanwhile.

    Parameters
    ----------
    keep_serves : her serves stay, without a name; else they go with their marks.
    folders : where sheets, stills and tables were written, beside the folder next to the logbook.

    Raises
    ------
    UserError
        If she is not in the logbook, or it cannot be written; nothing was done then.
    """
    with Logbook.open(path) as logbook:
        player = next((one for one in logbook.players() if one.id == player_id), None)
        if player is None:
            raise UserError(f"This player is not in {path.name}; open it again.")
        names = _names(logbook, player)
        films = _films(logbook, player)
    erasure = Erasure()
    done = erase_from_file(path, player, keep_serves=keep_serves) or Counter()
    erasure.done += _done_sentences(path, done, keep_serves)
    remove_unfinished(path)
    copies = copies_of(path)
    for copy in copies:
        _erase_from_copy(copy, player, keep_serves, erasure)
    files = list(dict.fromkeys(folder for folder in (sheets_folder(path), *folders) if folder.is_dir()))
    for folder in files:
        _delete_files(folder, names, erasure)
    erasure.left += [f"The film {quoted_name(Path(film).name)} shows her. It is yours to delete." for film in films]
    erasure.left += [
        f"{quoted_name(file.name)} still names her; look at it, or delete it."
        for file in files_that_name(player.name, [file for file in (path, *copies) if file.exists()])
    ]
    erasure.left.append(ELSEWHERE)
    return erasure


def _names(logbook: Logbook, player: Player) -> list[str]:
    """How she was ever written: with each of her shirt numbers, and without."""
    numbers = {number for season in logbook.seasons() for who, number in season.shirts if who == player.id}
    with_numbers = [f"{number} {player.name}" for number in sorted(numbers)]
    return [player_words(player), player.name, *with_numbers]


def _films(logbook: Logbook, player: Player) -> list[str]:
    clip_ids = {serve.clip_id for serve in logbook.serves() if player.id in (serve.player_id, serve.passer_id)}
    return [clip.path for clip in logbook.clips() if clip.id in clip_ids]


def _done_sentences(path: Path, done: Counter[str], keep_serves: bool) -> list[str]:
    serves = count_words(done["serves"], "serve")
    told = {
        "serves": f"{serves} left without a name." if keep_serves else f"{serves} erased, with all marks.",
        "passes": f"{count_words(done['passes'], 'pass', 'passes')} left without a passer.",
        "counts": f"{count_words(done['counts'], 'day')} of unfilmed serves erased.",
        "lists": f"Taken out of {count_words(done['lists'], 'list', 'orders, plans and formations')}.",
        "texts": f"The name taken out of {count_words(done['texts'], 'note or name', 'notes or names')}.",
        "pictures": f"{count_words(done['pictures'], 'picture')} of the gym kept with views erased.",
    }
    return [f"Erased from {path.name}.", *(sentence for what, sentence in told.items() if done[what])]


def _erase_from_copy(copy: Path, player: Player, keep_serves: bool, erasure: Erasure) -> None:
    try:
        done = erase_from_file(copy, player, keep_serves=keep_serves)
    except UserError as error:
        erasure.left.append(f"{quoted_name(copy.name)} could not be changed. Delete it. {error}")
    else:
        if done is not None:
            erasure.done.append(f"Erased from {quoted_name(copy.name)}.")


def _delete_files(folder: Path, names: Sequence[str], erasure: Erasure) -> None:
    for file in made_files_showing(folder, names):
        try:
            file.unlink()
        except OSError as error:
            erasure.left.append(f"{quoted_name(file.name)} could not be deleted ({error.strerror}).")
        else:
            erasure.done.append(f"Deleted {quoted_name(file.name)}; make it anew if you need it.")
