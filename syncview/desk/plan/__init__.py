"""The lesson's plan as a strip: how it plays, what is said and read, and pins to change it.

`pieces`, `scale`, `rows`, `hits`, `values`, `pins` and `running` know no Qt and work out all that is shown and changed;
`strip` paints it, `choices_form` has the lesson's choices, and `panel` ties both to the window's state.
"""
