"""syncview: onboard picture and car log on one clock, and the lesson made from both."""

__version__ = "0.1.0"
