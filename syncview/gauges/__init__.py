"""Gauges: what the car does, drawn over the picture and blended straight into its planes."""
