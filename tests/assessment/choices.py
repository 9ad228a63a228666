"""Where generated things get their choices from: drawn one by one by hypothesis, or rolled from a seed it draws.

Drawn, a failure shrinks to the smallest policy that shows it; but nearly all time goes into drawing. The long run
rolls: the same generators, one seed an example, some ten times as many examples in the same time. A failure is then
reproduced by its seed, and shrunk by running the test drawn.
"""

import os
import random
from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

from hypothesis import strategies as st

T = TypeVar("T")

LONG = os.environ.get("RISKBOARD_HYPOTHESIS") == "long"


class Choices(Protocol):
    def whole(self, low: int, high: int) -> int:
        """A whole number, both ends possible."""
        ...

    def one(self, options: Sequence[T]) -> T: ...

    def some(self, options: Sequence[T], least: int, most: int) -> list[T]:
        """Different ones, in any order."""
        ...

    def flag(self) -> bool: ...


class Drawn:
    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw

    def whole(self, low: int, high: int) -> int:
        return self.draw(st.integers(low, high))

    def one(self, options: Sequence[T]) -> T:
        return self.draw(st.sampled_from(options))

    def some(self, options: Sequence[T], least: int, most: int) -> list[T]:
        places = st.lists(st.integers(0, len(options) - 1), min_size=least, max_size=most, unique=True)
        return [options[place] for place in (self.draw(places) if most else [])]

    def flag(self) -> bool:
        return self.draw(st.booleans())


class Rolled:
    def __init__(self, seed: bytes) -> None:
        self.dice = random.Random(seed)  # noqa: S311  - no secret

    def whole(self, low: int, high: int) -> int:
        return self.dice.randint(low, high)

    def one(self, options: Sequence[T]) -> T:
        return self.dice.choice(options)

    def some(self, options: Sequence[T], least: int, most: int) -> list[T]:
        return self.dice.sample(options, self.dice.randint(least, most))

    def flag(self) -> bool:
        return self.dice.random() < 0.5


def strategy(build: Callable[[Choices], T], *, rolled: bool = LONG) -> st.SearchStrategy[T]:
    """What ``build`` makes of any choices."""
    if rolled:
        # Bytes, not a number: hypothesis likes small numbers, and few seeds would be tried over and over.
        return st.binary(min_size=8, max_size=8).map(lambda seed: build(Rolled(seed)))

    @st.composite
    def drawn(draw: st.DrawFn) -> T:
        return build(Drawn(draw))

    return drawn()
