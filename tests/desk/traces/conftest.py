"""The sample's traces, read once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from syncview.desk.traces.lines import TraceSet, trace_set
from syncview.lesson.gauge_feed import usual_reference

if TYPE_CHECKING:
    from syncview.lesson.session import Session


@pytest.fixture(scope="session")
def sample_traces(sample_session: Session) -> TraceSet:
    """With the usual reference lap."""
    return trace_set(sample_session, usual_reference(sample_session, sample_session.lap()))
