"""The lesson's choices in a compact form; each change is one step of undo."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtWidgets import QCheckBox, QComboBox, QDoubleSpinBox, QFormLayout, QLabel, QLineEdit, QSpinBox, QWidget

from syncview.errors import SyncviewError
from syncview.plan.lesson_choices import LONGEST_TITLE, LessonChoices, checked_choices

if TYPE_CHECKING:
    from collections.abc import Sequence

_SPEEDS = ("1/8", "1/5", "1/4", "1/3", "1/2", "2/3", "3/4", "1")
_VOICES = ("en", "de", "fr", "es", "it", "nl", "pt")


class ChoicesForm(QWidget):
    """Shows `LessonChoices`; tells changed ones when they can be, and says in the form why not."""

    changed = pyqtSignal(str, object)
    """Words for undo, and the new `LessonChoices`."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(self.tr("Choices for the lesson"))
        self._choices = LessonChoices()
        self._showing = False
        self._fields: dict[str, Callable[[Any], None]] = {}
        self._form = QFormLayout(self)
        self._form.setContentsMargins(8, 4, 8, 4)
        self._form.setVerticalSpacing(4)
        self._form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.DontWrapRows)
        self._form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.fault = QLabel()
        self.fault.setWordWrap(True)
        self.fault.setObjectName("choiceFault")
        self.fault.hide()
        self._form.addRow(self.fault)
        self._make_rows()

    def _make_rows(self) -> None:
        self._add_text("title", self.tr("Title"), self.tr("On the first card; empty for the circuit's name"))
        self._add_check("hot_lap", self.tr("Hot lap"), self.tr("first, at full speed"))
        self._add_typed("slowest", self.tr("Slowest"), _SPEEDS,
                        self.tr("No slow motion is slower; the picture is held instead"))  # fmt: skip
        self._add_typed("corner_speed", self.tr("Corners"), _SPEEDS,
                        self.tr("Highest speed in a corner with notes, however short they are"))  # fmt: skip
        self._add_seconds("longest_hold_s", self.tr("Longest hold"), self.tr("Longest still at a note"))
        self._add_number("words_per_minute", self.tr("Words a minute"),
                         self.tr("How quickly you speak, for notes without a voice"))  # fmt: skip
        self._add_pick("captions", self.tr("Captions"), (
            ("picture", self.tr("on the picture")), ("track", self.tr("as a track")),
            ("both", self.tr("both")), ("none", self.tr("none")),
        ), self.tr("Notes written on the picture, or as a track that players can switch"))  # fmt: skip
        self._add_pick("shape", self.tr("Shape"), (
            ("as recorded", self.tr("as recorded")), ("wide", self.tr("wide, 16:9")),
            ("tall", self.tr("tall, 9:16")), ("square", self.tr("square, 1:1")),
        ), self.tr("How the picture is cut"))  # fmt: skip
        self._add_pick("slow_pictures", self.tr("Slow motion"), (
            ("auto", self.tr("as fits the recording")), ("repeat", self.tr("pictures repeated")),
            ("blend", self.tr("pictures blended")), ("flow", self.tr("pictures made in between")),
        ), self.tr("How pictures between two recorded ones are made"))  # fmt: skip
        self._add_pick("loudness_lufs", self.tr("Loudness"), (
            (-23.0, self.tr("broadcast, -23 LUFS")), (-14.0, self.tr("web, -14 LUFS")),
        ), self.tr("How loud the lesson is as a whole"))  # fmt: skip
        self._add_typed("draft_voice", self.tr("Draft voice"), ("", *_VOICES),
                        self.tr("Language of a synthetic voice for notes without a voice; empty for none"))  # fmt: skip

    # Showing

    def show_choices(self, choices: LessonChoices) -> None:
        """Show what the project has."""
        self._choices, self._showing = choices, True
        for name, show in self._fields.items():
            show(getattr(choices, name))
        self._showing = False
        self._tell(None)

    def _tell(self, error: SyncviewError | None) -> None:
        self.fault.setVisible(error is not None)
        self.fault.setText("" if error is None else f"! {error}")

    def _give(self, name: str, words: str, value: object) -> None:
        """A field has a new value."""
        if self._showing or value == getattr(self._choices, name):
            return
        try:
            choices = checked_choices(replace(self._choices, **{name: value}))  # type: ignore[arg-type]
        except SyncviewError as error:
            self.show_choices(self._choices)
            self._tell(error)
            return
        self._choices = choices
        self._tell(None)
        self.changed.emit(self.tr("lesson: %s") % words.lower(), choices)

    # Kinds of fields

    def _add(self, name: str, words: str, tip: str, field: QWidget, show: Callable[[Any], None]) -> None:
        label = QLabel(words)
        label.setBuddy(field)
        for part in (label, field):
            part.setToolTip(tip)
        field.setAccessibleName(words)
        field.setAccessibleDescription(tip)
        field.setObjectName(name)
        self._fields[name] = show
        self._form.addRow(label, field)

    def _add_text(self, name: str, words: str, tip: str) -> None:
        field = QLineEdit()
        field.setMaxLength(LONGEST_TITLE)
        field.editingFinished.connect(lambda: self._give(name, words, field.text().strip()))
        self._add(name, words, tip, field, field.setText)

    def _add_check(self, name: str, words: str, tip: str) -> None:
        field = QCheckBox(tip)
        field.toggled.connect(lambda on: self._give(name, words, on))
        self._add(name, words, tip, field, field.setChecked)

    def _add_typed(self, name: str, words: str, offered: Sequence[str], tip: str) -> None:
        """Words that may be chosen or typed."""
        field = _QuietCombo()
        field.setEditable(True)
        field.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        field.addItems(offered)
        edit = field.lineEdit()
        assert edit is not None

        def give() -> None:
            self._give(name, words, field.currentText().strip())

        field.activated.connect(lambda _index: give())
        edit.editingFinished.connect(give)
        self._add(name, words, tip, field, field.setCurrentText)

    def _add_pick(self, name: str, words: str, offered: Sequence[tuple[object, str]], tip: str) -> None:
        field = _QuietCombo()
        for value, shown in offered:
            field.addItem(shown, value)

        def show(value: object) -> None:
            index = field.findData(value)
            if index < 0:
                field.addItem(f"{value:g} LUFS" if isinstance(value, float) else str(value), value)
                index = field.count() - 1
            field.setCurrentIndex(index)

        field.activated.connect(lambda index: self._give(name, words, field.itemData(index)))
        self._add(name, words, tip, field, show)

    def _add_seconds(self, name: str, words: str, tip: str) -> None:
        field = _QuietSeconds()
        field.setRange(0.0, 120.0)
        field.setSingleStep(0.5)
        field.setDecimals(1)
        field.setSuffix(" s")
        field.setKeyboardTracking(False)
        field.valueChanged.connect(lambda value: self._give(name, words, value))
        self._add(name, words, tip, field, field.setValue)

    def _add_number(self, name: str, words: str, tip: str) -> None:
        field = _QuietNumber()
        field.setRange(60, 400)
        field.setSingleStep(5)
        field.setKeyboardTracking(False)
        field.valueChanged.connect(lambda value: self._give(name, words, float(value)))
        self._add(name, words, tip, field, lambda value: field.setValue(round(value)))


# The wheel scrolls the form; it never changes a field.


class _QuietCombo(QComboBox):
    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def wheelEvent(self, event: Any) -> None:  # noqa: N802 (Qt's name)
        event.ignore()


class _QuietSeconds(QDoubleSpinBox):
    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def wheelEvent(self, event: Any) -> None:  # noqa: N802 (Qt's name)
        event.ignore()


class _QuietNumber(QSpinBox):
    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def wheelEvent(self, event: Any) -> None:  # noqa: N802 (Qt's name)
        event.ignore()
