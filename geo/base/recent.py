"""The one memory for values that are costly to make from large records, which are told apart by identity.

An object that lives as long as its values owns its memory; a module has one only where questions that know nothing of
each other share values, and says its size and why. Functions of a few plain numbers or words use `functools`.
"""

from collections.abc import Callable
from threading import Lock
from typing import Generic, TypeVar

Value = TypeVar("Value")


class _Slot(Generic[Value]):
    """One value, made or being made; the records that it is kept for stay alive with it."""

    def __init__(self, records: tuple[object, ...]) -> None:
        self.records, self.lock = records, Lock()
        self.made: list[Value] = []


class Recent(Generic[Value]):
    """The values that were made, each from records and from small questions; of a size, only the last few.

    Records must be the very same objects (they are kept alive, and comparing them would take long); questions need
    only be equal and hashable. Records are never changed, so a kept value holds.
    """

    def __init__(self, size: int | None = None) -> None:
        """size: how many values are kept; None keeps all for as long as the owner lives."""
        self._size = size
        self._slots: dict[tuple[tuple[int, ...], tuple[object, ...]], _Slot[Value]] = {}
        self._lock = Lock()

    def get(
        self, records: tuple[object, ...], questions: tuple[object, ...], make: Callable[[], Value]
    ) -> Value:
        """Give the kept value of these records and questions, or make it.

        Of two threads that ask the same, one makes it and the other waits for it; others are not held up. What `make`
        raises is raised, and made again at the next call.
        """
        key = tuple(map(id, records)), questions
        with self._lock:
            # The last asked for stands last; a slot keeps its records alive, so that no other object has their id.
            slot = self._slots.pop(key, None) or _Slot(records)
            self._slots[key] = slot
            if self._size is not None and len(self._slots) > self._size:
                del self._slots[next(iter(self._slots))]
        with slot.lock:
            if not slot.made:
                slot.made.append(make())
            return slot.made[0]
