"""The desk: the window in which a coach works. The only part of the program that knows Qt."""
