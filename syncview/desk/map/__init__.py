"""The map: the lap from above, coloured by speed, with a dot at the playhead. `course` knows no Qt."""
