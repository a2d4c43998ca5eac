"""Small things that the steps are built of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QPointF, QSize, Qt, pyqtSignal
from PyQt6.QtGui import QColor, QImage, QMouseEvent, QPainter, QPaintEvent, QPen, QPixmap, QPolygonF
from PyQt6.QtWidgets import QFrame, QLabel, QSizePolicy, QVBoxLayout, QWidget

from syncview.desk import theme

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from syncview.desk.opening.looks import Spark


def image_of(rgb: NDArray[np.uint8]) -> QImage:
    """A picture of shape (rows, columns, 3) as Qt holds it; copied, so that it outlives the array."""
    rows, columns, _three = rgb.shape
    held = rgb.tobytes()  # must live until it is copied: QImage only points at it
    return QImage(held, columns, rows, 3 * columns, QImage.Format.Format_RGB888).copy()


class PictureBox(QWidget):
    """A picture fitted into the space there is, sharp on any display; words where there is none."""

    def __init__(self, words: str = "", parent: QWidget | None = None, *, least: QSize | None = None) -> None:
        super().__init__(parent)
        self._words = words
        self._pixmap: QPixmap | None = None
        self.setMinimumSize(least or QSize(160, 90))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_picture(self, image: QImage | None, words: str = "") -> None:
        """Show it, or these words without one."""
        self._pixmap = None if image is None else QPixmap.fromImage(image)
        self._words = words
        self.setAccessibleDescription(words)
        self.update()

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Fit and draw."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        look = theme.current()
        if self._pixmap is None:
            painter.setPen(QColor(*look.quiet))
            painter.fillRect(self.rect(), QColor(*look.raised))
            flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
            painter.drawText(self.rect().adjusted(8, 8, -8, -8), flags, self._words)
            return
        size = self._pixmap.size().scaled(self.size(), Qt.AspectRatioMode.KeepAspectRatio)
        left, top = (self.width() - size.width()) // 2, (self.height() - size.height()) // 2
        painter.drawPixmap(left, top, size.width(), size.height(), self._pixmap)


class FrameCard(QFrame):
    """A frame with a line of words below; can be chosen by mouse or key."""

    chosen = pyqtSignal(int)

    def __init__(self, number: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._number = number
        self._is_current = False
        self.picture = PictureBox(least=QSize(150, 84))
        self.words = QLabel()
        self.words.setAlignment(Qt.AlignmentFlag.AlignCenter)
        column = QVBoxLayout(self)
        column.setContentsMargins(4, 4, 4, 4)
        column.setSpacing(2)
        column.addWidget(self.picture, 1)
        column.addWidget(self.words)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def show_frame(self, image: QImage | None, words: str) -> None:
        """The frame and what it is."""
        self.picture.show_picture(image, "" if image is not None else self.tr("not recorded"))
        self.words.setText(words)
        self.setAccessibleName(words)

    def set_current(self, current: bool) -> None:
        """Whether this is the chosen one."""
        self._is_current = current
        self.update()

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Choose it."""
        self.chosen.emit(self._number)
        super().mousePressEvent(event)

    def focusInEvent(self, event: object) -> None:  # noqa: N802 (Qt's name)
        """Choose it."""
        self.chosen.emit(self._number)
        super().focusInEvent(event)  # type: ignore[arg-type]

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """A frame around the chosen one."""
        if self._is_current:
            painter = QPainter(self)
            painter.setPen(QPen(QColor(*theme.current().accent), 3))
            painter.drawRect(self.rect().adjusted(1, 1, -2, -2))


class SparkLine(QWidget):
    """A channel at a glance."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._spark: Spark | None = None
        self.setMinimumSize(120, 24)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """As high as a line of words."""
        return QSize(180, 26)

    def show_spark(self, spark: Spark | None) -> None:
        """Show it, or nothing."""
        self._spark = spark
        self.update()

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """The band between least and largest value."""
        import numpy as np

        spark = self._spark
        if spark is None:
            return
        good = np.isfinite(spark.low) & np.isfinite(spark.high)
        if not good.any():
            return
        low, high = float(spark.low[good].min()), float(spark.high[good].max())
        reach = (high - low) or 1.0
        x = np.arange(good.size)[good] * (self.width() - 2) / max(good.size - 1, 1) + 1
        rows = self.height() - 5
        tops = 2 + (high - spark.high[good]) / reach * rows
        feet = 2 + (high - spark.low[good]) / reach * rows + 1
        edge = [QPointF(*point) for point in zip(x, tops, strict=True)]
        edge += [QPointF(*point) for point in zip(x[::-1], feet[::-1], strict=True)]
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colour = QColor(*theme.current().accent)
        painter.setPen(QPen(colour, 1))
        painter.setBrush(colour)
        painter.drawPolygon(QPolygonF(edge))


class LapSpeeds(QWidget):
    """Speed over lap distance of two laps: the one looked at over the best."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lines: list[tuple[NDArray[np.float64], NDArray[np.float64], bool]] = []
        self._words = ""
        self.setMinimumSize(260, 120)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_lines(self, lines: list[tuple[NDArray[np.float64], NDArray[np.float64], bool]], words: str) -> None:
        """Lines of places, values and whether it is the one looked at; `words` say what they are."""
        self._lines, self._words = lines, words
        self.setAccessibleDescription(words)
        self.update()

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """The quiet line below, the other above it."""
        import numpy as np

        look = theme.current()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(*look.panel))
        values = [line[1][np.isfinite(line[1])] for line in self._lines]
        flat = np.concatenate(values) if values else np.array([])
        painter.setPen(QColor(*look.quiet))
        painter.drawText(10, 18, self._words)
        if not flat.size:
            return
        most = float(flat.max()) * 1.05 or 1.0
        for at_m, value, is_current in self._lines:
            good = np.isfinite(value)
            if not good.any():
                continue
            x = 10 + at_m[good] / at_m[-1] * (self.width() - 20)
            y = self.height() - 10 - value[good] / most * (self.height() - 40)
            line = QPolygonF([QPointF(*point) for point in zip(x, y, strict=True)])
            pen = QPen(QColor(*(look.accent if is_current else look.quiet)), 2 if is_current else 1.4)
            if not is_current:
                pen.setStyle(Qt.PenStyle.DashLine)
            painter.setPen(pen)
            painter.drawPolyline(line)
