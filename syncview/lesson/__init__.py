"""The products: films with gauges, captions, chapters, clips, and how a project is opened to make them."""
