"""How work begins: the first page, what is dropped on the window, and the three steps of a new project."""
