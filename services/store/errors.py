"""What can be wrong with the store.

FetchwaterError
├── StoreTooNew       written by a later program; left untouched
├── StoreUnreachable  the database does not answer, or is busy for too long
├── StoreBroken       the file is damaged or is not a store of ours
└── Conflict          somebody else changed the record meanwhile; carries both versions
"""

from typing import Any

from geo.base.errors import FetchwaterError


class StoreTooNew(FetchwaterError):
    """The store was written by a later version of the program and is left untouched."""


class StoreUnreachable(FetchwaterError):
    """The store cannot be opened, does not answer, or is busy; nothing was changed."""


class StoreBroken(FetchwaterError):
    """A file is damaged, or is no store of this program; nothing of it was taken."""


class NotKept(FetchwaterError):
    """The store holds no record of that id."""


class Conflict(FetchwaterError):
    """Somebody else changed the record since it was read; nothing was overwritten.

    present is the record as it stands, yours what was to be written; both are plain JSON values.
    """

    def __init__(self, message: str, present: dict[str, Any], yours: dict[str, Any]) -> None:
        super().__init__(message)
        self.present = present
        self.yours = yours
