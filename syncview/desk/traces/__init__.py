"""The traces: what the car's channels did, over lap distance or time, under the playhead.

`pyramid`, `lines`, `marks`, `spans`, `scene`, `ticks` and `readout` know no Qt and work out all that is shown; `plot`
paints it and `panel` ties it to the window's state.
"""
