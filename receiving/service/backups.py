"""Keeping what is stored: is it whole, copies of it, and the way back."""

from pathlib import Path

from receiving.closing import are_pair
from receiving.store import DATABASE, PHOTOS, BackedUp, CheckReport, back_up_to_folder, check_data
from receiving.store import back_up as back_up_archive
from receiving.store import restore as restore_backup


def check(data: Path, *, hash_photos: bool = True) -> CheckReport:
    """Look at the database, every row and every photo of a data folder, also while it is in use.

    Without ``hash_photos`` the photos' files are only asked to be there. Raises NoData where there is none, StoreError
    where it is not ours, is newer, or cannot be read.
    """
    return check_data(data / DATABASE, data / PHOTOS, hash_photos=hash_photos, are_pair=are_pair)


def back_up(data: Path, target: Path) -> BackedUp:
    """Copy a data folder, also while it is in use, once it is checked: into a ZIP archive, or into a folder.

    A folder gets only the photos that it does not have yet. What was there is replaced only by an undamaged copy.
    Raises NoData, StoreError.
    """
    return back_up_to_folder(data, target) if target.is_dir() else back_up_archive(data, target)


def restore(backup: Path, data: Path) -> CheckReport:
    """Make a data folder of a backup where there is none yet. Raises NoData, StoreError."""
    return restore_backup(backup, data)
