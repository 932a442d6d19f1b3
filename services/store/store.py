"""The store as the rest of the program holds it: an up-to-date engine."""

from pathlib import Path

from sqlalchemy import Engine

from services.settings import Settings
from services.store.engine import open_engine, place
from services.store.upgrade import bring_up_to_date


class Store:
    """One database, opened per operation; one writer at a time, readers never wait.

    `engine` serves the verbs of the other modules here: surveys, rankings, sites, day, layers, copying.
    """

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    def close(self) -> None:
        """Give up every connection; the file then stands alone, without its -wal."""
        self.engine.dispose()

    @property
    def where(self) -> str:
        """The path or address of the store, without a password."""
        return place(self.engine)


def open_store(settings: Settings) -> Store:
    """Open the store that the settings name; make it where there is none, migrate an older one after a backup copy.

    Raises: StoreTooNew, StoreBroken, StoreUnreachable; BadArgument for a bad address.
    """
    engine = open_engine(settings)
    try:
        bring_up_to_date(engine, settings.data_dir / "backups")
    except BaseException:
        engine.dispose()
        raise
    return Store(engine)


def embedded_store(folder: Path) -> Store:
    """Open the embedded store of a folder, whatever the settings say."""
    return open_store(Settings(data_dir=folder, store_url=None))
