"""Where the finished film spends its time: pace, captions, chapters. Pure functions of time."""
