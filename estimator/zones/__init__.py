"""Outlines of zones, and the hair pixels inside them."""
