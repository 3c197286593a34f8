"""What a benchmark gives back."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """Seconds of the app, seconds of the floor, and how many times the floor it may take, where that is promised."""

    what: str
    app: float
    floor: float
    at_most: float | None = None

    @property
    def ratio(self) -> float:
        """How many times the floor the app takes."""
        return self.app / self.floor

    @property
    def kept(self) -> bool:
        """Whether it keeps what is promised."""
        return self.at_most is None or self.ratio <= self.at_most
