"""The lesson's plan as a strip: how it plays, what is said and read, and pins to change it.

`pieces`, `contents`, `scale`, `rows`, `hits`, `values`, `pins` and `running` know no Qt and work out what is shown and
changed; `strip` paints it, `choices_form` has the lesson's choices, `preview` runs the lesson's clock, and `panel` ties
them to the window's state.
"""
