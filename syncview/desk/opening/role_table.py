"""Which column of the log is what: one row a quantity, with its unit and a look at its values."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtWidgets import QComboBox, QGridLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from syncview.desk.opening.small_widgets import SparkLine

if TYPE_CHECKING:
    from syncview.desk.opening.looks import LogLook
    from syncview.errors import SyncviewError


@dataclass(frozen=True, slots=True)
class _Row:
    role: str
    choice: QComboBox
    unit: QLineEdit
    spark: SparkLine
    values: QLabel


class RoleTable(QWidget):
    """Shows how a log's columns are understood and lets the person say otherwise."""

    changed = pyqtSignal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.roles: dict[str, str] = {}
        """Role -> column, where the person said so."""
        self.units: dict[str, str] = {}
        """Column -> unit text, where the person said so."""
        self._rows: list[_Row] = []
        self._look: LogLook | None = None
        self._fault = QLabel()
        self._fault.setWordWrap(True)
        self._fault.setTextFormat(Qt.TextFormat.PlainText)
        self._fault.hide()
        self._remarks = QLabel()
        self._remarks.setObjectName("quiet")
        self._remarks.setWordWrap(True)
        self._remarks.setTextFormat(Qt.TextFormat.PlainText)
        self._grid_holder = QWidget()
        self._grid = QGridLayout(self._grid_holder)
        self._grid.setContentsMargins(0, 0, 8, 0)
        self._grid.setHorizontalSpacing(12)
        self._grid.setVerticalSpacing(5)
        self._grid.setColumnStretch(3, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for part in (self._fault, self._grid_holder, self._remarks):
            column.addWidget(part)
        column.addStretch(1)

    def start_with(self, roles: Mapping[str, str], units: Mapping[str, str]) -> None:
        """What the person said earlier."""
        self.roles, self.units = dict(roles), dict(units)

    def clear_all(self) -> None:
        """Nothing is known."""
        self.start_with({}, {})
        self._look = None
        self._grid_holder.hide()
        self._fault.hide()
        self._remarks.setText(self.tr("Drop the car's log here: what its columns are is shown in this place."))

    def show_fault(self, error: SyncviewError) -> None:
        """The log cannot be read."""
        self._grid_holder.hide()
        self._remarks.clear()
        self._fault.setText(str(error))
        self._fault.show()

    def show_look(self, look: LogLook) -> None:
        """A log and how it is understood."""
        self._look = look
        if not self._rows:
            self._make_rows()
        self._grid_holder.show()
        self._fault.setVisible(look.fault is not None)
        if look.fault is not None:
            self._fault.setText(_without_options(f"{look.fault.problem}. {look.fault.remedy}"))
        for row in self._rows:
            self._show_row(row, look)
        remarks = [] if look.log is None else [_without_options(text) for text in look.log.warnings]
        others = () if look.log is None else look.log.others
        if others:
            remarks.append(self.tr("Not used: %s") % ", ".join(others))
        self._remarks.setText("\n".join(remarks))

    def _make_rows(self) -> None:
        from syncview.channels import ROLES

        for i, words in enumerate(
            (self.tr("Quantity"), self.tr("Column of the log"), self.tr("Unit"), self.tr("At a glance"),
             self.tr("From … to, as written"))
        ):  # fmt: skip
            head = QLabel(words)
            head.setObjectName("quiet")
            self._grid.addWidget(head, 0, i)
        for number, role in enumerate(ROLES, start=1):
            choice, unit, spark, values = QComboBox(), QLineEdit(), SparkLine(), QLabel()
            choice.setAccessibleName(self.tr("Column that is the %s") % role.words)
            choice.setMinimumWidth(170)
            unit.setAccessibleName(self.tr("Unit of the %s") % role.words)
            unit.setFixedWidth(84)
            spark.setAccessibleName(self.tr("Values of the %s") % role.words)
            values.setObjectName("quiet")
            row = _Row(role.name, choice, unit, spark, values)
            choice.activated.connect(lambda _index, row=row: self._choose(row))
            unit.editingFinished.connect(lambda row=row: self._say_unit(row))
            self._grid.addWidget(QLabel(role.words), number, 0)
            for i, part in enumerate((choice, unit, spark, values), start=1):
                self._grid.addWidget(part, number, i)
            self._rows.append(row)

    def _show_row(self, row: _Row, look: LogLook) -> None:
        signal = None if look.log is None else look.log.signals.get(row.role)
        column = self.roles.get(row.role) or look.misfits.get(row.role) or (signal.source if signal else None)
        row.choice.blockSignals(True)
        row.choice.clear()
        row.choice.addItem(self.tr("not in the log") if column is None else self.tr("by its heading"), None)
        for each in look.table.channels:
            row.choice.addItem(each.name, each.name)
        row.choice.setCurrentIndex(0 if column is None else max(0, row.choice.findData(column)))
        row.choice.blockSignals(False)
        channel = None if column is None else look.table.channel(column)
        row.unit.setEnabled(channel is not None)
        row.spark.show_spark(None if channel is None else look.sparks[channel.name])
        if channel is None:
            row.unit.clear()
            row.values.clear()
            return
        row.unit.setText(self.units.get(channel.name, channel.written_unit))
        row.unit.setPlaceholderText("" if channel.written_unit else self.tr("not stated"))
        low, high = look.ranges[channel.name]
        row.values.setText("" if math.isnan(low) else f"{low:.5g} … {high:.5g}")

    def _choose(self, row: _Row) -> None:
        column = row.choice.currentData()
        if column is None:
            self.roles.pop(row.role, None)
        else:
            # A column is one thing only: the role that had it before by the person's word gives it up.
            self.roles = {role: held for role, held in self.roles.items() if held != column}
            self.roles[row.role] = column
        self.changed.emit()

    def _say_unit(self, row: _Row) -> None:
        look, column = self._look, row.choice.currentData()
        if look is None or column is None:
            return
        channel, text = look.table.channel(column), row.unit.text().strip()
        if channel is None or text == self.units.get(column, channel.written_unit):
            return
        if text and text != channel.written_unit:
            self.units[column] = text
        else:
            self.units.pop(column, None)
        self.changed.emit()


def _without_options(sentence: str) -> str:
    """A sentence of the program without the options of its command line, which this table takes the place of."""
    for pattern, words in (
        (r"; --role \S+=COLUMN chooses otherwise", ""),
        (r"Choose another column with --role \S+, or its unit with --unit \S+", "Choose another column, or its unit."),
        (r"Say it with --unit '[^']*'", "Write its unit beside it"),
    ):
        sentence = re.sub(pattern, words, sentence)
    return sentence
