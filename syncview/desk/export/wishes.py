"""What the person chooses before an export: products, how films are coded, shape and folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from syncview.desk.export.orders import IN_ORDER, Order
from syncview.desk.export.ready import usual_folder
from syncview.desk.settings import open_settings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from syncview.desk.state import DeskState
    from syncview.project import Project


class Wishes(QWidget):
    """The form."""

    changed = pyqtSignal()

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._path: Path | None = None
        self.products: dict[str, QCheckBox] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        for name, words, about, more in self._product_rows():
            self._add_product(column, name, f"{words}: {about}", more)
        self._say_what_is_missing()
        self._make_fields()
        column.addLayout(self._form)
        state.projectChanged.connect(self._follow)
        self._follow(state.project)

    def _product_rows(self) -> tuple[tuple[str, str, str, str], ...]:
        return (
            ("lesson", self.tr("Lesson"), self.tr("its film, captions, chapters and plan"),
             self.tr("Hot lap, then the slow breakdown, as the plan shows it; captions, chapters and plan beside it")),
            ("film", self.tr("Lap"), self.tr("at full speed, with gauges"),
             self.tr("A film of the lap with chapters inside")),
            ("clips", self.tr("Clips"), self.tr("a film of each corner, with gauges"),
             self.tr("From the braking for a corner to its exit")),
            ("captions", self.tr("Captions"), self.tr("the notes as .srt, .vtt and .ttml"),
             self.tr("For the film of the lap; the lesson has its own")),
            ("chapters", self.tr("Chapters"), self.tr("the corners, for players and hosts"),
             self.tr("For the film of the lap, as lists that players and video hosts read; the lesson has its own")),
            ("timeline", self.tr("Timeline"), self.tr("the cut, as .otio and .edl"),
             self.tr("The lesson's cut for editing programs")),
        )  # fmt: skip

    def _add_product(self, column: QVBoxLayout, name: str, words: str, about: str) -> None:
        box = QCheckBox(words)
        box.setToolTip(about)
        box.setAccessibleName(words)
        box.setAccessibleDescription(about)
        box.setChecked(name == "lesson")
        box.setMinimumWidth(60)
        box.toggled.connect(lambda _on: self.changed.emit())
        self.products[name] = box
        column.addWidget(box)

    def _say_what_is_missing(self) -> None:
        from importlib.util import find_spec

        if find_spec("opentimelineio") is None:
            box = self.products["timeline"]
            box.setEnabled(False)
            box.setToolTip(self.tr("Its library is not installed: pip install opentimelineio otio-cmx3600-adapter"))

    def _make_fields(self) -> None:
        kept = open_settings()
        self.quality = self._combo(self.tr("Quality"), (
            ("draft", self.tr("draft: quick to make")), ("web", self.tr("web: for sending")),
            ("archive", self.tr("archive: for cutting again, large")),
        ), str(kept.value("export/quality", "web")))  # fmt: skip
        self.coding = self._combo(self.tr("Coding"), (
            ("h264", self.tr("H.264: plays everywhere")), ("h265", self.tr("H.265: smaller, slower, newer players")),
            ("av1", self.tr("AV1: smaller, slower, newest players")),
        ), str(kept.value("export/coding", "h264")))  # fmt: skip
        self.shape = self._combo(self.tr("Shape of the lesson"), (
            ("as recorded", self.tr("as recorded")), ("wide", self.tr("wide, 16:9")),
            ("tall", self.tr("tall, 9:16, for phones")), ("square", self.tr("square, 1:1")),
        ), "as recorded")  # fmt: skip
        self.quality.setToolTip(self.tr("How good and how large films are"))
        self.coding.setToolTip(self.tr("How films are coded: where they play, how long it takes"))
        self.shape.setToolTip(self.tr("How the picture of the lesson is cut; the lap and clips stay as recorded"))
        self.shape.activated.connect(self._choose_shape)
        self.copy = QCheckBox(self.tr("lap and clips as recorded, without gauges"))
        self.copy.setToolTip(self.tr("Copied without coding again: quick and without loss; notes as a caption track"))
        self.folder = QLineEdit()
        self.folder.setAccessibleName(self.tr("Folder to write to"))
        self.folder.setToolTip(self.tr("Where the products are written; made when it is missing"))
        self.folder.textChanged.connect(lambda _text: self.changed.emit())
        browse = QToolButton()
        browse.setText("…")
        browse.setToolTip(self.tr("Choose the folder"))
        browse.setAccessibleName(browse.toolTip())
        browse.clicked.connect(self.choose_folder)
        where = QHBoxLayout()
        where.addWidget(self.folder, 1)
        where.addWidget(browse)
        self._form = QFormLayout()
        self._form.setContentsMargins(0, 6, 0, 0)
        self._form.setVerticalSpacing(4)
        self._form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for words, field in ((self.tr("Quality"), self.quality), (self.tr("Coding"), self.coding),
                             (self.tr("Shape"), self.shape), (self.tr("Copy"), self.copy)):  # fmt: skip
            label = QLabel(words)
            label.setBuddy(field)
            self._form.addRow(label, field)
        label = QLabel(self.tr("Folder"))
        label.setBuddy(self.folder)
        self._form.addRow(label, where)

    def _combo(self, name: str, offered: Sequence[tuple[str, str]], chosen: str) -> QComboBox:
        combo = QComboBox()
        combo.setAccessibleName(name)
        combo.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        combo.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        combo.setMinimumContentsLength(8)
        for value, words in offered:
            combo.addItem(words, value)
        combo.setCurrentIndex(max(0, combo.findData(chosen)))
        return combo

    def choose_folder(self) -> None:
        """Ask for the folder."""
        begin = self.folder.text() or (str(self._path.parent) if self._path is not None else "")
        found = QFileDialog.getExistingDirectory(self, self.tr("Folder to write to"), begin)
        if found:
            self.folder.setText(found)

    def _follow(self, project: Project | None) -> None:
        path = self._state.path if project is not None else None
        if path != self._path:
            self._path = path
            self.folder.setText("" if path is None else str(usual_folder(path)))
        if project is not None:
            self.shape.setCurrentIndex(max(0, self.shape.findData(project.lesson.shape)))
        self.changed.emit()

    def _choose_shape(self, index: int) -> None:
        project, shape = self._state.project, self.shape.itemData(index)
        if project is not None and shape != project.lesson.shape:
            self._state.edit(
                self.tr("lesson: shape"), replace(project, lesson=replace(project.lesson, shape=shape))
            )  # fmt: skip

    @property
    def chosen(self) -> tuple[str, ...]:
        """Names of the products that are wanted."""
        return tuple(name for name in IN_ORDER if self._is_chosen(self.products[name]))

    def _is_chosen(self, box: QCheckBox) -> bool:
        return box.isChecked() and box.isEnabledTo(self)  # whatever the whole form is while work is under way

    def order(self, *, overwrite: bool = False) -> Order | None:
        """What is wanted; None when something for it is missing."""
        project, path, folder = self._state.project, self._state.path, self.folder.text().strip()
        if project is None or path is None or not folder or not self.chosen:
            return None
        quality, coding = self.quality.currentData(), self.coding.currentData()
        kept = open_settings()
        kept.setValue("export/quality", quality)
        kept.setValue("export/coding", coding)
        return Order(
            path, path.parent / Path(folder).expanduser(), self.chosen, quality, coding, self.copy.isChecked(),
            project.lesson.before_s, project.lesson.after_s, overwrite,
        )  # fmt: skip
