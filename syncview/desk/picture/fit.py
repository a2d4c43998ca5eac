"""Where the picture lies in the room it has, and which share of it a point is."""

from __future__ import annotations

from dataclasses import dataclass

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Fit:
    """The picture's rectangle, as large as fits, in the middle; device pixels, sides even as gauges need them."""

    left: int
    top: int
    width: int
    height: int

    def share_of(self, x: float, y: float) -> Place:
        """A point as shares of the picture across and down; outside it, the nearest on its edge."""
        across, down = (x - self.left) / self.width, (y - self.top) / self.height
        return min(max(across, 0.0), 1.0), min(max(down, 0.0), 1.0)

    def point_of(self, place: Place) -> Place:
        """The point of a share."""
        return self.left + place[0] * self.width, self.top + place[1] * self.height

    def holds(self, x: float, y: float) -> bool:
        """True when the point lies on the picture."""
        return self.left <= x <= self.left + self.width and self.top <= y <= self.top + self.height


def fit(room_width: int, room_height: int, picture_width: int, picture_height: int) -> Fit | None:
    """Place a picture of that shape; None when there is room for less than two pixels."""
    if min(room_width, room_height) < 2 or min(picture_width, picture_height) < 1:
        return None
    if room_width * picture_height <= room_height * picture_width:
        width, height = float(room_width), room_width * picture_height / picture_width
    else:
        width, height = room_height * picture_width / picture_height, float(room_height)
    even_width, even_height = max(2, 2 * int(width / 2 + 1e-6)), max(2, 2 * int(height / 2 + 1e-6))
    return Fit((room_width - even_width) // 2, (room_height - even_height) // 2, even_width, even_height)
