"""How the sample recording and its log are made: an invented circuit, car and driver, with their truth known."""
