"""A tuple that is worked out when somebody first looks at it."""

from collections.abc import Callable, Iterator, Sequence
from typing import Any, Generic, TypeVar, overload

T = TypeVar("T", covariant=True)


class Deferred(Sequence[T], Generic[T]):
    """A sequence that nearly nobody reads: equal to the tuple that ``make`` returns, and copied and pickled as it.

    >>> words = Deferred(lambda: ("a", "b"))
    >>> words == ("a", "b"), words[1], len(words)
    (True, 'b', 2)
    """

    __slots__ = ("_made", "_make")

    def __init__(self, make: Callable[[], tuple[T, ...]]) -> None:
        self._make: Callable[[], tuple[T, ...]] | None = make
        self._made: tuple[T, ...] = ()

    def __call__(self) -> tuple[T, ...]:
        """The tuple itself."""
        make = self._make
        if make is not None:
            # In this order, a second thread that looks meanwhile works the same out again and misses nothing.
            self._made = make()
            self._make = None
        return self._made

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[T, ...]: ...
    def __getitem__(self, index: int | slice) -> T | tuple[T, ...]:
        return self()[index]

    def __iter__(self) -> Iterator[T]:
        return iter(self())

    def __len__(self) -> int:
        return len(self())

    def __eq__(self, other: object) -> bool:
        return self() == (other() if isinstance(other, Deferred) else other)

    def __hash__(self) -> int:
        return hash(self())

    def __repr__(self) -> str:
        return repr(self())

    def __reduce__(self) -> tuple[Any, ...]:
        return tuple, (self(),)
