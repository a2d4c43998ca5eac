"""The process that makes small pictures in the background: orders come in on its input, what is made goes out.

The child ends when its input does, so it never outlives the program, however that ends.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import sys
import threading
from typing import BinaryIO

import av

from syncview.errors import OutputError, SyncviewError, describe_os_error
from syncview.media.scrub.media_fault import fault_of
from syncview.media.scrub.proxy_maker import ProxyMaker
from syncview.media.scrub.proxy_orders import Report, Told, WorkOrder
from syncview.media.scrub.proxy_plan import Chunk
from syncview.output_file import remedy_for

_NICE = 10
"""Lower priority: a drag must stay quick while this works."""
_has_stepped_back = False


def _listen(maker: ProxyMaker, pipe: BinaryIO) -> None:
    try:
        while True:
            maker.take(pickle.load(pipe))
    except (EOFError, OSError, pickle.UnpicklingError):
        maker.end()


def main() -> None:
    """Do what the parent orders until it closes the pipe."""
    orders, reports = sys.stdin.buffer, sys.stdout.buffer
    order: WorkOrder = pickle.load(orders)
    maker = ProxyMaker(order, before=_step_back)
    threading.Thread(target=_listen, args=(maker, orders), daemon=True).start()
    with contextlib.suppress(BrokenPipeError):
        try:
            for report in maker.reports():
                _send(reports, report)
        except SyncviewError as fault:
            _send(reports, Told(fault))
        except av.FFmpegError as error:
            _send(reports, Told(fault_of(order.recording, error)))
        except OSError as error:
            problem = f"small pictures cannot be kept there ({describe_os_error(error)})"
            _send(reports, Told(OutputError(problem, remedy_for(error.errno), where=order.folder)))
    with contextlib.suppress(OSError):
        maker.close()
    os._exit(0)  # the listening thread may hold the input's lock, which Python's own end would wait for


def _step_back(chunk: Chunk) -> None:
    """Lower the priority for good before the first file that takes long; the few key frames come at once."""
    global _has_stepped_back
    if chunk.kind == "frames" and not _has_stepped_back:
        _has_stepped_back = True
        with contextlib.suppress(AttributeError, OSError):
            os.nice(_NICE)


def _send(pipe: BinaryIO, report: Report) -> None:
    pickle.dump(report, pipe)
    pipe.flush()


if __name__ == "__main__":
    main()
