"""A short memory for values that are costly to make from large records, which are told apart by identity."""

from collections.abc import Callable
from threading import Lock
from typing import Generic, TypeVar

Value = TypeVar("Value")


class Recent(Generic[Value]):
    """The last few values that were made, each from records and from small questions.

    Records must be the very same objects (they are kept alive, and comparing them would take long); questions need
    only be equal. Records are never changed, so a kept value holds.
    """

    def __init__(self, size: int) -> None:
        self._size = size
        self._kept: list[tuple[tuple[object, ...], tuple[object, ...], Value]] = []
        self._lock = Lock()

    def get(
        self, records: tuple[object, ...], questions: tuple[object, ...], make: Callable[[], Value]
    ) -> Value:
        """Give the kept value of these records and questions, or make it. One is made at a time."""
        with self._lock:
            for number, (known, asked, value) in enumerate(self._kept):
                same = len(known) == len(records) and all(a is b for a, b in zip(known, records, strict=True))
                if same and asked == questions:
                    self._kept.insert(0, self._kept.pop(number))
                    return value
            value = make()
            self._kept = [(records, questions, value), *self._kept[: self._size - 1]]
            return value
