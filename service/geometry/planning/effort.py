"""How much a plan may cost: a vehicle that no adjuster mends must not keep a processor busy."""

MOST = 1000
"""So many least costs are worked out for one row, some fifteen times what four axles in steps need;
then the best that was found counts."""


class Effort:
    """Counts what is worked out for one row, up to the most."""

    __slots__ = ("left",)

    def __init__(self, most: int = MOST) -> None:
        self.left = most

    def spent(self) -> bool:
        """Take one more; False where none is left."""
        self.left -= 1
        return self.left >= 0
