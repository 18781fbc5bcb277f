from __future__ import annotations


class StoreError(Exception):
    """The store could not do what was asked; the message says why and what to do."""

    title = "The store could not do this"

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


class StoreMissing(StoreError):
    """There is no store at the path."""

    title = "There is no store yet"


class StoreReplaced(StoreError):
    """The store that is open or served is gone, or another file is in its place."""

    title = "The store is not in its place"


class StoreBusy(StoreError):
    """Somebody else was using the store until the wait ran out."""

    title = "The store is in use"


class StoreDamaged(StoreError):
    """The file cannot be read as a store."""

    title = "The store cannot be read"


class StoreTooNew(StoreError):
    """The file was written by a newer version of the package."""

    title = "The store is newer than this program"


class BadInput(StoreError):
    """The input cannot be stored; nothing was changed."""

    title = "This cannot be stored"
