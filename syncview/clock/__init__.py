"""The one clock: lap starts in log and recording, the evidence that ties them, and the fit."""
