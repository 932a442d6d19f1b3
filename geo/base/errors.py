"""The error tree of the computing side.

    FetchwaterError
    ├── BadInput        the user's files or settings cannot be used; carries every Fault found
    ├── NotFlyable      a leg cannot be flown as asked (wind above airspeed, no route)
    ├── SheetTooLong    what must stand on a sheet of paper does not fit one page
    ├── MissingLibrary  a library of the system, not of Python, is not installed
    └── BadArgument     a caller broke a function's contract (wrong unit range, empty geometry)

Nothing in `geo` prints or exits; `services` turns these into exit codes and HTTP problems in one table.
"""

from geo.base.fault import Fault, Severity


class FetchwaterError(Exception):
    """Base of every error that this program raises on purpose."""


class BadInput(FetchwaterError):
    """The user's input was refused as a whole; `faults` lists every reason found, not only the first."""

    def __init__(self, faults: list[Fault] | tuple[Fault, ...]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(fault.sentence() for fault in self.faults))

    @classmethod
    def of(
        cls, file: str, rule: str, fix: str, severity: Severity = "refuse", **place: str | None
    ) -> "BadInput":
        """Give the error of one fault; place may hold layer, feature, field and value."""
        return cls([Fault(severity, file, rule, fix, **place)])

    def __reduce__(self) -> tuple[type["BadInput"], tuple[tuple[Fault, ...]]]:
        # Raised inside worker processes: must survive pickling with its faults.
        return (type(self), (self.faults,))


class NotFlyable(FetchwaterError):
    """A leg cannot be flown; the message says which limit is broken and where."""


class SheetTooLong(FetchwaterError):
    """What must stand on the sheet does not fit one page in a readable size."""


class MissingLibrary(FetchwaterError):
    """A library of the system that the work needs is not installed; the message names it."""


class BadArgument(FetchwaterError, ValueError):
    """A value outside what a function promises to handle; the message names the value, the rule and the fix."""
