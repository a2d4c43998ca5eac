"""Export: the products of a lesson, made by other processes while the window stays live.

`orders`, `worker_words` and `time_left` know no Qt; `job` runs the processes, `panel` shows them.
"""
